-- Orders, and what becomes of them on the floor and on the road.

CREATE TABLE orders (
    id           {{id}},
    number       TEXT NOT NULL,
    revision     BIGINT NOT NULL,
    state        TEXT NOT NULL CHECK (state IN ('draft', 'quoted', 'accepted', 'planned', 'cut', 'loaded', 'delivered', 'closed', 'declined', 'lapsed', 'cancelled')),
    customer_id  BIGINT REFERENCES customers (id),
    customer     TEXT NOT NULL,
    contact      TEXT NOT NULL,
    job          TEXT NOT NULL,
    po           TEXT NOT NULL,
    fulfil       TEXT NOT NULL,
    ship_to      TEXT NOT NULL,
    miles_tenths BIGINT NOT NULL,
    site_notes   TEXT NOT NULL,
    want_by      TEXT NOT NULL,
    rush         BOOLEAN NOT NULL,
    sharing      BOOLEAN NOT NULL,
    note         TEXT NOT NULL,
    alone        TEXT NOT NULL,
    shared       TEXT NOT NULL,
    total        BIGINT NOT NULL, -- cents of the offer it stands on, for lists
    currency     TEXT NOT NULL,
    promise      {{time}},
    valid_to     TEXT NOT NULL,
    exempt       TEXT NOT NULL,
    price_inputs TEXT NOT NULL,
    token_hash   TEXT NOT NULL,
    accepted     TEXT NOT NULL,
    reason       TEXT NOT NULL,
    search       TEXT NOT NULL, -- number, names, job and PO in lower case
    created_at   {{time}} NOT NULL,
    updated_at   {{time}} NOT NULL,
    created_by   TEXT NOT NULL,
    version      BIGINT NOT NULL
);
CREATE UNIQUE INDEX orders_number ON orders (number);
CREATE INDEX orders_state ON orders (state, id);
CREATE INDEX orders_customer_id ON orders (customer_id, id);
CREATE INDEX orders_token_hash ON orders (token_hash);

CREATE TABLE order_lines (
    id       {{id}},
    order_id BIGINT NOT NULL REFERENCES orders (id),
    pos      BIGINT NOT NULL,
    kind     TEXT NOT NULL,
    code     TEXT NOT NULL,
    name     TEXT NOT NULL,
    material TEXT NOT NULL,
    gauge    TEXT NOT NULL,
    colour   TEXT NOT NULL,
    rib      TEXT NOT NULL,
    section  TEXT NOT NULL,
    girth    BIGINT NOT NULL,
    strip    BIGINT NOT NULL,
    count    BIGINT NOT NULL,
    minutes  BIGINT NOT NULL,
    pounds   TEXT NOT NULL,
    unit     BIGINT NOT NULL,
    per_foot BOOLEAN NOT NULL,
    amount   BIGINT NOT NULL,
    currency TEXT NOT NULL
);
CREATE INDEX order_lines_order_id ON order_lines (order_id);

CREATE TABLE cuts (
    id      {{id}},
    line_id BIGINT NOT NULL REFERENCES order_lines (id),
    pos     BIGINT NOT NULL,
    qty     BIGINT NOT NULL CHECK (qty > 0),
    length  BIGINT NOT NULL CHECK (length > 0),
    typed   TEXT NOT NULL,
    mark    TEXT NOT NULL
);
CREATE INDEX cuts_line_id ON cuts (line_id);

-- The run plan: where each line stands on which machine.
CREATE TABLE placed (
    line_id        BIGINT PRIMARY KEY REFERENCES order_lines (id),
    order_id       BIGINT NOT NULL REFERENCES orders (id),
    machine        TEXT NOT NULL,
    seq            BIGINT NOT NULL,
    change_at      {{time}} NOT NULL,
    change_minutes BIGINT NOT NULL,
    starts_at      {{time}} NOT NULL,
    ends_at        {{time}} NOT NULL,
    pinned         BOOLEAN NOT NULL,
    begun_at       {{time}},
    done_at        {{time}},
    share          BIGINT NOT NULL,
    currency       TEXT NOT NULL
);
CREATE INDEX placed_machine ON placed (machine, seq);
CREATE INDEX placed_order_id ON placed (order_id);

