-- +goose Up
-- Entries of one worker that stand and are closed may not overlap in time. Since those that are there do not overlap, the last that begins before the new one ends is also the
-- last to end: it alone has to be looked at, whatever the worker's years.

CREATE INDEX time_entries_in_order ON time_entries (employer_id, worker_id, started_at, ended_at)
    WHERE superseded_by IS NULL AND ended_at IS NOT NULL;
DROP TRIGGER time_entries_overlap;
-- +goose StatementBegin
CREATE TRIGGER time_entries_overlap BEFORE INSERT ON time_entries
WHEN NEW.superseded_by IS NULL AND NEW.ended_at IS NOT NULL AND NEW.started_at < (
    SELECT e.ended_at FROM time_entries e
    WHERE e.employer_id = NEW.employer_id AND e.worker_id = NEW.worker_id
      AND e.superseded_by IS NULL AND e.ended_at IS NOT NULL
      AND e.started_at < NEW.ended_at
    ORDER BY e.started_at DESC LIMIT 1)
BEGIN SELECT RAISE(ABORT, 'overlap: time_entries_overlap'); END;
-- +goose StatementEnd
