-- +goose Up
-- What moved from one draft of a pay run to the next, and in which garden labor cost.

-- When the draft before this one was made; null where there was none.
ALTER TABLE pay_runs ADD COLUMN earlier_draft_at DATETIME;

-- What a worker's pay of a kind was in the draft before, where it is another now; null in the draft in which the worker does not stand. Made anew with the draft.
CREATE TABLE draft_moves (
    employer_id TEXT    NOT NULL REFERENCES employers (id),
    run_id      TEXT    NOT NULL,
    worker_id   TEXT    NOT NULL,
    kind        TEXT    NOT NULL,
    was         INTEGER,
    now         INTEGER,
    PRIMARY KEY (employer_id, run_id, worker_id, kind),
    FOREIGN KEY (employer_id, run_id) REFERENCES pay_runs (employer_id, id),
    FOREIGN KEY (employer_id, worker_id) REFERENCES workers (employer_id, id),
    CHECK (was IS NOT now)
);

-- The garden of the block, or of time without a block. Entries from before this have an empty name.
ALTER TABLE labor_costs ADD COLUMN garden TEXT NOT NULL DEFAULT '';
