-- +goose Up
-- What is looked up worker by worker is found worker by worker, however many years and people stand behind.

CREATE INDEX break_records_by_worker ON break_records (employer_id, worker_id, workday);
CREATE INDEX workers_by_same_as ON workers (employer_id, same_as) WHERE same_as IS NOT NULL;
