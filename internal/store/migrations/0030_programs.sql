-- Programs that may ask the desk over its API. A program is known by the SHA-256
-- of its token; the token itself is only with whoever runs it.
CREATE TABLE programs (
    id          {{id}},
    name        TEXT NOT NULL,
    token_hash  TEXT NOT NULL,
    scopes      TEXT NOT NULL, -- separated by spaces
    person_id   BIGINT NOT NULL REFERENCES people (id), -- who let it in
    revoked     BOOLEAN NOT NULL,
    created_at  {{time}} NOT NULL,
    seen_at     {{time}} NOT NULL
);
CREATE UNIQUE INDEX programs_token_hash ON programs (token_hash);
