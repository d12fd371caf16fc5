-- What the shop can run and from what.

-- Shelves of the catalogue: read whole, never searched by content, so each item
-- is one document. Lengths in it are exact text, money whole cents.
CREATE TABLE catalogue (
    id      {{id}},
    kind    TEXT NOT NULL,
    code    TEXT NOT NULL,
    name    TEXT NOT NULL,
    body    TEXT NOT NULL,
    retired BOOLEAN NOT NULL DEFAULT FALSE,
    version BIGINT NOT NULL
);
CREATE UNIQUE INDEX catalogue_kind_code ON catalogue (kind, code);

-- Named documents of which there is one: the shop itself, ...
CREATE TABLE settings (
    id      {{id}},
    name    TEXT NOT NULL,
    body    TEXT NOT NULL,
    version BIGINT NOT NULL
);
CREATE UNIQUE INDEX settings_name ON settings (name);

-- What things cost and earn, by the day it starts to hold. Never changed: a new
-- rate is a new row.
CREATE TABLE rates (
    id        {{id}},
    effective TEXT NOT NULL,
    body      TEXT NOT NULL,
    note      TEXT NOT NULL,
    made_at   {{time}} NOT NULL,
    made_by   TEXT NOT NULL
);
{{appendOnly "rates"}}

CREATE TABLE coils (
    id        {{id}},
    tag       TEXT NOT NULL,
    material  TEXT NOT NULL,
    gauge     TEXT NOT NULL,
    width     BIGINT NOT NULL,
    colour    TEXT NOT NULL,
    thickness BIGINT NOT NULL,
    lot       TEXT NOT NULL,
    supplier  TEXT NOT NULL,
    received  TEXT NOT NULL,
    landed    BIGINT NOT NULL,
    currency  TEXT NOT NULL,
    pounds    TEXT NOT NULL,
    original  BIGINT NOT NULL,
    remnant   BOOLEAN NOT NULL,
    mounted   TEXT NOT NULL,
    spent     BOOLEAN NOT NULL,
    version   BIGINT NOT NULL
);
CREATE UNIQUE INDEX coils_tag ON coils (tag);
CREATE INDEX coils_strip ON coils (material, gauge, colour, width);

CREATE TABLE movements (
    id      {{id}},
    coil_id BIGINT NOT NULL REFERENCES coils (id),
    kind    TEXT NOT NULL CHECK (kind IN ('received', 'cut', 'scrap', 'adjusted', 'slit', 'returned')),
    length  BIGINT NOT NULL CHECK (length <> 0),
    reason  TEXT NOT NULL,
    line_id BIGINT,
    pieces  BIGINT NOT NULL,
    made_at {{time}} NOT NULL,
    made_by TEXT NOT NULL
);
CREATE INDEX movements_coil_id ON movements (coil_id);
{{appendOnly "movements"}}

-- Stretches in which a machine isn't open for outside work.
CREATE TABLE blocks (
    id        {{id}},
    machine   TEXT NOT NULL,
    starts_at {{time}} NOT NULL,
    ends_at   {{time}} NOT NULL,
    kind      TEXT NOT NULL,
    reason    TEXT NOT NULL,
    version   BIGINT NOT NULL
);
CREATE INDEX blocks_machine ON blocks (machine, ends_at);
