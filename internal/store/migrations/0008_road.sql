-- What loads and deliveries need beside the stops themselves.

ALTER TABLE loads ADD COLUMN departs BIGINT NOT NULL DEFAULT 480; -- minutes of the local day
ALTER TABLE stops ADD COLUMN opens BIGINT NOT NULL DEFAULT 0;
ALTER TABLE stops ADD COLUMN closes BIGINT NOT NULL DEFAULT 0;

-- Pictures of what was wrong at a stop. The key is the phone's own.
CREATE TABLE photos (
    id        {{id}},
    key       TEXT NOT NULL,
    stop_id   BIGINT NOT NULL REFERENCES stops (id),
    exception BIGINT NOT NULL,
    kind      TEXT NOT NULL CHECK (kind IN ('image/jpeg', 'image/png')),
    body      {{bytes}} NOT NULL,
    sha256    TEXT NOT NULL,
    made_at   {{time}} NOT NULL,
    made_by   TEXT NOT NULL
);
CREATE UNIQUE INDEX photos_key ON photos (key);
CREATE INDEX photos_stop_id ON photos (stop_id);
{{appendOnly "photos"}}

-- Roads that somebody knows the length of, and where places lie.
CREATE TABLE distances (
    id           {{id}},
    from_place   TEXT NOT NULL,
    to_place     TEXT NOT NULL,
    miles_tenths BIGINT NOT NULL
);
CREATE UNIQUE INDEX distances_from_place_to_place ON distances (from_place, to_place);
CREATE TABLE positions (
    place     TEXT PRIMARY KEY,
    latitude  TEXT NOT NULL,
    longitude TEXT NOT NULL
);

-- Private links to calendars; the token itself is only in the link.
CREATE TABLE calendar_links (
    id         {{id}},
    token_hash TEXT NOT NULL,
    machine    TEXT NOT NULL, -- '' shows the deliveries
    purpose    TEXT NOT NULL,
    made_at    {{time}} NOT NULL,
    made_by    TEXT NOT NULL,
    revoked    BOOLEAN NOT NULL
);
CREATE UNIQUE INDEX calendar_links_token_hash ON calendar_links (token_hash);

-- What calendars were told of each line's run, so that a change has a higher
-- sequence and a run that fell away is taken out again.
CREATE TABLE run_notices (
    line_id    BIGINT PRIMARY KEY REFERENCES order_lines (id),
    machine    TEXT NOT NULL,
    starts_at  {{time}} NOT NULL,
    ends_at    {{time}} NOT NULL,
    sequence   BIGINT NOT NULL,
    cancelled  BOOLEAN NOT NULL,
    changed_at {{time}} NOT NULL
);
CREATE INDEX run_notices_machine ON run_notices (machine, ends_at);
