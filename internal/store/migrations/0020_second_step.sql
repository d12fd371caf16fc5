-- The second step at sign-in: the step of time whose code was used last, the
-- codes for a lost phone, and sign-ins that still wait for their code.
CREATE TABLE totp_steps (
    person_id  BIGINT PRIMARY KEY REFERENCES people (id),
    step       BIGINT NOT NULL
);

CREATE TABLE recovery_codes (
    id         {{id}},
    person_id  BIGINT NOT NULL REFERENCES people (id),
    code_hash  TEXT NOT NULL
);
CREATE INDEX recovery_codes_person_id ON recovery_codes (person_id);

CREATE TABLE half_sessions (
    id          {{id}},
    token_hash  TEXT NOT NULL,
    person_id   BIGINT NOT NULL REFERENCES people (id),
    created_at  {{time}} NOT NULL
);
CREATE UNIQUE INDEX half_sessions_token_hash ON half_sessions (token_hash);
