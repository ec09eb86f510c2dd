-- +goose Up
-- The ledger of sick leave, bonuses earned over several weeks, and contracts that guarantee hours.

ALTER TABLE workers ADD COLUMN usual_day_minutes INTEGER NOT NULL DEFAULT 0 CHECK (usual_day_minutes >= 0);

-- An employment that ended before the worker was hired anew.
CREATE TABLE employments (
    seq INTEGER PRIMARY KEY AUTOINCREMENT,
    employer_id  TEXT     NOT NULL REFERENCES employers (id),
    id           TEXT     NOT NULL,
    worker_id    TEXT     NOT NULL,
    from_date    TEXT     NOT NULL,
    through_date TEXT     NOT NULL,
    recorded_at  DATETIME NOT NULL,
    recorded_by  TEXT,
    UNIQUE (employer_id, id),
    FOREIGN KEY (employer_id, worker_id) REFERENCES workers (employer_id, id),
    FOREIGN KEY (employer_id, recorded_by) REFERENCES accounts (employer_id, id),
    CHECK (through_date >= from_date)
);
CREATE INDEX employments_by_worker ON employments (employer_id, worker_id, from_date);

-- +goose StatementBegin
CREATE TRIGGER employments_no_update BEFORE UPDATE ON employments
BEGIN SELECT RAISE(ABORT, 'append-only: employments may not be changed or deleted'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER employments_no_delete BEFORE DELETE ON employments
BEGIN SELECT RAISE(ABORT, 'append-only: employments may not be changed or deleted'); END;
-- +goose StatementEnd

-- Sick leave that was taken. The note says why, and is for whoever runs the pay alone.
CREATE TABLE sick_uses (
    seq INTEGER PRIMARY KEY AUTOINCREMENT,
    employer_id   TEXT     NOT NULL REFERENCES employers (id),
    id            TEXT     NOT NULL,
    content_hash  TEXT     NOT NULL,
    worker_id     TEXT     NOT NULL,
    workday       TEXT     NOT NULL,
    garden_id     TEXT     NOT NULL,
    minutes       INTEGER  NOT NULL CHECK (minutes >= 0),
    note          TEXT     NOT NULL,
    recorded_at   DATETIME NOT NULL,
    received_at   DATETIME NOT NULL,
    recorded_by   TEXT     NOT NULL,
    reason        TEXT     NOT NULL,
    superseded_by TEXT,
    UNIQUE (employer_id, id),
    FOREIGN KEY (employer_id, worker_id) REFERENCES workers (employer_id, id),
    FOREIGN KEY (employer_id, garden_id) REFERENCES gardens (employer_id, id),
    FOREIGN KEY (employer_id, recorded_by) REFERENCES accounts (employer_id, id),
    FOREIGN KEY (employer_id, superseded_by) REFERENCES sick_uses (employer_id, id) DEFERRABLE INITIALLY DEFERRED
);
CREATE INDEX sick_uses_by_day ON sick_uses (employer_id, workday, worker_id);
CREATE INDEX sick_uses_by_worker ON sick_uses (employer_id, worker_id, workday);

-- +goose StatementBegin
CREATE TRIGGER sick_uses_append_only BEFORE UPDATE OF seq, employer_id, id, content_hash, worker_id, workday, garden_id, minutes, note, recorded_at, received_at, recorded_by, reason ON sick_uses
BEGIN SELECT RAISE(ABORT, 'append-only: a record of sick_uses may only be superseded, once'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER sick_uses_superseded_once BEFORE UPDATE OF superseded_by ON sick_uses
WHEN OLD.superseded_by IS NOT NULL OR NEW.superseded_by IS NULL
BEGIN SELECT RAISE(ABORT, 'append-only: a record of sick_uses may only be superseded, once'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER sick_uses_keep BEFORE DELETE ON sick_uses
BEGIN SELECT RAISE(ABORT, 'append-only: sick_uses may not be changed or deleted'); END;
-- +goose StatementEnd

-- The ledger of sick leave: each entry changes a worker's balance and carries it on. A void or withdrawn statement's entry is reversed by another.
CREATE TABLE sick_entries (
    seq INTEGER PRIMARY KEY AUTOINCREMENT,
    employer_id     TEXT     NOT NULL REFERENCES employers (id),
    id              TEXT     NOT NULL,
    content_hash    TEXT     NOT NULL,
    worker_id       TEXT     NOT NULL,
    entry_no        INTEGER  NOT NULL CHECK (entry_no > 0),
    kind            TEXT     NOT NULL CHECK (kind IN ('opening', 'adjustment', 'use', 'statement', 'reversal')),
    on_date         TEXT     NOT NULL,
    through_date    TEXT     NOT NULL,
    change_seconds  INTEGER  NOT NULL,
    balance_seconds INTEGER  NOT NULL,
    use_id          TEXT,
    statement_id    TEXT,
    reason          TEXT     NOT NULL,
    recorded_at     DATETIME NOT NULL,
    recorded_by     TEXT     NOT NULL,
    UNIQUE (employer_id, id),
    UNIQUE (employer_id, worker_id, entry_no),
    FOREIGN KEY (employer_id, worker_id) REFERENCES workers (employer_id, id),
    FOREIGN KEY (employer_id, use_id) REFERENCES sick_uses (employer_id, id),
    FOREIGN KEY (employer_id, recorded_by) REFERENCES accounts (employer_id, id)
);
CREATE INDEX sick_entries_by_statement ON sick_entries (employer_id, statement_id);

-- +goose StatementBegin
CREATE TRIGGER sick_entries_no_update BEFORE UPDATE ON sick_entries
BEGIN SELECT RAISE(ABORT, 'append-only: sick_entries may not be changed or deleted'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER sick_entries_no_delete BEFORE DELETE ON sick_entries
BEGIN SELECT RAISE(ABORT, 'append-only: sick_entries may not be changed or deleted'); END;
-- +goose StatementEnd

-- Bonuses earned over one or several weeks, and the week whose statement pays them.
CREATE TABLE bonuses (
    seq INTEGER PRIMARY KEY AUTOINCREMENT,
    employer_id    TEXT     NOT NULL REFERENCES employers (id),
    id             TEXT     NOT NULL,
    content_hash   TEXT     NOT NULL,
    worker_id      TEXT,
    crew_id        TEXT,
    earned_from    TEXT     NOT NULL,
    earned_through TEXT     NOT NULL,
    pay_week       TEXT     NOT NULL,
    kind           TEXT     NOT NULL CHECK (kind IN ('production', 'flat')),
    amount         INTEGER  NOT NULL CHECK (amount >= 0),
    what_for       TEXT     NOT NULL,
    promised       BOOLEAN  NOT NULL,
    measured       BOOLEAN  NOT NULL,
    basis          TEXT     NOT NULL,
    recorded_at    DATETIME NOT NULL,
    received_at    DATETIME NOT NULL,
    recorded_by    TEXT     NOT NULL,
    reason         TEXT     NOT NULL,
    superseded_by  TEXT,
    UNIQUE (employer_id, id),
    FOREIGN KEY (employer_id, worker_id) REFERENCES workers (employer_id, id),
    FOREIGN KEY (employer_id, crew_id) REFERENCES crews (employer_id, id),
    CHECK (earned_through >= earned_from),
    CHECK ((worker_id IS NULL) <> (crew_id IS NULL)),
    FOREIGN KEY (employer_id, recorded_by) REFERENCES accounts (employer_id, id),
    FOREIGN KEY (employer_id, superseded_by) REFERENCES bonuses (employer_id, id) DEFERRABLE INITIALLY DEFERRED
);
CREATE INDEX bonuses_by_pay_week ON bonuses (employer_id, pay_week);

-- +goose StatementBegin
CREATE TRIGGER bonuses_append_only BEFORE UPDATE OF seq, employer_id, id, content_hash, worker_id, crew_id, earned_from, earned_through, pay_week, kind, amount, what_for, promised, measured, basis, recorded_at, received_at, recorded_by, reason ON bonuses
BEGIN SELECT RAISE(ABORT, 'append-only: a record of bonuses may only be superseded, once'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER bonuses_superseded_once BEFORE UPDATE OF superseded_by ON bonuses
WHEN OLD.superseded_by IS NOT NULL OR NEW.superseded_by IS NULL
BEGIN SELECT RAISE(ABORT, 'append-only: a record of bonuses may only be superseded, once'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER bonuses_keep BEFORE DELETE ON bonuses
BEGIN SELECT RAISE(ABORT, 'append-only: bonuses may not be changed or deleted'); END;
-- +goose StatementEnd

-- Contracts that guarantee hours.
CREATE TABLE contracts (
    seq INTEGER PRIMARY KEY AUTOINCREMENT,
    employer_id  TEXT     NOT NULL REFERENCES employers (id),
    id           TEXT     NOT NULL,
    content_hash TEXT     NOT NULL,
    created_at   DATETIME NOT NULL,
    updated_at   DATETIME NOT NULL,
    version      INTEGER  NOT NULL,
    number       INTEGER  NOT NULL CHECK (number > 0),
    worker_id    TEXT     NOT NULL,
    job_order    TEXT     NOT NULL,
    first_day    TEXT     NOT NULL,
    last_day     TEXT     NOT NULL,
    workdays     TEXT     NOT NULL,
    day_minutes  INTEGER  NOT NULL CHECK (day_minutes > 0),
    offered_rate INTEGER  NOT NULL CHECK (offered_rate > 0),
    rate_source  TEXT     NOT NULL,
    settle_week  TEXT     NOT NULL,
    UNIQUE (employer_id, id),
    UNIQUE (employer_id, number),
    FOREIGN KEY (employer_id, worker_id) REFERENCES workers (employer_id, id),
    CHECK (last_day >= first_day)
);
CREATE INDEX contracts_by_worker ON contracts (employer_id, worker_id, first_day);
CREATE INDEX contracts_by_settle_week ON contracts (employer_id, settle_week);

-- +goose StatementBegin
CREATE TRIGGER contracts_keep BEFORE DELETE ON contracts
BEGIN SELECT RAISE(ABORT, 'append-only: contracts may not be deleted'); END;
-- +goose StatementEnd

-- What was offered on a day of a contract, and days that its guarantee leaves out.
CREATE TABLE contract_days (
    seq INTEGER PRIMARY KEY AUTOINCREMENT,
    employer_id     TEXT     NOT NULL REFERENCES employers (id),
    id              TEXT     NOT NULL,
    content_hash    TEXT     NOT NULL,
    contract_id     TEXT     NOT NULL,
    workday         TEXT     NOT NULL,
    kind            TEXT     NOT NULL CHECK (kind IN ('offered', 'holiday')),
    offered_minutes INTEGER  NOT NULL CHECK (offered_minutes >= 0),
    note            TEXT     NOT NULL,
    recorded_at     DATETIME NOT NULL,
    received_at     DATETIME NOT NULL,
    recorded_by     TEXT     NOT NULL,
    reason          TEXT     NOT NULL,
    superseded_by   TEXT,
    UNIQUE (employer_id, id),
    FOREIGN KEY (employer_id, contract_id) REFERENCES contracts (employer_id, id),
    FOREIGN KEY (employer_id, recorded_by) REFERENCES accounts (employer_id, id),
    FOREIGN KEY (employer_id, superseded_by) REFERENCES contract_days (employer_id, id) DEFERRABLE INITIALLY DEFERRED
);
CREATE UNIQUE INDEX contract_days_once ON contract_days (employer_id, contract_id, workday) WHERE superseded_by IS NULL;

-- +goose StatementBegin
CREATE TRIGGER contract_days_append_only BEFORE UPDATE OF seq, employer_id, id, content_hash, contract_id, workday, kind, offered_minutes, note, recorded_at, received_at, recorded_by, reason ON contract_days
BEGIN SELECT RAISE(ABORT, 'append-only: a record of contract_days may only be superseded, once'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER contract_days_superseded_once BEFORE UPDATE OF superseded_by ON contract_days
WHEN OLD.superseded_by IS NOT NULL OR NEW.superseded_by IS NULL
BEGIN SELECT RAISE(ABORT, 'append-only: a record of contract_days may only be superseded, once'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER contract_days_keep BEFORE DELETE ON contract_days
BEGIN SELECT RAISE(ABORT, 'append-only: contract_days may not be changed or deleted'); END;
-- +goose StatementEnd
