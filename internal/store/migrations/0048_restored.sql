-- Numbers that were handed out and lost: a restore of an older backup knows
-- nothing of them, and they are never given again.
CREATE TABLE number_gaps (
    id      {{id}},
    series  TEXT NOT NULL,
    first   BIGINT NOT NULL, -- of the counter
    last    BIGINT NOT NULL CHECK (last >= first),
    reason  TEXT NOT NULL,
    made_at {{time}} NOT NULL,
    made_by TEXT NOT NULL
);
{{appendOnly "number_gaps"}}

-- Hashes of the setup codes that servers wrote to their logs while nobody had an
-- account: with several, any of them may be asked to make the first.
CREATE TABLE setup_codes (
    id         {{id}},
    code_hash  TEXT NOT NULL,
    created_at {{time}} NOT NULL
);
