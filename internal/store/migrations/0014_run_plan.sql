-- What a plan saves against first come, first served, line by line: kept with
-- the place, so that a line planned again counts once.
ALTER TABLE placed ADD COLUMN saved_minutes BIGINT NOT NULL DEFAULT 0;
ALTER TABLE placed ADD COLUMN saved BIGINT NOT NULL DEFAULT 0;
CREATE INDEX placed_ends_at ON placed (ends_at);

-- Each plan that was adopted: what it came to, and what stood before it, so
-- that it can be taken back.
CREATE TABLE plan_history (
    id             {{id}},
    what           TEXT NOT NULL,
    made_at        {{time}} NOT NULL,
    made_by        TEXT NOT NULL,
    lines          BIGINT NOT NULL,
    late           BIGINT NOT NULL, -- orders past their promise
    minutes        BIGINT NOT NULL, -- of changeover
    possible       BIGINT NOT NULL, -- minutes that could at most still be saved; -1 when not worked out
    first_minutes  BIGINT NOT NULL, -- of changeover, first come, first served
    first_late     BIGINT NOT NULL,
    saved          BIGINT NOT NULL, -- cents, against first come, first served
    currency       TEXT NOT NULL,
    before         TEXT NOT NULL,   -- the places that stood
    undone         BOOLEAN NOT NULL DEFAULT FALSE
);

-- What the operator notes at a machine beside pieces and metal: stopped and
-- going again, the first piece measured, a coil threaded. The key makes a
-- second tap count once.
CREATE TABLE floor_notes (
    id       {{id}},
    key      TEXT NOT NULL,
    machine  TEXT NOT NULL,
    line_id  BIGINT REFERENCES order_lines (id),
    kind     TEXT NOT NULL CHECK (kind IN ('stopped', 'resumed', 'checked', 'threaded')),
    note     TEXT NOT NULL,
    nominal  BIGINT NOT NULL,
    measured BIGINT NOT NULL,
    made_at  {{time}} NOT NULL,
    made_by  TEXT NOT NULL
);
CREATE UNIQUE INDEX floor_notes_key ON floor_notes (key);
CREATE INDEX floor_notes_machine ON floor_notes (machine, id);
{{appendOnly "floor_notes"}}
