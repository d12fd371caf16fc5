-- Mails to customers: an outbox, written in the transaction of what each tells of.
-- What isn't to be sent is kept too, with the reason, and can be sent later.
CREATE TABLE mails (
    id          {{id}},
    occasion    TEXT NOT NULL, -- what it tells of; nothing is told twice
    kind        TEXT NOT NULL,
    order_id    BIGINT REFERENCES orders (id),
    customer_id BIGINT REFERENCES customers (id),
    paper_id    BIGINT REFERENCES papers (id), -- that goes with it
    to_name     TEXT NOT NULL,
    to_address  TEXT NOT NULL,
    language    TEXT NOT NULL,
    facts       TEXT NOT NULL, -- JSON, as they were
    link        TEXT NOT NULL, -- token of a private link; forgotten once it is sent
    code        TEXT NOT NULL, -- of its Message-ID, the same at each try
    created_at  {{time}} NOT NULL,
    tries       BIGINT NOT NULL,
    state       TEXT NOT NULL CHECK (state IN ('waiting', 'sent', 'given up', 'kept')),
    next_at     {{time}} NOT NULL,
    outcome     TEXT NOT NULL
);
CREATE UNIQUE INDEX mails_occasion ON mails (occasion);
CREATE INDEX mails_state_next_at ON mails (state, next_at);
CREATE INDEX mails_order_id ON mails (order_id);

-- Addresses that get no mail.
CREATE TABLE quiet_addresses (
    id          {{id}},
    address     TEXT NOT NULL, -- in lower case
    why         TEXT NOT NULL,
    created_at  {{time}} NOT NULL
);
CREATE UNIQUE INDEX quiet_addresses_address ON quiet_addresses (address);
