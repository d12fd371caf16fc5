-- Customers, the places goods go, certificates; people and their sessions; the
-- log of who did what; keys that keep a request from being done twice.

CREATE TABLE customers (
    id                  {{id}},
    name                TEXT NOT NULL,
    class               TEXT NOT NULL,
    email               TEXT NOT NULL,
    phone               TEXT NOT NULL,
    street              TEXT NOT NULL,
    city                TEXT NOT NULL,
    state               TEXT NOT NULL,
    postal              TEXT NOT NULL,
    country             TEXT NOT NULL,
    net_days            BIGINT NOT NULL,
    discount_days       BIGINT NOT NULL,
    discount            TEXT NOT NULL,
    credit_limit_cents  BIGINT NOT NULL,
    currency            TEXT NOT NULL,
    hold                BOOLEAN NOT NULL,
    hold_reason         TEXT NOT NULL,
    language            TEXT NOT NULL,
    style               TEXT NOT NULL,
    search              TEXT NOT NULL, -- name, e-mail, phone, city in lower case
    version             BIGINT NOT NULL,
    created_at          {{time}} NOT NULL
);
CREATE INDEX customers_name ON customers (name);

CREATE TABLE sites (
    id            {{id}},
    customer_id   BIGINT NOT NULL REFERENCES customers (id),
    name          TEXT NOT NULL,
    street        TEXT NOT NULL,
    city          TEXT NOT NULL,
    state         TEXT NOT NULL,
    postal        TEXT NOT NULL,
    country       TEXT NOT NULL,
    contact       TEXT NOT NULL,
    phone         TEXT NOT NULL,
    access_notes  TEXT NOT NULL,
    miles_tenths  BIGINT NOT NULL
);
CREATE INDEX sites_customer_id ON sites (customer_id);

CREATE TABLE certificates (
    id           {{id}},
    customer_id  BIGINT NOT NULL REFERENCES customers (id),
    number       TEXT NOT NULL,
    state        TEXT NOT NULL,
    goods        TEXT NOT NULL,
    signed       TEXT NOT NULL, -- 2006-01-02
    expires      TEXT NOT NULL,
    revoked      BOOLEAN NOT NULL
);
CREATE INDEX certificates_customer_id ON certificates (customer_id);

CREATE TABLE people (
    id             {{id}},
    name           TEXT NOT NULL,
    email          TEXT NOT NULL, -- lower case
    role           TEXT NOT NULL,
    customer_id    BIGINT REFERENCES customers (id),
    password_hash  TEXT NOT NULL,
    totp_secret    TEXT NOT NULL,
    disabled       BOOLEAN NOT NULL,
    version        BIGINT NOT NULL,
    created_at     {{time}} NOT NULL
);
CREATE UNIQUE INDEX people_email ON people (email);

-- A session is known by the SHA-256 of its token; the token itself is only in
-- the browser.
CREATE TABLE sessions (
    id          {{id}},
    token_hash  TEXT NOT NULL,
    person_id   BIGINT NOT NULL REFERENCES people (id),
    address     TEXT NOT NULL,
    agent       TEXT NOT NULL,
    created_at  {{time}} NOT NULL,
    seen_at     {{time}} NOT NULL
);
CREATE UNIQUE INDEX sessions_token_hash ON sessions (token_hash);
CREATE INDEX sessions_person_id ON sessions (person_id);

-- Wrong sign-ins by account and address, counted in windows.
CREATE TABLE throttles (
    bucket      TEXT PRIMARY KEY,
    started_at  {{time}} NOT NULL,
    tries       BIGINT NOT NULL
);

CREATE TABLE events (
    id            {{id}},
    at            {{time}} NOT NULL,
    person_id     BIGINT NOT NULL, -- 0 for a visitor and for work nobody asked for
    person_name   TEXT NOT NULL,
    role          TEXT NOT NULL,
    action        TEXT NOT NULL,
    subject_kind  TEXT NOT NULL,
    subject_id    BIGINT NOT NULL,
    detail        TEXT NOT NULL, -- JSON
    request_id    TEXT NOT NULL,
    prev_hash     TEXT NOT NULL,
    hash          TEXT NOT NULL
);
CREATE INDEX events_subject ON events (subject_kind, subject_id);
{{appendOnly "events"}}

-- One row for each request that was done and mustn't be done again. The subject
-- is the record it made; the answer follows once it has been sent.
CREATE TABLE request_keys (
    id            {{id}},
    scope         TEXT NOT NULL, -- whose key it is
    value         TEXT NOT NULL,
    body_hash     TEXT NOT NULL,
    subject_kind  TEXT NOT NULL,
    subject_id    BIGINT NOT NULL,
    status        BIGINT NOT NULL, -- 0 until the answer is known
    location      TEXT NOT NULL,
    body          {{bytes}},
    created_at    {{time}} NOT NULL
);
CREATE UNIQUE INDEX request_keys_scope_value ON request_keys (scope, value);
CREATE INDEX request_keys_created_at ON request_keys (created_at);
