-- +goose Up
-- An opening balance of sick leave tells what of the year of use was used before, by which the year's cap is less.

ALTER TABLE sick_entries ADD COLUMN used_minutes bigint NOT NULL DEFAULT 0 CHECK (used_minutes >= 0);
CREATE INDEX sick_entries_used_before ON sick_entries (employer_id, worker_id) WHERE used_minutes > 0;
