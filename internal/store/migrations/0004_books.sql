-- The books: issued documents, what is owed and what is to the good, and the
-- journal under it. Money is whole cents. Only "open" ever changes.

CREATE TABLE invoices (
    id          {{id}},
    number      TEXT NOT NULL,
    order_id    BIGINT NOT NULL REFERENCES orders (id),
    customer_id BIGINT NOT NULL REFERENCES customers (id),
    issued      TEXT NOT NULL,
    due         TEXT NOT NULL,
    total       BIGINT NOT NULL CHECK (total > 0),
    currency    TEXT NOT NULL,
    body        TEXT NOT NULL, -- the whole record, as issued
    made_at     {{time}} NOT NULL,
    made_by     TEXT NOT NULL
);
CREATE UNIQUE INDEX invoices_number ON invoices (number);
CREATE INDEX invoices_order_id ON invoices (order_id);
CREATE INDEX invoices_customer_id ON invoices (customer_id);
{{appendOnly "invoices"}}

CREATE TABLE memos (
    id          {{id}},
    number      TEXT NOT NULL,
    invoice     TEXT NOT NULL REFERENCES invoices (number),
    order_id    BIGINT NOT NULL REFERENCES orders (id),
    customer_id BIGINT NOT NULL REFERENCES customers (id),
    day         TEXT NOT NULL,
    total       BIGINT NOT NULL CHECK (total > 0),
    currency    TEXT NOT NULL,
    body        TEXT NOT NULL,
    made_at     {{time}} NOT NULL,
    made_by     TEXT NOT NULL
);
CREATE UNIQUE INDEX memos_number ON memos (number);
CREATE INDEX memos_invoice ON memos (invoice);
CREATE INDEX memos_order_id ON memos (order_id);
CREATE INDEX memos_customer_id ON memos (customer_id);
{{appendOnly "memos"}}

CREATE TABLE payments (
    id          {{id}},
    number      TEXT NOT NULL,
    customer_id BIGINT NOT NULL REFERENCES customers (id),
    order_id    BIGINT REFERENCES orders (id), -- of a deposit
    order_no    TEXT NOT NULL,
    day         TEXT NOT NULL,
    method      TEXT NOT NULL CHECK (method IN ('check', 'cash', 'transfer', 'card')),
    reference   TEXT NOT NULL,
    deposit     BOOLEAN NOT NULL,
    amount      BIGINT NOT NULL CHECK (amount > 0),
    currency    TEXT NOT NULL,
    made_at     {{time}} NOT NULL,
    made_by     TEXT NOT NULL
);
CREATE UNIQUE INDEX payments_number ON payments (number);
CREATE INDEX payments_customer_id ON payments (customer_id);
CREATE INDEX payments_order_id ON payments (order_id);
{{appendOnly "payments"}}

-- What a customer owes.
CREATE TABLE items (
    id          {{id}},
    number      TEXT NOT NULL,
    kind        TEXT NOT NULL,
    customer_id BIGINT NOT NULL REFERENCES customers (id),
    order_id    BIGINT REFERENCES orders (id),
    day         TEXT NOT NULL,
    due         TEXT NOT NULL,
    original    BIGINT NOT NULL CHECK (original >= 0),
    open        BIGINT NOT NULL CHECK (open >= 0 AND open <= original),
    currency    TEXT NOT NULL
);
CREATE UNIQUE INDEX items_number ON items (number);
CREATE INDEX items_customer_id ON items (customer_id);
CREATE INDEX items_order_id ON items (order_id);
CREATE INDEX items_open ON items (due) WHERE open > 0;

-- What a customer has to their good.
CREATE TABLE credits (
    id          {{id}},
    number      TEXT NOT NULL,
    kind        TEXT NOT NULL,
    customer_id BIGINT NOT NULL REFERENCES customers (id),
    order_no    TEXT NOT NULL, -- the order a deposit was paid for, or a memo belongs to
    day         TEXT NOT NULL,
    original    BIGINT NOT NULL CHECK (original > 0),
    open        BIGINT NOT NULL CHECK (open >= 0 AND open <= original),
    currency    TEXT NOT NULL
);
CREATE UNIQUE INDEX credits_number ON credits (number);
CREATE INDEX credits_customer_id ON credits (customer_id);
CREATE INDEX credits_order_no ON credits (order_no);

-- Every change of what is open. A credit stands at its original less the
-- amounts that name it, an item at its original less amounts and discounts.
-- A check that came back takes its applications back with negative ones.
CREATE TABLE applications (
    id       {{id}},
    what     TEXT NOT NULL CHECK (what IN ('applied', 'returned', 'refunded', 'kept', 'recovered', 'written off')),
    document TEXT NOT NULL, -- number of the refund, else of the credit or item
    credit   TEXT REFERENCES credits (number),
    item     TEXT REFERENCES items (number),
    day      TEXT NOT NULL,
    amount   BIGINT NOT NULL,
    discount BIGINT NOT NULL,
    currency TEXT NOT NULL,
    note     TEXT NOT NULL,
    made_at  {{time}} NOT NULL,
    made_by  TEXT NOT NULL
);
CREATE INDEX applications_credit ON applications (credit);
CREATE INDEX applications_item ON applications (item);
{{appendOnly "applications"}}

-- The journal. Its numbers are a series like any other: 1, 2, 3, ...
CREATE TABLE entries (
    id          {{id}},
    no          BIGINT NOT NULL,
    day         TEXT NOT NULL,
    document    TEXT NOT NULL,
    customer_id BIGINT REFERENCES customers (id),
    memo        TEXT NOT NULL,
    made_at     {{time}} NOT NULL,
    made_by     TEXT NOT NULL
);
CREATE UNIQUE INDEX entries_no ON entries (no);
CREATE INDEX entries_day ON entries (day);
CREATE INDEX entries_customer_id ON entries (customer_id);
CREATE INDEX entries_document ON entries (document);
{{appendOnly "entries"}}

CREATE TABLE postings (
    id       {{id}},
    entry_no BIGINT NOT NULL REFERENCES entries (no),
    account  TEXT NOT NULL,
    amount   BIGINT NOT NULL CHECK (amount <> 0), -- debit above 0, credit below
    currency TEXT NOT NULL
);
CREATE INDEX postings_entry_no ON postings (entry_no);
CREATE INDEX postings_account ON postings (account);
{{appendOnly "postings"}}

CREATE TABLE closes (
    id      {{id}},
    through TEXT NOT NULL, -- the last closed day
    made_at {{time}} NOT NULL,
    made_by TEXT NOT NULL
);
CREATE UNIQUE INDEX closes_through ON closes (through);
{{appendOnly "closes"}}

-- What a customer agreed to about late payment.
CREATE TABLE finance_terms (
    customer_id BIGINT PRIMARY KEY REFERENCES customers (id),
    agreed_on   TEXT NOT NULL,
    year_rate   TEXT NOT NULL,
    grace_days  BIGINT NOT NULL,
    charged_to  TEXT NOT NULL -- the last day charged for
);
