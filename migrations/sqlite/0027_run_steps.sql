-- +goose Up
-- The steps of pay runs that take a while: how far each has come, for whoever asks any of several servers, and what became of it.

-- The last step of each run; one that drafts the run is here before the run is. It is no evidence, and nothing of the step itself stands here: what it does is kept all at once, at its end.
CREATE TABLE run_steps (
    employer_id  TEXT     NOT NULL REFERENCES employers (id),
    run_id       TEXT     NOT NULL,
    id           TEXT     NOT NULL,
    kind         TEXT     NOT NULL CHECK (kind IN ('draft', 'correction', 'final', 'redraft', 'approve', 'withdraw')),
    state        TEXT     NOT NULL CHECK (state IN ('going', 'taken', 'failed')),
    workers_of   INTEGER  NOT NULL CHECK (workers_of >= 0),
    workers_done INTEGER  NOT NULL CHECK (workers_done >= 0),
    begun_at     DATETIME NOT NULL,
    told_at      DATETIME NOT NULL,
    ended_at     DATETIME,
    begun_by     TEXT     NOT NULL,
    asked        TEXT     NOT NULL,
    cause        TEXT     NOT NULL,
    PRIMARY KEY (employer_id, run_id),
    FOREIGN KEY (employer_id, begun_by) REFERENCES accounts (employer_id, id)
);

-- +goose StatementBegin
CREATE TRIGGER run_steps_no_delete BEFORE DELETE ON run_steps
BEGIN SELECT RAISE(ABORT, 'append-only: run_steps may not be deleted'); END;
-- +goose StatementEnd
