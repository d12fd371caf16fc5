-- Private links by which people choose a password of their own: for a new account,
-- or when the old one is forgotten. Each opens once.
CREATE TABLE password_links (
    id         {{id}},
    token_hash TEXT NOT NULL,
    person_id  BIGINT NOT NULL REFERENCES people (id),
    created_at {{time}} NOT NULL
);
CREATE UNIQUE INDEX password_links_token_hash ON password_links (token_hash);
CREATE INDEX password_links_person_id ON password_links (person_id);
