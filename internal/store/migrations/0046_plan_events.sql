-- What happened to the shop along with an adopted plan, so that taking the plan
-- back takes that back too, and who took it back.
ALTER TABLE plan_history ADD COLUMN event TEXT NOT NULL DEFAULT '{}';
ALTER TABLE plan_history ADD COLUMN undone_at {{time}};
ALTER TABLE plan_history ADD COLUMN undone_by TEXT NOT NULL DEFAULT '';
