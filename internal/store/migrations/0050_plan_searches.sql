-- Searches for the best plan, one of each change that was looked at, under way or
-- ended: whichever server is asked shows the one that is there.
CREATE TABLE plan_searches (
    change_key TEXT PRIMARY KEY,
    problem    TEXT NOT NULL, -- hash of what is planned
    began_at   {{time}} NOT NULL,
    seen_at    {{time}} NOT NULL, -- its server was at work on it
    result     {{bytes}} NOT NULL -- empty while it goes on
);
