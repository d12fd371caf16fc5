-- Roof take-offs, kept with what was stated. Whoever has the code may open one
-- that belongs to no customer yet; nobody guesses it.
CREATE TABLE take_offs (
    id          {{id}},
    code        TEXT NOT NULL,
    order_id    BIGINT REFERENCES orders (id),    -- that was made from it
    customer_id BIGINT REFERENCES customers (id), -- whose it is
    name        TEXT NOT NULL,
    inputs      TEXT NOT NULL, -- JSON: planes, product, rules, trim and fixings chosen
    made_by     TEXT NOT NULL,
    created_at  {{time}} NOT NULL,
    updated_at  {{time}} NOT NULL,
    version     BIGINT NOT NULL
);
CREATE UNIQUE INDEX take_offs_code ON take_offs (code);
CREATE INDEX take_offs_order_id ON take_offs (order_id);
CREATE INDEX take_offs_customer_id ON take_offs (customer_id, id);
