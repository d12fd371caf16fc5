-- Cut lists that a customer keeps under a name, to order from again.

CREATE TABLE cut_lists (
    id          {{id}},
    customer_id BIGINT NOT NULL REFERENCES customers (id),
    name        TEXT NOT NULL,
    lines       TEXT NOT NULL, -- JSON, as asked for
    pieces      BIGINT NOT NULL,
    made_at     {{time}} NOT NULL,
    made_by     TEXT NOT NULL
);
CREATE UNIQUE INDEX cut_lists_customer_id_name ON cut_lists (customer_id, name);
