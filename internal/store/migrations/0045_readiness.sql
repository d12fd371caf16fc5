-- One row that is written again and again to see whether writing works. It
-- holds nothing that anybody needs.
CREATE TABLE readiness (
    id       BIGINT PRIMARY KEY,
    tried_at {{time}} NOT NULL,
    filler   {{bytes}} NOT NULL
);