CREATE TABLE reservations (
    id      {{id}},
    coil_id BIGINT NOT NULL REFERENCES coils (id),
    line_id BIGINT NOT NULL REFERENCES order_lines (id),
    length  BIGINT NOT NULL CHECK (length > 0),
    cuts    TEXT NOT NULL
);
CREATE INDEX reservations_coil_id ON reservations (coil_id);
CREATE INDEX reservations_line_id ON reservations (line_id);

-- Pieces made. The key makes a second tap or a second tablet count once.
CREATE TABLE cut_records (
    id      {{id}},
    key     TEXT NOT NULL,
    line_id BIGINT NOT NULL REFERENCES order_lines (id),
    cut_id  BIGINT NOT NULL REFERENCES cuts (id),
    coil_id BIGINT REFERENCES coils (id),
    pieces  BIGINT NOT NULL CHECK (pieces > 0),
    length  BIGINT NOT NULL,
    made_at {{time}} NOT NULL,
    made_by TEXT NOT NULL
);
CREATE UNIQUE INDEX cut_records_key ON cut_records (key);
CREATE INDEX cut_records_line_id ON cut_records (line_id);
{{appendOnly "cut_records"}}

CREATE TABLE loads (
    id        {{id}},
    number    TEXT NOT NULL,
    day       TEXT NOT NULL,
    vehicle   TEXT NOT NULL,
    driver    TEXT NOT NULL,
    driver_id BIGINT REFERENCES people (id),
    state     TEXT NOT NULL,
    version   BIGINT NOT NULL
);
CREATE UNIQUE INDEX loads_number ON loads (number);
CREATE INDEX loads_day ON loads (day);

CREATE TABLE bundles (
    id       {{id}},
    code     TEXT NOT NULL,
    order_id BIGINT NOT NULL REFERENCES orders (id),
    no       BIGINT NOT NULL,
    of       BIGINT NOT NULL,
    items    TEXT NOT NULL,
    pieces   BIGINT NOT NULL,
    longest  BIGINT NOT NULL,
    width    BIGINT NOT NULL,
    height   BIGINT NOT NULL,
    balance  BIGINT NOT NULL,
    pounds   TEXT NOT NULL,
    load_id  BIGINT REFERENCES loads (id),
    checked  BOOLEAN NOT NULL
);
CREATE UNIQUE INDEX bundles_code ON bundles (code);
CREATE INDEX bundles_order_id ON bundles (order_id);
CREATE INDEX bundles_load_id ON bundles (load_id);

CREATE TABLE stops (
    id         {{id}},
    load_id    BIGINT NOT NULL REFERENCES loads (id),
    order_id   BIGINT NOT NULL REFERENCES orders (id),
    seq        BIGINT NOT NULL,
    ticket     TEXT NOT NULL,
    paper_id   BIGINT,
    receiver   TEXT NOT NULL,
    signature  {{bytes}},
    signed_at  {{time}},
    unattended TEXT NOT NULL,
    exceptions TEXT NOT NULL,
    key        TEXT NOT NULL
);
CREATE INDEX stops_load_id ON stops (load_id);
CREATE INDEX stops_order_id ON stops (order_id);

-- Issued documents: the record each was made from, its bytes and their hash.
CREATE TABLE papers (
    id          {{id}},
    kind        TEXT NOT NULL,
    number      TEXT NOT NULL,
    revision    BIGINT NOT NULL,
    order_id    BIGINT REFERENCES orders (id),
    customer_id BIGINT REFERENCES customers (id),
    title       TEXT NOT NULL,
    body        {{bytes}} NOT NULL,
    pdf         {{bytes}} NOT NULL,
    sha256      TEXT NOT NULL,
    made_at     {{time}} NOT NULL,
    made_by     TEXT NOT NULL
);
CREATE UNIQUE INDEX papers_kind_number_revision ON papers (kind, number, revision);
CREATE INDEX papers_order_id ON papers (order_id);
CREATE INDEX papers_customer_id ON papers (customer_id);
{{appendOnly "papers"}}

-- Gapless numbers by series, taken inside the transaction that uses them.
CREATE TABLE series (
    name TEXT PRIMARY KEY,
    next BIGINT NOT NULL
);
