-- +goose Up
-- How crews go up on a day, the clearances that they asked for, and what the safety officer said of work done without one.

-- How a crew goes up in a block on a workday: with which equipment, and what its lead sees.
CREATE TABLE climb_setups (
    seq           INTEGER PRIMARY KEY AUTOINCREMENT,
    employer_id   TEXT        NOT NULL REFERENCES employers (id),
    id            TEXT        NOT NULL,
    content_hash  TEXT        NOT NULL,
    crew_id       TEXT        NOT NULL,
    workday       TEXT        NOT NULL,
    block_id      TEXT        NOT NULL,
    operation_id  TEXT        NOT NULL,
    way           TEXT        NOT NULL,
    equipment     TEXT        NOT NULL,
    setup         TEXT        NOT NULL,
    recorded_at   DATETIME    NOT NULL,
    received_at   DATETIME    NOT NULL,
    recorded_by   TEXT        NOT NULL,
    reason        TEXT        NOT NULL,
    superseded_by TEXT,
    UNIQUE (employer_id, id),
    FOREIGN KEY (employer_id, crew_id) REFERENCES crews (employer_id, id),
    FOREIGN KEY (employer_id, block_id) REFERENCES blocks (employer_id, id),
    FOREIGN KEY (employer_id, operation_id) REFERENCES operations (employer_id, id),
    FOREIGN KEY (employer_id, recorded_by) REFERENCES accounts (employer_id, id),
    FOREIGN KEY (employer_id, superseded_by) REFERENCES climb_setups (employer_id, id) DEFERRABLE INITIALLY DEFERRED
);
CREATE INDEX climb_setups_by_day ON climb_setups (employer_id, workday, crew_id);

-- A clearance as it was given: who asked, for which crew and day, and the answer with its reasons.
CREATE TABLE clearances (
    seq           INTEGER PRIMARY KEY AUTOINCREMENT,
    employer_id   TEXT        NOT NULL REFERENCES employers (id),
    id            TEXT        NOT NULL,
    content_hash  TEXT        NOT NULL,
    crew_id       TEXT        NOT NULL,
    workday       TEXT        NOT NULL,
    answer        TEXT        NOT NULL,
    asked_at      DATETIME    NOT NULL,
    asked_by      TEXT        NOT NULL,
    UNIQUE (employer_id, id),
    FOREIGN KEY (employer_id, crew_id) REFERENCES crews (employer_id, id),
    FOREIGN KEY (employer_id, asked_by) REFERENCES accounts (employer_id, id)
);
CREATE INDEX clearances_by_day ON clearances (employer_id, workday, crew_id);

-- Whom a clearance cleared, for which way up.
CREATE TABLE cleared_workers (
    employer_id   TEXT        NOT NULL REFERENCES employers (id),
    clearance_id  TEXT        NOT NULL,
    worker_id     TEXT        NOT NULL,
    way           TEXT        NOT NULL,
    workday       TEXT        NOT NULL,
    valid_until   DATETIME,
    PRIMARY KEY (employer_id, clearance_id, worker_id, way),
    FOREIGN KEY (employer_id, clearance_id) REFERENCES clearances (employer_id, id),
    FOREIGN KEY (employer_id, worker_id) REFERENCES workers (employer_id, id)
);
CREATE INDEX cleared_workers_by_day ON cleared_workers (employer_id, workday, worker_id);

-- The safety officer's word on work that was done without clearance: one for a worker's day, and it stays. It never touches pay.
CREATE TABLE clearance_exceptions (
    seq           INTEGER PRIMARY KEY AUTOINCREMENT,
    employer_id   TEXT        NOT NULL REFERENCES employers (id),
    id            TEXT        NOT NULL,
    content_hash  TEXT        NOT NULL,
    worker_id     TEXT        NOT NULL,
    workday       TEXT        NOT NULL,
    finding       TEXT        NOT NULL CHECK (finding IN ('was_safe', 'was_unsafe', 'did_not_climb')),
    reason        TEXT        NOT NULL,
    settled_at    DATETIME    NOT NULL,
    settled_by    TEXT        NOT NULL,
    UNIQUE (employer_id, id),
    UNIQUE (employer_id, workday, worker_id),
    FOREIGN KEY (employer_id, worker_id) REFERENCES workers (employer_id, id),
    FOREIGN KEY (employer_id, settled_by) REFERENCES accounts (employer_id, id)
);

-- +goose StatementBegin
CREATE TRIGGER climb_setups_append_only BEFORE UPDATE OF seq, employer_id, id, content_hash, crew_id, workday, block_id, operation_id, way, equipment, setup, recorded_at, received_at, recorded_by, reason ON climb_setups
BEGIN SELECT RAISE(ABORT, 'append-only: a record of climb_setups may only be superseded, once'); END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER climb_setups_superseded_once BEFORE UPDATE OF superseded_by ON climb_setups
WHEN OLD.superseded_by IS NOT NULL OR NEW.superseded_by IS NULL
BEGIN SELECT RAISE(ABORT, 'append-only: a record of climb_setups may only be superseded, once'); END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER climb_setups_no_delete BEFORE DELETE ON climb_setups
BEGIN SELECT RAISE(ABORT, 'append-only: climb_setups may not be changed or deleted'); END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER clearances_no_update BEFORE UPDATE ON clearances
BEGIN SELECT RAISE(ABORT, 'append-only: clearances may not be changed or deleted'); END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER clearances_no_delete BEFORE DELETE ON clearances
BEGIN SELECT RAISE(ABORT, 'append-only: clearances may not be changed or deleted'); END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER cleared_workers_no_update BEFORE UPDATE ON cleared_workers
BEGIN SELECT RAISE(ABORT, 'append-only: cleared_workers may not be changed or deleted'); END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER cleared_workers_no_delete BEFORE DELETE ON cleared_workers
BEGIN SELECT RAISE(ABORT, 'append-only: cleared_workers may not be changed or deleted'); END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER clearance_exceptions_no_update BEFORE UPDATE ON clearance_exceptions
BEGIN SELECT RAISE(ABORT, 'append-only: clearance_exceptions may not be changed or deleted'); END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER clearance_exceptions_no_delete BEFORE DELETE ON clearance_exceptions
BEGIN SELECT RAISE(ABORT, 'append-only: clearance_exceptions may not be changed or deleted'); END;
-- +goose StatementEnd
