-- +goose Up
-- What a run comes to is summed without reading its statements, which are long.
CREATE INDEX statements_summed ON statements (employer_id, run_id, voided_at, paid_on, gross, net, worked_minutes);
