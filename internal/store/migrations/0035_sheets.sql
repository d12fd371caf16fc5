-- Flat sheets for trim, in piles of equal ones. What is on hand is the sum of a
-- pile's movements, in whole sheets. A promise is one sheet that is to be slit by
-- an adopted pattern, with the blanks it yields.
CREATE TABLE piles (
    id        {{id}},
    tag       TEXT NOT NULL,
    material  TEXT NOT NULL,
    gauge     TEXT NOT NULL,
    width     BIGINT NOT NULL,
    colour    TEXT NOT NULL,
    length    BIGINT NOT NULL CHECK (length > 0),
    lot       TEXT NOT NULL,
    supplier  TEXT NOT NULL,
    received  TEXT NOT NULL,
    landed    BIGINT NOT NULL,
    currency  TEXT NOT NULL,
    sheets    BIGINT NOT NULL CHECK (sheets > 0), -- as received
    spent     BOOLEAN NOT NULL,
    version   BIGINT NOT NULL
);
CREATE UNIQUE INDEX piles_tag ON piles (tag);
CREATE INDEX piles_metal ON piles (material, gauge, colour);

CREATE TABLE pile_movements (
    id      {{id}},
    pile_id BIGINT NOT NULL REFERENCES piles (id),
    kind    TEXT NOT NULL,
    sheets  BIGINT NOT NULL,
    reason  TEXT NOT NULL,
    made_at {{time}} NOT NULL,
    made_by TEXT NOT NULL
);
CREATE INDEX pile_movements_pile_id ON pile_movements (pile_id);
{{appendOnly "pile_movements"}}

CREATE TABLE sheet_promises (
    id      {{id}},
    pile_id BIGINT NOT NULL REFERENCES piles (id),
    pattern TEXT NOT NULL -- how it is slit, in words
);
CREATE INDEX sheet_promises_pile_id ON sheet_promises (pile_id);

CREATE TABLE sheet_blanks (
    id         {{id}},
    promise_id BIGINT NOT NULL REFERENCES sheet_promises (id),
    line_id    BIGINT NOT NULL REFERENCES order_lines (id),
    cut_id     BIGINT NOT NULL REFERENCES cuts (id),
    pieces     BIGINT NOT NULL CHECK (pieces > 0),
    length     BIGINT NOT NULL
);
CREATE INDEX sheet_blanks_promise_id ON sheet_blanks (promise_id);
CREATE INDEX sheet_blanks_line_id ON sheet_blanks (line_id);

-- Pieces made from a sheet name the movement that took the sheet off its pile.
ALTER TABLE cut_records ADD COLUMN pile_movement_id BIGINT REFERENCES pile_movements (id);
