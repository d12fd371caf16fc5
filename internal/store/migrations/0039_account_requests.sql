-- Firms that asked for an account, until somebody says yes or no.

CREATE TABLE account_requests (
    id          {{id}},
    firm        TEXT NOT NULL,
    name        TEXT NOT NULL,
    email       TEXT NOT NULL,
    phone       TEXT NOT NULL,
    street      TEXT NOT NULL,
    city        TEXT NOT NULL,
    state       TEXT NOT NULL,
    postal      TEXT NOT NULL,
    note        TEXT NOT NULL,
    language    TEXT NOT NULL,
    standing    TEXT NOT NULL, -- waiting, approved, declined
    reason      TEXT NOT NULL,
    customer_id BIGINT NOT NULL, -- the customer it became, 0 for none
    asked_at    {{time}} NOT NULL,
    decided_at  {{time}} NOT NULL,
    decided_by  TEXT NOT NULL
);
CREATE INDEX account_requests_standing ON account_requests (standing, id);
