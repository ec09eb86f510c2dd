-- +goose Up
-- A chain of corrections is followed back by what took a record's place.
CREATE INDEX tallies_by_superseding ON tallies (employer_id, superseded_by) WHERE superseded_by IS NOT NULL;
CREATE INDEX time_entries_by_superseding ON time_entries (employer_id, superseded_by) WHERE superseded_by IS NOT NULL;
