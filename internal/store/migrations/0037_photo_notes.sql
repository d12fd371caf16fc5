-- Pictures that a customer or the counter puts with an order, as a note. What the
-- camera wrote beside the picture was taken off before.

CREATE TABLE photo_notes (
    id        {{id}},
    order_id  BIGINT NOT NULL REFERENCES orders (id),
    kind      TEXT NOT NULL CHECK (kind IN ('image/jpeg', 'image/png')),
    body      {{bytes}} NOT NULL,
    sha256    TEXT NOT NULL,
    caption   TEXT NOT NULL,
    ours      BOOLEAN NOT NULL, -- put there in the shop
    made_at   {{time}} NOT NULL,
    made_by   TEXT NOT NULL
);
CREATE INDEX photo_notes_order_id ON photo_notes (order_id);
{{appendOnly "photo_notes"}}
