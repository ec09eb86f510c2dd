-- +goose Up
-- A crew's day while its lead is still writing it, and samples of bunches held against what good work is.

-- The day of a crew as its lead keeps it on a page. It is no evidence: what is sent becomes records, and leaves the draft.
CREATE TABLE sheet_drafts (
    seq          INTEGER PRIMARY KEY AUTOINCREMENT,
    employer_id  TEXT        NOT NULL REFERENCES employers (id),
    id           TEXT        NOT NULL,
    content_hash TEXT        NOT NULL,
    crew_id      TEXT        NOT NULL,
    workday      TEXT        NOT NULL,
    draft        TEXT        NOT NULL,
    waiting      INTEGER     NOT NULL CHECK (waiting >= 0),
    version      INTEGER     NOT NULL,
    created_at   DATETIME    NOT NULL,
    updated_at   DATETIME    NOT NULL,
    UNIQUE (employer_id, id),
    FOREIGN KEY (employer_id, crew_id) REFERENCES crews (employer_id, id)
);
CREATE INDEX sheet_drafts_waiting ON sheet_drafts (employer_id, workday, crew_id) WHERE waiting > 0;

-- What is right at an operation, for one variety or ('') for all.
CREATE TABLE work_standards (
    seq          INTEGER PRIMARY KEY AUTOINCREMENT,
    employer_id  TEXT        NOT NULL REFERENCES employers (id),
    id           TEXT        NOT NULL,
    content_hash TEXT        NOT NULL,
    created_at   DATETIME    NOT NULL,
    updated_at   DATETIME    NOT NULL,
    version      INTEGER     NOT NULL,
    operation_id TEXT        NOT NULL,
    variety      TEXT        NOT NULL,
    points       TEXT        NOT NULL,
    source       TEXT        NOT NULL,
    UNIQUE (employer_id, id),
    UNIQUE (employer_id, operation_id, variety),
    FOREIGN KEY (employer_id, operation_id) REFERENCES operations (employer_id, id)
);

-- A sample of a worker's bunches held against a standard as it stood. It coaches, and pay knows nothing of it.
CREATE TABLE bunch_checks (
    seq           INTEGER PRIMARY KEY AUTOINCREMENT,
    employer_id   TEXT        NOT NULL REFERENCES employers (id),
    id            TEXT        NOT NULL,
    content_hash  TEXT        NOT NULL,
    crew_id       TEXT        NOT NULL,
    worker_id     TEXT        NOT NULL,
    workday       TEXT        NOT NULL,
    block_id      TEXT        NOT NULL,
    operation_id  TEXT        NOT NULL,
    standard_id   TEXT        NOT NULL,
    points        TEXT        NOT NULL,
    bunches       TEXT        NOT NULL,
    looked_at     INTEGER     NOT NULL,
    within        INTEGER     NOT NULL,
    note          TEXT        NOT NULL,
    recorded_at   DATETIME    NOT NULL,
    received_at   DATETIME    NOT NULL,
    recorded_by   TEXT        NOT NULL,
    reason        TEXT        NOT NULL,
    superseded_by TEXT,
    UNIQUE (employer_id, id),
    FOREIGN KEY (employer_id, crew_id) REFERENCES crews (employer_id, id),
    FOREIGN KEY (employer_id, worker_id) REFERENCES workers (employer_id, id),
    FOREIGN KEY (employer_id, block_id) REFERENCES blocks (employer_id, id),
    FOREIGN KEY (employer_id, operation_id) REFERENCES operations (employer_id, id),
    FOREIGN KEY (employer_id, standard_id) REFERENCES work_standards (employer_id, id),
    FOREIGN KEY (employer_id, recorded_by) REFERENCES accounts (employer_id, id),
    FOREIGN KEY (employer_id, superseded_by) REFERENCES bunch_checks (employer_id, id) DEFERRABLE INITIALLY DEFERRED
);
CREATE INDEX bunch_checks_by_day ON bunch_checks (employer_id, workday, crew_id);
CREATE INDEX bunch_checks_by_worker ON bunch_checks (employer_id, worker_id, workday);

-- +goose StatementBegin
CREATE TRIGGER bunch_checks_append_only BEFORE UPDATE OF seq, employer_id, id, content_hash, crew_id, worker_id, workday, block_id, operation_id, standard_id, points, bunches, looked_at, within, note, recorded_at, received_at, recorded_by, reason ON bunch_checks
BEGIN SELECT RAISE(ABORT, 'append-only: a record of bunch_checks may only be superseded, once'); END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER bunch_checks_superseded_once BEFORE UPDATE OF superseded_by ON bunch_checks
WHEN OLD.superseded_by IS NOT NULL OR NEW.superseded_by IS NULL
BEGIN SELECT RAISE(ABORT, 'append-only: a record of bunch_checks may only be superseded, once'); END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER sheet_drafts_no_delete BEFORE DELETE ON sheet_drafts
BEGIN SELECT RAISE(ABORT, 'append-only: sheet_drafts may not be changed or deleted'); END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER work_standards_no_delete BEFORE DELETE ON work_standards
BEGIN SELECT RAISE(ABORT, 'append-only: work_standards may not be changed or deleted'); END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER bunch_checks_no_delete BEFORE DELETE ON bunch_checks
BEGIN SELECT RAISE(ABORT, 'append-only: bunch_checks may not be changed or deleted'); END;
-- +goose StatementEnd
