-- Addresses that are told of events, how far the log was handed out, and what is
-- to be sent to whom. The log itself is the outbox: an event is in it exactly
-- when what it tells of is done.
CREATE TABLE hooks (
    id          {{id}},
    url         TEXT NOT NULL,
    secret      TEXT NOT NULL, -- signs what is sent
    kinds       TEXT NOT NULL, -- of events, separated by spaces
    after       BIGINT NOT NULL, -- the last event handed out
    off         BOOLEAN NOT NULL,
    created_at  {{time}} NOT NULL
);

CREATE TABLE hook_deliveries (
    id          {{id}},
    hook_id     BIGINT NOT NULL REFERENCES hooks (id),
    event_id    BIGINT NOT NULL REFERENCES events (id),
    kind        TEXT NOT NULL,
    tries       BIGINT NOT NULL,
    state       TEXT NOT NULL CHECK (state IN ('waiting', 'sent', 'given up')),
    next_at     {{time}} NOT NULL,
    outcome     TEXT NOT NULL
);
CREATE UNIQUE INDEX hook_deliveries_hook_id_event_id ON hook_deliveries (hook_id, event_id);
CREATE INDEX hook_deliveries_state_next_at ON hook_deliveries (state, next_at);
