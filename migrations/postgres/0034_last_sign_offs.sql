-- +goose Up
-- The last sign-off of a topic stands at the end of the index, also where several were held on a day.
DROP INDEX training_sign_offs_by_worker;
CREATE INDEX training_sign_offs_by_worker ON training_sign_offs (employer_id, worker_id, topic, held_on, seq);
