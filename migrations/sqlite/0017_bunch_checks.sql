-- +goose Up
-- Bunch checks: what is asked of a bunch at an operation, from which day, and samples of bunches that were looked at against it. They coach; pay knows nothing of them.

-- What is asked of a bunch at an operation, of one variety or of every one that has no standard of its own, from a day on.
CREATE TABLE work_standards (
    seq           INTEGER PRIMARY KEY AUTOINCREMENT,
    employer_id   TEXT     NOT NULL REFERENCES employers (id),
    id            TEXT     NOT NULL,
    content_hash  TEXT     NOT NULL,
    operation_id  TEXT     NOT NULL,
    variety       TEXT     NOT NULL,
    effective_on  TEXT     NOT NULL,
    withdrawn     BOOLEAN  NOT NULL,
    points        TEXT     NOT NULL,
    recorded_at   DATETIME NOT NULL,
    received_at   DATETIME NOT NULL,
    recorded_by   TEXT     NOT NULL,
    reason        TEXT     NOT NULL,
    superseded_by TEXT,
    UNIQUE (employer_id, id),
    FOREIGN KEY (employer_id, operation_id) REFERENCES operations (employer_id, id),
    FOREIGN KEY (employer_id, recorded_by) REFERENCES accounts (employer_id, id),
    FOREIGN KEY (employer_id, superseded_by) REFERENCES work_standards (employer_id, id) DEFERRABLE INITIALLY DEFERRED
);
CREATE INDEX work_standards_by_operation ON work_standards (employer_id, operation_id, variety, effective_on);

-- A sample of bunches that somebody looked at. Without a worker it is of the crew, and names nobody.
CREATE TABLE bunch_checks (
    seq           INTEGER PRIMARY KEY AUTOINCREMENT,
    employer_id   TEXT     NOT NULL REFERENCES employers (id),
    id            TEXT     NOT NULL,
    content_hash  TEXT     NOT NULL,
    standard_id   TEXT     NOT NULL,
    operation_id  TEXT     NOT NULL,
    crew_id       TEXT     NOT NULL,
    worker_id     TEXT,
    workday       TEXT     NOT NULL,
    block_id      TEXT     NOT NULL,
    palm_id       TEXT,
    bunches       TEXT     NOT NULL,
    looked_at     INTEGER  NOT NULL CHECK (looked_at > 0),
    as_asked      INTEGER  NOT NULL CHECK (as_asked >= 0 AND as_asked <= looked_at),
    remark        TEXT     NOT NULL,
    recorded_at   DATETIME NOT NULL,
    received_at   DATETIME NOT NULL,
    recorded_by   TEXT     NOT NULL,
    reason        TEXT     NOT NULL,
    superseded_by TEXT,
    UNIQUE (employer_id, id),
    FOREIGN KEY (employer_id, standard_id) REFERENCES work_standards (employer_id, id),
    FOREIGN KEY (employer_id, operation_id) REFERENCES operations (employer_id, id),
    FOREIGN KEY (employer_id, crew_id) REFERENCES crews (employer_id, id),
    FOREIGN KEY (employer_id, worker_id) REFERENCES workers (employer_id, id),
    FOREIGN KEY (employer_id, block_id) REFERENCES blocks (employer_id, id),
    FOREIGN KEY (employer_id, palm_id) REFERENCES palms (employer_id, id),
    FOREIGN KEY (employer_id, recorded_by) REFERENCES accounts (employer_id, id),
    FOREIGN KEY (employer_id, superseded_by) REFERENCES bunch_checks (employer_id, id) DEFERRABLE INITIALLY DEFERRED
);
CREATE INDEX bunch_checks_by_day ON bunch_checks (employer_id, workday);
CREATE INDEX bunch_checks_by_crew ON bunch_checks (employer_id, crew_id, workday);
CREATE INDEX bunch_checks_by_worker ON bunch_checks (employer_id, worker_id, workday);

-- What a check found of each point of its standard, added up over its bunches, so that weeks can be told without reading every bunch.
CREATE TABLE bunch_check_points (
    employer_id TEXT     NOT NULL REFERENCES employers (id),
    check_id    TEXT     NOT NULL,
    no          INTEGER  NOT NULL,
    point       TEXT     NOT NULL,
    looked_at   INTEGER  NOT NULL,
    as_asked    INTEGER  NOT NULL,
    under       INTEGER  NOT NULL,
    over        INTEGER  NOT NULL,
    PRIMARY KEY (employer_id, check_id, no),
    FOREIGN KEY (employer_id, check_id) REFERENCES bunch_checks (employer_id, id)
);

-- +goose StatementBegin
CREATE TRIGGER work_standards_append_only BEFORE UPDATE OF seq, employer_id, id, content_hash, operation_id, variety, effective_on, withdrawn, points, recorded_at, received_at, recorded_by, reason ON work_standards
BEGIN SELECT RAISE(ABORT, 'append-only: a record of work_standards may only be superseded, once'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER work_standards_superseded_once BEFORE UPDATE OF superseded_by ON work_standards
WHEN OLD.superseded_by IS NOT NULL OR NEW.superseded_by IS NULL
BEGIN SELECT RAISE(ABORT, 'append-only: a record of work_standards may only be superseded, once'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER work_standards_keep BEFORE DELETE ON work_standards
BEGIN SELECT RAISE(ABORT, 'append-only: work_standards may not be changed or deleted'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER bunch_checks_append_only BEFORE UPDATE OF seq, employer_id, id, content_hash, standard_id, operation_id, crew_id, worker_id, workday, block_id, palm_id, bunches, looked_at, as_asked, remark, recorded_at, received_at, recorded_by, reason ON bunch_checks
BEGIN SELECT RAISE(ABORT, 'append-only: a record of bunch_checks may only be superseded, once'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER bunch_checks_superseded_once BEFORE UPDATE OF superseded_by ON bunch_checks
WHEN OLD.superseded_by IS NOT NULL OR NEW.superseded_by IS NULL
BEGIN SELECT RAISE(ABORT, 'append-only: a record of bunch_checks may only be superseded, once'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER bunch_checks_keep BEFORE DELETE ON bunch_checks
BEGIN SELECT RAISE(ABORT, 'append-only: bunch_checks may not be changed or deleted'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER bunch_check_points_no_update BEFORE UPDATE ON bunch_check_points
BEGIN SELECT RAISE(ABORT, 'append-only: bunch_check_points may not be changed or deleted'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER bunch_check_points_keep BEFORE DELETE ON bunch_check_points
BEGIN SELECT RAISE(ABORT, 'append-only: bunch_check_points may not be changed or deleted'); END;
-- +goose StatementEnd
