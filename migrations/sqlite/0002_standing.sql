-- +goose Up
-- What workers say of their tallies, statements voided, payments that failed, final and correction runs, and what is owed for weeks already paid.

CREATE TABLE tally_answers (
    seq INTEGER PRIMARY KEY AUTOINCREMENT,
    employer_id  TEXT        NOT NULL REFERENCES employers (id),
    id           TEXT        NOT NULL,
    content_hash TEXT        NOT NULL,
    tally_id     TEXT        NOT NULL,
    answer       TEXT        NOT NULL CHECK (answer IN ('confirmed', 'disputed')),
    note         TEXT        NOT NULL,
    answered_at  DATETIME NOT NULL,
    answered_by  TEXT        NOT NULL,
    UNIQUE (employer_id, id),
    FOREIGN KEY (employer_id, tally_id) REFERENCES tallies (employer_id, id),
    FOREIGN KEY (employer_id, answered_by) REFERENCES accounts (employer_id, id)
);
CREATE INDEX tally_answers_by_tally ON tally_answers (employer_id, tally_id, seq);

ALTER TABLE pay_runs ADD COLUMN ending TEXT NOT NULL DEFAULT '' CHECK (ending IN ('', 'discharge', 'quit', 'quit_with_notice'));
ALTER TABLE pay_runs ADD COLUMN through_date TEXT;

-- Whom a final or a correction run is for; a regular run is for everybody.
CREATE TABLE pay_run_workers (
    employer_id TEXT NOT NULL REFERENCES employers (id),
    run_id      TEXT NOT NULL,
    worker_id   TEXT NOT NULL,
    PRIMARY KEY (employer_id, run_id, worker_id),
    FOREIGN KEY (employer_id, run_id) REFERENCES pay_runs (employer_id, id),
    FOREIGN KEY (employer_id, worker_id) REFERENCES workers (employer_id, id)
);

ALTER TABLE statements ADD COLUMN voided_at DATETIME;
ALTER TABLE statements ADD COLUMN voided_by TEXT;
ALTER TABLE statements ADD COLUMN void_reason TEXT NOT NULL DEFAULT '';
ALTER TABLE statements ADD COLUMN reissue_of TEXT;

CREATE TABLE payment_events (
    seq INTEGER PRIMARY KEY AUTOINCREMENT,
    employer_id  TEXT        NOT NULL REFERENCES employers (id),
    id           TEXT        NOT NULL,
    statement_id TEXT        NOT NULL,
    outcome      TEXT        NOT NULL CHECK (outcome IN ('paid', 'failed', 'unclaimed')),
    happened_on  TEXT        NOT NULL,
    method       TEXT        NOT NULL,
    reference    TEXT        NOT NULL,
    reason       TEXT        NOT NULL,
    recorded_at  DATETIME NOT NULL,
    recorded_by  TEXT        NOT NULL,
    UNIQUE (employer_id, id),
    FOREIGN KEY (employer_id, statement_id) REFERENCES statements (employer_id, id),
    FOREIGN KEY (employer_id, recorded_by) REFERENCES accounts (employer_id, id)
);
CREATE INDEX payment_events_by_statement ON payment_events (employer_id, statement_id, seq);

-- The difference between a week as it is known now and what was paid for it, in the parts that it comes from.
CREATE TABLE adjustments (
    seq INTEGER PRIMARY KEY AUTOINCREMENT,
    employer_id  TEXT        NOT NULL REFERENCES employers (id),
    id           TEXT        NOT NULL,
    worker_id    TEXT        NOT NULL,
    for_week     TEXT        NOT NULL,
    records_part INTEGER      NOT NULL,
    rules_part   INTEGER      NOT NULL,
    engine_part  INTEGER      NOT NULL,
    lines        TEXT        NOT NULL,
    digest       TEXT        NOT NULL,
    state        TEXT        NOT NULL CHECK (state IN ('proposed', 'accepted', 'carried', 'overtaken')),
    parts        TEXT        NOT NULL,
    amount       INTEGER      NOT NULL CHECK (amount >= 0),
    reason       TEXT        NOT NULL,
    proposed_at  DATETIME NOT NULL,
    proposed_by  TEXT        NOT NULL,
    decided_at   DATETIME,
    decided_by   TEXT,
    version      INTEGER      NOT NULL,
    UNIQUE (employer_id, id),
    FOREIGN KEY (employer_id, worker_id) REFERENCES workers (employer_id, id),
    FOREIGN KEY (employer_id, proposed_by) REFERENCES accounts (employer_id, id),
    FOREIGN KEY (employer_id, decided_by) REFERENCES accounts (employer_id, id)
);
CREATE INDEX adjustments_by_worker ON adjustments (employer_id, worker_id, for_week);

-- Which statement pays an adjustment.
CREATE TABLE statement_adjustments (
    employer_id   TEXT NOT NULL REFERENCES employers (id),
    statement_id  TEXT NOT NULL,
    adjustment_id TEXT NOT NULL,
    PRIMARY KEY (employer_id, statement_id, adjustment_id),
    FOREIGN KEY (employer_id, statement_id) REFERENCES statements (employer_id, id),
    FOREIGN KEY (employer_id, adjustment_id) REFERENCES adjustments (employer_id, id)
);
CREATE INDEX statement_adjustments_by_adjustment ON statement_adjustments (employer_id, adjustment_id);

-- +goose StatementBegin
CREATE TRIGGER tally_answers_no_update BEFORE UPDATE ON tally_answers
BEGIN SELECT RAISE(ABORT, 'append-only: tally_answers may not be changed or deleted'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER tally_answers_no_delete BEFORE DELETE ON tally_answers
BEGIN SELECT RAISE(ABORT, 'append-only: tally_answers may not be changed or deleted'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER payment_events_no_update BEFORE UPDATE ON payment_events
BEGIN SELECT RAISE(ABORT, 'append-only: payment_events may not be changed or deleted'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER payment_events_no_delete BEFORE DELETE ON payment_events
BEGIN SELECT RAISE(ABORT, 'append-only: payment_events may not be changed or deleted'); END;
-- +goose StatementEnd

-- A statement is what it was when it was made: its figures never change, and only a draft's is taken away, to be made anew.

-- +goose StatementBegin
CREATE TRIGGER statements_keep BEFORE DELETE ON statements
WHEN EXISTS (SELECT 1 FROM pay_runs r WHERE r.employer_id = OLD.employer_id AND r.id = OLD.run_id AND r.state <> 'draft')
BEGIN SELECT RAISE(ABORT, 'append-only: a statement of an approved run may not be deleted'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER statements_keep_figures BEFORE UPDATE OF run_id, worker_id, week_start, heading, detail, figures, week, straight_time, premiums, other, gross, taxes,
    deductions, reimbursements, net, worked_minutes, reissue_of ON statements
BEGIN SELECT RAISE(ABORT, 'append-only: statements may not be changed or deleted'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER statement_lines_keep BEFORE DELETE ON statement_lines
WHEN EXISTS (SELECT 1 FROM statements s JOIN pay_runs r ON r.employer_id = s.employer_id AND r.id = s.run_id
             WHERE s.employer_id = OLD.employer_id AND s.id = OLD.statement_id AND r.state <> 'draft')
BEGIN SELECT RAISE(ABORT, 'append-only: a line of an approved statement may not be deleted'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER statement_lines_keep_line BEFORE UPDATE ON statement_lines
BEGIN SELECT RAISE(ABORT, 'append-only: statement_lines may not be changed or deleted'); END;
-- +goose StatementEnd
