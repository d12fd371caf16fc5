-- The customer's side: questions on a quote, invitations to an account, orders
-- that change an accepted one, and declined quotes counted by reason.

ALTER TABLE orders ADD COLUMN follows BIGINT NOT NULL DEFAULT 0; -- the accepted order this one changes
ALTER TABLE orders ADD COLUMN why TEXT NOT NULL DEFAULT '';      -- kind of reason of a declined quote
CREATE INDEX orders_created_by ON orders (created_by, state);
CREATE INDEX orders_follows ON orders (follows);

CREATE TABLE messages (
    id         {{id}},
    order_id   BIGINT NOT NULL REFERENCES orders (id),
    at         {{time}} NOT NULL,
    person_id  BIGINT NOT NULL, -- 0 for who holds the private link
    name       TEXT NOT NULL,
    ours       BOOLEAN NOT NULL, -- written in the shop
    body       TEXT NOT NULL
);
CREATE INDEX messages_order_id ON messages (order_id);
{{appendOnly "messages"}}

-- An invitation is known by the SHA-256 of its token, and opens once.
CREATE TABLE invites (
    id           {{id}},
    token_hash   TEXT NOT NULL,
    customer_id  BIGINT NOT NULL REFERENCES customers (id),
    email        TEXT NOT NULL,
    made_by      TEXT NOT NULL,
    made_at      {{time}} NOT NULL,
    expires_at   {{time}} NOT NULL,
    used         BOOLEAN NOT NULL
);
CREATE UNIQUE INDEX invites_token_hash ON invites (token_hash);
CREATE INDEX invites_customer_id ON invites (customer_id);
