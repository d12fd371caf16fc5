-- By which edition of the printing a paper was made: only papers of the present
-- one print to the same bytes again.
ALTER TABLE papers ADD COLUMN edition BIGINT NOT NULL DEFAULT 1;
