-- +goose Up
-- What SQLite's trigger gets here, the exclusion constraint on time_entries has had from the beginning: it looks at what is near, not at the worker's years.

SELECT 1;
