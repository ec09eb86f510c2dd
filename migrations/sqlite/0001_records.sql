-- +goose Up
-- The twin of the PostgreSQL file of this number: the same tables and columns in SQLite's words. Here the sequence has to
-- be the primary key, since nothing else counts by itself; (employer_id, id) is the key that every reference uses.

CREATE TABLE employers (
    id           TEXT PRIMARY KEY,
    sign_in_name TEXT        NOT NULL UNIQUE,
    created_at   DATETIME NOT NULL
);

CREATE TABLE book_texts (
    digest   TEXT PRIMARY KEY,
    book_key TEXT NOT NULL,
    body     TEXT NOT NULL
);

CREATE TABLE employer_profiles (
    employer_id       TEXT PRIMARY KEY REFERENCES employers (id),
    legal_name        TEXT        NOT NULL,
    address           TEXT        NOT NULL,
    tax_number        TEXT        NOT NULL,
    insurance_carrier TEXT        NOT NULL,
    size              INTEGER      NOT NULL CHECK (size > 0),
    week_start        INTEGER      NOT NULL CHECK (week_start BETWEEN 0 AND 6),
    workday_start     INTEGER      NOT NULL CHECK (workday_start BETWEEN 0 AND 1439),
    payday            INTEGER      NOT NULL CHECK (payday BETWEEN 0 AND 6),
    second_approver   BOOLEAN     NOT NULL,
    version           INTEGER      NOT NULL,
    updated_at        DATETIME NOT NULL
);

CREATE TABLE gardens (
    seq INTEGER PRIMARY KEY AUTOINCREMENT,
    employer_id             TEXT        NOT NULL REFERENCES employers (id),
    id                      TEXT        NOT NULL,
    content_hash            TEXT        NOT NULL,
    created_at              DATETIME NOT NULL,
    updated_at              DATETIME NOT NULL,
    version                 INTEGER      NOT NULL,
    number                  INTEGER      NOT NULL CHECK (number > 0),
    name                    TEXT        NOT NULL,
    time_zone               TEXT        NOT NULL,
    rulebook                TEXT        NOT NULL,
    engaging_entity         TEXT        NOT NULL,
    engaging_entity_address TEXT        NOT NULL,
    UNIQUE (employer_id, id),
    UNIQUE (employer_id, number)
);

CREATE TABLE blocks (
    seq INTEGER PRIMARY KEY AUTOINCREMENT,
    employer_id  TEXT        NOT NULL REFERENCES employers (id),
    id           TEXT        NOT NULL,
    content_hash TEXT        NOT NULL,
    created_at   DATETIME NOT NULL,
    updated_at   DATETIME NOT NULL,
    version      INTEGER      NOT NULL,
    garden_id    TEXT        NOT NULL,
    code         TEXT        NOT NULL,
    variety      TEXT        NOT NULL,
    palms        INTEGER      NOT NULL CHECK (palms > 0),
    tallest_cm   INTEGER      NOT NULL CHECK (tallest_cm > 0),
    UNIQUE (employer_id, id),
    UNIQUE (employer_id, code),
    FOREIGN KEY (employer_id, garden_id) REFERENCES gardens (employer_id, id)
);

CREATE TABLE operations (
    seq INTEGER PRIMARY KEY AUTOINCREMENT,
    employer_id  TEXT        NOT NULL REFERENCES employers (id),
    id           TEXT        NOT NULL,
    content_hash TEXT        NOT NULL,
    created_at   DATETIME NOT NULL,
    updated_at   DATETIME NOT NULL,
    version      INTEGER      NOT NULL,
    code         TEXT        NOT NULL,
    unit         TEXT        NOT NULL,
    daily_limit  INTEGER      NOT NULL CHECK (daily_limit > 0),
    UNIQUE (employer_id, id),
    UNIQUE (employer_id, code)
);

CREATE TABLE crews (
    seq INTEGER PRIMARY KEY AUTOINCREMENT,
    employer_id  TEXT        NOT NULL REFERENCES employers (id),
    id           TEXT        NOT NULL,
    content_hash TEXT        NOT NULL,
    created_at   DATETIME NOT NULL,
    updated_at   DATETIME NOT NULL,
    version      INTEGER      NOT NULL,
    number       INTEGER      NOT NULL CHECK (number > 0),
    name         TEXT        NOT NULL,
    UNIQUE (employer_id, id),
    UNIQUE (employer_id, number)
);

CREATE TABLE workers (
    seq INTEGER PRIMARY KEY AUTOINCREMENT,
    employer_id  TEXT        NOT NULL REFERENCES employers (id),
    id           TEXT        NOT NULL,
    content_hash TEXT        NOT NULL,
    created_at   DATETIME NOT NULL,
    updated_at   DATETIME NOT NULL,
    version      INTEGER      NOT NULL,
    number       INTEGER      NOT NULL CHECK (number > 0),
    name         TEXT        NOT NULL,
    address      TEXT        NOT NULL,
    birth_date   TEXT,
    language     TEXT        NOT NULL,
    started_on   TEXT        NOT NULL,
    ended_on     TEXT,
    provisional  BOOLEAN     NOT NULL,
    same_as      TEXT,
    UNIQUE (employer_id, id),
    UNIQUE (employer_id, number),
    FOREIGN KEY (employer_id, same_as) REFERENCES workers (employer_id, id),
    CHECK (same_as <> id),
    CHECK (ended_on >= started_on)
);

CREATE TABLE crew_members (
    seq INTEGER PRIMARY KEY AUTOINCREMENT,
    employer_id  TEXT        NOT NULL REFERENCES employers (id),
    id           TEXT        NOT NULL,
    content_hash TEXT        NOT NULL,
    created_at   DATETIME NOT NULL,
    updated_at   DATETIME NOT NULL,
    version      INTEGER      NOT NULL,
    crew_id      TEXT        NOT NULL,
    worker_id    TEXT        NOT NULL,
    leads        BOOLEAN     NOT NULL,
    from_date    TEXT        NOT NULL,
    through_date TEXT,
    UNIQUE (employer_id, id),
    FOREIGN KEY (employer_id, crew_id) REFERENCES crews (employer_id, id),
    FOREIGN KEY (employer_id, worker_id) REFERENCES workers (employer_id, id),
    CHECK (through_date >= from_date)
);
CREATE INDEX crew_members_by_crew ON crew_members (employer_id, crew_id, from_date);
CREATE INDEX crew_members_by_worker ON crew_members (employer_id, worker_id, from_date);

CREATE TABLE accounts (
    seq INTEGER PRIMARY KEY AUTOINCREMENT,
    employer_id  TEXT        NOT NULL REFERENCES employers (id),
    id           TEXT        NOT NULL,
    content_hash TEXT        NOT NULL,
    created_at   DATETIME NOT NULL,
    updated_at   DATETIME NOT NULL,
    version      INTEGER      NOT NULL,
    sign_in_name TEXT        NOT NULL,
    name         TEXT        NOT NULL,
    role         TEXT        NOT NULL CHECK (role IN ('worker', 'crew_lead', 'payroll_clerk', 'safety_officer', 'administrator')),
    language     TEXT        NOT NULL,
    worker_id    TEXT,
    secret_hash  TEXT        NOT NULL,
    suspended    BOOLEAN     NOT NULL,
    UNIQUE (employer_id, id),
    UNIQUE (employer_id, sign_in_name),
    FOREIGN KEY (employer_id, worker_id) REFERENCES workers (employer_id, id),
    CHECK (role NOT IN ('worker', 'crew_lead') OR worker_id IS NOT NULL)
);

CREATE TABLE sign_in_codes (
    employer_id TEXT        NOT NULL REFERENCES employers (id),
    id          TEXT        NOT NULL,
    account_id  TEXT        NOT NULL,
    code_hash   TEXT        NOT NULL,
    issued_by   TEXT,
    issued_at   DATETIME NOT NULL,
    expires_at  DATETIME NOT NULL,
    used_at     DATETIME,
    PRIMARY KEY (employer_id, id),
    FOREIGN KEY (employer_id, account_id) REFERENCES accounts (employer_id, id),
    FOREIGN KEY (employer_id, issued_by) REFERENCES accounts (employer_id, id)
);
CREATE INDEX sign_in_codes_by_account ON sign_in_codes (employer_id, account_id);

CREATE TABLE sign_in_attempts (
    employer_id   TEXT        NOT NULL REFERENCES employers (id),
    sign_in_name  TEXT        NOT NULL,
    failures      INTEGER      NOT NULL,
    first_at      DATETIME NOT NULL,
    blocked_until DATETIME,
    PRIMARY KEY (employer_id, sign_in_name)
);

CREATE TABLE sign_in_sessions (
    employer_id TEXT        NOT NULL REFERENCES employers (id),
    id          TEXT        NOT NULL,
    account_id  TEXT        NOT NULL,
    started_at  DATETIME NOT NULL,
    ended_at    DATETIME,
    end_reason  TEXT        NOT NULL,
    PRIMARY KEY (employer_id, id),
    FOREIGN KEY (employer_id, account_id) REFERENCES accounts (employer_id, id)
);
CREATE INDEX sign_in_sessions_by_account ON sign_in_sessions (employer_id, account_id);

CREATE TABLE refresh_tokens (
    employer_id    TEXT        NOT NULL REFERENCES employers (id),
    id             TEXT        NOT NULL,
    session_id     TEXT        NOT NULL,
    predecessor_id TEXT,
    token_hash     TEXT        NOT NULL,
    issued_at      DATETIME NOT NULL,
    expires_at     DATETIME NOT NULL,
    first_used_at  DATETIME,
    PRIMARY KEY (employer_id, id),
    UNIQUE (employer_id, token_hash),
    FOREIGN KEY (employer_id, session_id) REFERENCES sign_in_sessions (employer_id, id),
    FOREIGN KEY (employer_id, predecessor_id) REFERENCES refresh_tokens (employer_id, id)
);
CREATE INDEX refresh_tokens_by_session ON refresh_tokens (employer_id, session_id);
CREATE INDEX refresh_tokens_by_predecessor ON refresh_tokens (employer_id, predecessor_id);

-- Records of rates and of work are append-only: one column may change, once, from nothing to the record that takes its place.

CREATE TABLE piece_rates (
    seq INTEGER PRIMARY KEY AUTOINCREMENT,
    employer_id   TEXT        NOT NULL REFERENCES employers (id),
    id            TEXT        NOT NULL,
    content_hash  TEXT        NOT NULL,
    operation_id  TEXT        NOT NULL,
    block_id      TEXT,
    variety       TEXT        NOT NULL,
    rate          INTEGER      NOT NULL CHECK (rate >= 0),
    effective_on  TEXT        NOT NULL,
    recorded_at   DATETIME NOT NULL,
    received_at   DATETIME NOT NULL,
    recorded_by   TEXT        NOT NULL,
    reason        TEXT        NOT NULL,
    superseded_by TEXT,
    UNIQUE (employer_id, id),
    FOREIGN KEY (employer_id, operation_id) REFERENCES operations (employer_id, id),
    FOREIGN KEY (employer_id, block_id) REFERENCES blocks (employer_id, id),
    FOREIGN KEY (employer_id, recorded_by) REFERENCES accounts (employer_id, id),
    FOREIGN KEY (employer_id, superseded_by) REFERENCES piece_rates (employer_id, id) DEFERRABLE INITIALLY DEFERRED,
    CHECK (block_id IS NULL OR variety = '')
);

CREATE TABLE hourly_rates (
    seq INTEGER PRIMARY KEY AUTOINCREMENT,
    employer_id   TEXT        NOT NULL REFERENCES employers (id),
    id            TEXT        NOT NULL,
    content_hash  TEXT        NOT NULL,
    worker_id     TEXT,
    rate          INTEGER      NOT NULL CHECK (rate >= 0),
    effective_on  TEXT        NOT NULL,
    recorded_at   DATETIME NOT NULL,
    received_at   DATETIME NOT NULL,
    recorded_by   TEXT        NOT NULL,
    reason        TEXT        NOT NULL,
    superseded_by TEXT,
    UNIQUE (employer_id, id),
    FOREIGN KEY (employer_id, worker_id) REFERENCES workers (employer_id, id),
    FOREIGN KEY (employer_id, recorded_by) REFERENCES accounts (employer_id, id),
    FOREIGN KEY (employer_id, superseded_by) REFERENCES hourly_rates (employer_id, id) DEFERRABLE INITIALLY DEFERRED
);

CREATE TABLE crew_sheets (
    seq INTEGER PRIMARY KEY AUTOINCREMENT,
    employer_id  TEXT        NOT NULL REFERENCES employers (id),
    id           TEXT        NOT NULL,
    content_hash TEXT        NOT NULL,
    crew_id      TEXT        NOT NULL,
    workday      TEXT        NOT NULL,
    recorded_at  DATETIME NOT NULL,
    received_at  DATETIME NOT NULL,
    clock_skew   INTEGER      NOT NULL,
    roll         TEXT        NOT NULL,
    recorded_by  TEXT        NOT NULL,
    UNIQUE (employer_id, id),
    FOREIGN KEY (employer_id, crew_id) REFERENCES crews (employer_id, id),
    FOREIGN KEY (employer_id, recorded_by) REFERENCES accounts (employer_id, id)
);
CREATE INDEX crew_sheets_by_day ON crew_sheets (employer_id, workday, crew_id);

CREATE TABLE lots (
    seq INTEGER PRIMARY KEY AUTOINCREMENT,
    employer_id   TEXT        NOT NULL REFERENCES employers (id),
    id            TEXT        NOT NULL,
    content_hash  TEXT        NOT NULL,
    sheet_id      TEXT,
    workday       TEXT        NOT NULL,
    block_id      TEXT        NOT NULL,
    operation_id  TEXT        NOT NULL,
    pieces        INTEGER      NOT NULL CHECK (pieces >= 0),
    parting       TEXT        NOT NULL CHECK (parting IN ('minutes', 'share', 'heads')),
    recorded_at   DATETIME NOT NULL,
    received_at   DATETIME NOT NULL,
    recorded_by   TEXT        NOT NULL,
    reason        TEXT        NOT NULL,
    superseded_by TEXT,
    UNIQUE (employer_id, id),
    FOREIGN KEY (employer_id, sheet_id) REFERENCES crew_sheets (employer_id, id),
    FOREIGN KEY (employer_id, block_id) REFERENCES blocks (employer_id, id),
    FOREIGN KEY (employer_id, operation_id) REFERENCES operations (employer_id, id),
    FOREIGN KEY (employer_id, recorded_by) REFERENCES accounts (employer_id, id),
    FOREIGN KEY (employer_id, superseded_by) REFERENCES lots (employer_id, id) DEFERRABLE INITIALLY DEFERRED
);
CREATE INDEX lots_by_day ON lots (employer_id, workday);

-- A worker's part of a lot is a tally without pieces of its own: the lot holds them.
CREATE TABLE tallies (
    seq INTEGER PRIMARY KEY AUTOINCREMENT,
    employer_id   TEXT        NOT NULL REFERENCES employers (id),
    id            TEXT        NOT NULL,
    content_hash  TEXT        NOT NULL,
    sheet_id      TEXT,
    worker_id     TEXT        NOT NULL,
    workday       TEXT        NOT NULL,
    block_id      TEXT        NOT NULL,
    operation_id  TEXT        NOT NULL,
    pieces        INTEGER      CHECK (pieces >= 0),
    lot_id        TEXT,
    part_minutes  INTEGER      CHECK (part_minutes >= 0),
    lot_minutes   INTEGER      CHECK (lot_minutes > 0),
    share         INTEGER      CHECK (share > 0),
    heads         INTEGER      CHECK (heads > 0),
    recorded_at   DATETIME NOT NULL,
    received_at   DATETIME NOT NULL,
    recorded_by   TEXT        NOT NULL,
    reason        TEXT        NOT NULL,
    superseded_by TEXT,
    UNIQUE (employer_id, id),
    FOREIGN KEY (employer_id, sheet_id) REFERENCES crew_sheets (employer_id, id),
    FOREIGN KEY (employer_id, worker_id) REFERENCES workers (employer_id, id),
    FOREIGN KEY (employer_id, block_id) REFERENCES blocks (employer_id, id),
    FOREIGN KEY (employer_id, operation_id) REFERENCES operations (employer_id, id),
    FOREIGN KEY (employer_id, lot_id) REFERENCES lots (employer_id, id),
    FOREIGN KEY (employer_id, recorded_by) REFERENCES accounts (employer_id, id),
    FOREIGN KEY (employer_id, superseded_by) REFERENCES tallies (employer_id, id) DEFERRABLE INITIALLY DEFERRED,
    CHECK ((pieces IS NULL) = (lot_id IS NOT NULL))
);
CREATE INDEX tallies_by_day ON tallies (employer_id, workday, worker_id);
CREATE INDEX tallies_by_worker ON tallies (employer_id, worker_id, workday);
CREATE INDEX tallies_by_lot ON tallies (employer_id, lot_id);
CREATE INDEX tallies_by_sheet ON tallies (employer_id, sheet_id);

CREATE TABLE time_entries (
    seq INTEGER PRIMARY KEY AUTOINCREMENT,
    employer_id   TEXT        NOT NULL REFERENCES employers (id),
    id            TEXT        NOT NULL,
    content_hash  TEXT        NOT NULL,
    sheet_id      TEXT,
    worker_id     TEXT        NOT NULL,
    workday       TEXT        NOT NULL,
    kind          TEXT        NOT NULL CHECK (kind IN ('piece', 'hourly', 'nonproductive', 'rest', 'recovery', 'meal', 'meal_on_duty')),
    garden_id     TEXT        NOT NULL,
    block_id      TEXT,
    operation_id  TEXT,
    started_at    DATETIME,
    ended_at      DATETIME,
    minutes       INTEGER      CHECK (minutes > 0),
    recorded_at   DATETIME NOT NULL,
    received_at   DATETIME NOT NULL,
    recorded_by   TEXT        NOT NULL,
    reason        TEXT        NOT NULL,
    superseded_by TEXT,
    UNIQUE (employer_id, id),
    FOREIGN KEY (employer_id, sheet_id) REFERENCES crew_sheets (employer_id, id),
    FOREIGN KEY (employer_id, worker_id) REFERENCES workers (employer_id, id),
    FOREIGN KEY (employer_id, garden_id) REFERENCES gardens (employer_id, id),
    FOREIGN KEY (employer_id, block_id) REFERENCES blocks (employer_id, id),
    FOREIGN KEY (employer_id, operation_id) REFERENCES operations (employer_id, id),
    FOREIGN KEY (employer_id, recorded_by) REFERENCES accounts (employer_id, id),
    FOREIGN KEY (employer_id, superseded_by) REFERENCES time_entries (employer_id, id) DEFERRABLE INITIALLY DEFERRED,
    CHECK ((started_at IS NULL) = (minutes IS NOT NULL)),
    CHECK (ended_at IS NULL OR started_at IS NOT NULL),
    CHECK (ended_at > started_at)
);
CREATE INDEX time_entries_by_day ON time_entries (employer_id, workday, worker_id);
CREATE INDEX time_entries_by_worker ON time_entries (employer_id, worker_id, workday);
CREATE INDEX time_entries_by_sheet ON time_entries (employer_id, sheet_id);
CREATE UNIQUE INDEX time_entries_open ON time_entries (employer_id, worker_id)
    WHERE superseded_by IS NULL AND started_at IS NOT NULL AND ended_at IS NULL;

-- What the employer did not provide that day, and what a worker agreed to waive.
CREATE TABLE break_records (
    seq INTEGER PRIMARY KEY AUTOINCREMENT,
    employer_id   TEXT        NOT NULL REFERENCES employers (id),
    id            TEXT        NOT NULL,
    content_hash  TEXT        NOT NULL,
    sheet_id      TEXT,
    worker_id     TEXT        NOT NULL,
    workday       TEXT        NOT NULL,
    fact          TEXT        NOT NULL CHECK (fact IN ('meal_not_provided', 'rest_not_provided', 'recovery_not_provided', 'first_meal_waived', 'second_meal_waived')),
    recorded_at   DATETIME NOT NULL,
    received_at   DATETIME NOT NULL,
    recorded_by   TEXT        NOT NULL,
    reason        TEXT        NOT NULL,
    superseded_by TEXT,
    UNIQUE (employer_id, id),
    FOREIGN KEY (employer_id, sheet_id) REFERENCES crew_sheets (employer_id, id),
    FOREIGN KEY (employer_id, worker_id) REFERENCES workers (employer_id, id),
    FOREIGN KEY (employer_id, recorded_by) REFERENCES accounts (employer_id, id),
    FOREIGN KEY (employer_id, superseded_by) REFERENCES break_records (employer_id, id) DEFERRABLE INITIALLY DEFERRED
);
CREATE INDEX break_records_by_day ON break_records (employer_id, workday, worker_id);
CREATE INDEX break_records_by_sheet ON break_records (employer_id, sheet_id);

CREATE TABLE pay_runs (
    seq INTEGER PRIMARY KEY AUTOINCREMENT,
    employer_id  TEXT        NOT NULL REFERENCES employers (id),
    id           TEXT        NOT NULL,
    content_hash TEXT        NOT NULL,
    created_at   DATETIME NOT NULL,
    updated_at   DATETIME NOT NULL,
    version      INTEGER      NOT NULL,
    number       INTEGER      NOT NULL CHECK (number > 0),
    kind         TEXT        NOT NULL CHECK (kind IN ('regular', 'final', 'correction')),
    week_start   TEXT        NOT NULL,
    payday       TEXT        NOT NULL,
    state        TEXT        NOT NULL CHECK (state IN ('draft', 'approved', 'paid')),
    input_digest TEXT        NOT NULL,
    engine       TEXT        NOT NULL,
    drafted_by   TEXT        NOT NULL,
    drafted_at   DATETIME NOT NULL,
    approved_by  TEXT,
    approved_at  DATETIME,
    UNIQUE (employer_id, id),
    UNIQUE (employer_id, number),
    FOREIGN KEY (employer_id, drafted_by) REFERENCES accounts (employer_id, id),
    FOREIGN KEY (employer_id, approved_by) REFERENCES accounts (employer_id, id),
    CHECK ((state = 'draft') = (approved_by IS NULL))
);
CREATE UNIQUE INDEX pay_runs_one_draft ON pay_runs (employer_id, week_start) WHERE kind = 'regular' AND state = 'draft';
CREATE INDEX pay_runs_by_week ON pay_runs (employer_id, week_start);

CREATE TABLE pay_run_books (
    employer_id TEXT NOT NULL REFERENCES employers (id),
    run_id      TEXT NOT NULL,
    book_key    TEXT NOT NULL,
    digest      TEXT NOT NULL REFERENCES book_texts (digest),
    PRIMARY KEY (employer_id, run_id, book_key),
    FOREIGN KEY (employer_id, run_id) REFERENCES pay_runs (employer_id, id)
);

CREATE TABLE statements (
    seq INTEGER PRIMARY KEY AUTOINCREMENT,
    employer_id    TEXT    NOT NULL REFERENCES employers (id),
    id             TEXT    NOT NULL,
    run_id         TEXT    NOT NULL,
    worker_id      TEXT    NOT NULL,
    week_start     TEXT    NOT NULL,
    heading        TEXT    NOT NULL,
    detail         TEXT    NOT NULL,
    figures        TEXT    NOT NULL,
    week           TEXT    NOT NULL,
    straight_time  INTEGER  NOT NULL,
    premiums       INTEGER  NOT NULL,
    other          INTEGER  NOT NULL,
    gross          INTEGER  NOT NULL,
    taxes          INTEGER  NOT NULL,
    deductions     INTEGER  NOT NULL,
    reimbursements INTEGER  NOT NULL,
    net            INTEGER  NOT NULL,
    worked_minutes INTEGER  NOT NULL,
    paid_on        TEXT,
    paid_method    TEXT    NOT NULL,
    paid_reference TEXT    NOT NULL,
    paid_by        TEXT,
    UNIQUE (employer_id, id),
    UNIQUE (employer_id, run_id, worker_id, week_start),
    FOREIGN KEY (employer_id, run_id) REFERENCES pay_runs (employer_id, id),
    FOREIGN KEY (employer_id, worker_id) REFERENCES workers (employer_id, id),
    FOREIGN KEY (employer_id, paid_by) REFERENCES accounts (employer_id, id)
);
CREATE INDEX statements_by_worker ON statements (employer_id, worker_id, week_start);
CREATE INDEX statements_by_week ON statements (employer_id, week_start, worker_id);

CREATE TABLE statement_lines (
    employer_id  TEXT   NOT NULL REFERENCES employers (id),
    statement_id TEXT   NOT NULL,
    line_no      INTEGER NOT NULL,
    code         TEXT   NOT NULL,
    operation    TEXT   NOT NULL,
    quantity     TEXT   NOT NULL,
    unit         TEXT   NOT NULL,
    rate         INTEGER,
    amount       INTEGER NOT NULL,
    basis_key    TEXT   NOT NULL,
    basis_terms  TEXT   NOT NULL,
    authority    TEXT   NOT NULL,
    PRIMARY KEY (employer_id, statement_id, line_no),
    FOREIGN KEY (employer_id, statement_id) REFERENCES statements (employer_id, id)
);

CREATE TABLE pay_run_problems (
    employer_id TEXT   NOT NULL REFERENCES employers (id),
    run_id      TEXT   NOT NULL,
    problem_no  INTEGER NOT NULL,
    worker_id   TEXT,
    kind        TEXT   NOT NULL CHECK (kind IN ('holds', 'decide', 'note')),
    code        TEXT   NOT NULL,
    on_date     TEXT,
    terms       TEXT   NOT NULL,
    subject     TEXT   NOT NULL,
    PRIMARY KEY (employer_id, run_id, problem_no),
    FOREIGN KEY (employer_id, run_id) REFERENCES pay_runs (employer_id, id),
    FOREIGN KEY (employer_id, worker_id) REFERENCES workers (employer_id, id)
);

-- A decision answers a problem by what the problem is about, so that it outlives a redraft.
CREATE TABLE problem_decisions (
    employer_id TEXT        NOT NULL REFERENCES employers (id),
    id          TEXT        NOT NULL,
    week_start  TEXT        NOT NULL,
    subject     TEXT        NOT NULL,
    decision    TEXT        NOT NULL,
    decided_by  TEXT        NOT NULL,
    decided_at  DATETIME NOT NULL,
    PRIMARY KEY (employer_id, id),
    UNIQUE (employer_id, week_start, subject),
    FOREIGN KEY (employer_id, decided_by) REFERENCES accounts (employer_id, id)
);

CREATE TABLE audit_entries (
    seq INTEGER PRIMARY KEY AUTOINCREMENT,
    employer_id  TEXT        NOT NULL REFERENCES employers (id),
    id           TEXT        NOT NULL,
    at           DATETIME NOT NULL,
    account_id   TEXT,
    action       TEXT        NOT NULL,
    subject_kind TEXT        NOT NULL,
    subject_id   TEXT        NOT NULL,
    before_doc   TEXT        NOT NULL,
    after_doc    TEXT        NOT NULL,
    reason       TEXT        NOT NULL,
    content_hash TEXT        NOT NULL,
    tx           INTEGER      NOT NULL DEFAULT 0,
    UNIQUE (employer_id, id)
);
CREATE INDEX audit_entries_by_subject ON audit_entries (employer_id, subject_id, seq);
CREATE INDEX audit_entries_by_tx ON audit_entries (employer_id, tx, seq);

-- A seal covers the entries after the seal before it, through its own last one, in the order of (tx, seq).
CREATE TABLE audit_seals (
    employer_id   TEXT        NOT NULL REFERENCES employers (id),
    number        INTEGER      NOT NULL CHECK (number > 0),
    sealed_at     DATETIME NOT NULL,
    entries       INTEGER      NOT NULL CHECK (entries > 0),
    last_tx       INTEGER      NOT NULL,
    last_seq      INTEGER      NOT NULL,
    previous_hash TEXT        NOT NULL,
    hash          TEXT        NOT NULL,
    PRIMARY KEY (employer_id, number)
);

-- +goose StatementBegin
CREATE TRIGGER piece_rates_append_only BEFORE UPDATE OF seq, employer_id, id, content_hash, operation_id, block_id, variety, rate, effective_on, recorded_at, received_at, recorded_by, reason ON piece_rates
BEGIN SELECT RAISE(ABORT, 'append-only: a record of piece_rates may only be superseded, once'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER piece_rates_superseded_once BEFORE UPDATE OF superseded_by ON piece_rates
WHEN OLD.superseded_by IS NOT NULL OR NEW.superseded_by IS NULL
BEGIN SELECT RAISE(ABORT, 'append-only: a record of piece_rates may only be superseded, once'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER piece_rates_keep BEFORE DELETE ON piece_rates
BEGIN SELECT RAISE(ABORT, 'append-only: piece_rates may not be changed or deleted'); END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER hourly_rates_append_only BEFORE UPDATE OF seq, employer_id, id, content_hash, worker_id, rate, effective_on, recorded_at, received_at, recorded_by, reason ON hourly_rates
BEGIN SELECT RAISE(ABORT, 'append-only: a record of hourly_rates may only be superseded, once'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER hourly_rates_superseded_once BEFORE UPDATE OF superseded_by ON hourly_rates
WHEN OLD.superseded_by IS NOT NULL OR NEW.superseded_by IS NULL
BEGIN SELECT RAISE(ABORT, 'append-only: a record of hourly_rates may only be superseded, once'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER hourly_rates_keep BEFORE DELETE ON hourly_rates
BEGIN SELECT RAISE(ABORT, 'append-only: hourly_rates may not be changed or deleted'); END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER lots_append_only BEFORE UPDATE OF seq, employer_id, id, content_hash, sheet_id, workday, block_id, operation_id, pieces, parting, recorded_at, received_at, recorded_by, reason ON lots
BEGIN SELECT RAISE(ABORT, 'append-only: a record of lots may only be superseded, once'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER lots_superseded_once BEFORE UPDATE OF superseded_by ON lots
WHEN OLD.superseded_by IS NOT NULL OR NEW.superseded_by IS NULL
BEGIN SELECT RAISE(ABORT, 'append-only: a record of lots may only be superseded, once'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER lots_keep BEFORE DELETE ON lots
BEGIN SELECT RAISE(ABORT, 'append-only: lots may not be changed or deleted'); END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER tallies_append_only BEFORE UPDATE OF seq, employer_id, id, content_hash, sheet_id, worker_id, workday, block_id, operation_id, pieces, lot_id, part_minutes, lot_minutes, share, heads, recorded_at, received_at, recorded_by, reason ON tallies
BEGIN SELECT RAISE(ABORT, 'append-only: a record of tallies may only be superseded, once'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER tallies_superseded_once BEFORE UPDATE OF superseded_by ON tallies
WHEN OLD.superseded_by IS NOT NULL OR NEW.superseded_by IS NULL
BEGIN SELECT RAISE(ABORT, 'append-only: a record of tallies may only be superseded, once'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER tallies_keep BEFORE DELETE ON tallies
BEGIN SELECT RAISE(ABORT, 'append-only: tallies may not be changed or deleted'); END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER time_entries_append_only BEFORE UPDATE OF seq, employer_id, id, content_hash, sheet_id, worker_id, workday, kind, garden_id, block_id, operation_id, started_at, ended_at, minutes, recorded_at, received_at, recorded_by, reason ON time_entries
BEGIN SELECT RAISE(ABORT, 'append-only: a record of time_entries may only be superseded, once'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER time_entries_superseded_once BEFORE UPDATE OF superseded_by ON time_entries
WHEN OLD.superseded_by IS NOT NULL OR NEW.superseded_by IS NULL
BEGIN SELECT RAISE(ABORT, 'append-only: a record of time_entries may only be superseded, once'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER time_entries_keep BEFORE DELETE ON time_entries
BEGIN SELECT RAISE(ABORT, 'append-only: time_entries may not be changed or deleted'); END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER break_records_append_only BEFORE UPDATE OF seq, employer_id, id, content_hash, sheet_id, worker_id, workday, fact, recorded_at, received_at, recorded_by, reason ON break_records
BEGIN SELECT RAISE(ABORT, 'append-only: a record of break_records may only be superseded, once'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER break_records_superseded_once BEFORE UPDATE OF superseded_by ON break_records
WHEN OLD.superseded_by IS NOT NULL OR NEW.superseded_by IS NULL
BEGIN SELECT RAISE(ABORT, 'append-only: a record of break_records may only be superseded, once'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER break_records_keep BEFORE DELETE ON break_records
BEGIN SELECT RAISE(ABORT, 'append-only: break_records may not be changed or deleted'); END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER crew_sheets_no_update BEFORE UPDATE ON crew_sheets
BEGIN SELECT RAISE(ABORT, 'append-only: crew_sheets may not be changed or deleted'); END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER crew_sheets_no_delete BEFORE DELETE ON crew_sheets
BEGIN SELECT RAISE(ABORT, 'append-only: crew_sheets may not be changed or deleted'); END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER audit_entries_no_update BEFORE UPDATE ON audit_entries
BEGIN SELECT RAISE(ABORT, 'append-only: audit_entries may not be changed or deleted'); END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER audit_entries_no_delete BEFORE DELETE ON audit_entries
BEGIN SELECT RAISE(ABORT, 'append-only: audit_entries may not be changed or deleted'); END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER audit_seals_no_update BEFORE UPDATE ON audit_seals
BEGIN SELECT RAISE(ABORT, 'append-only: audit_seals may not be changed or deleted'); END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER audit_seals_no_delete BEFORE DELETE ON audit_seals
BEGIN SELECT RAISE(ABORT, 'append-only: audit_seals may not be changed or deleted'); END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER book_texts_no_update BEFORE UPDATE ON book_texts
BEGIN SELECT RAISE(ABORT, 'append-only: book_texts may not be changed or deleted'); END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER book_texts_no_delete BEFORE DELETE ON book_texts
BEGIN SELECT RAISE(ABORT, 'append-only: book_texts may not be changed or deleted'); END;
-- +goose StatementEnd

-- Entries of one worker that stand and are closed may not overlap in time.
-- +goose StatementBegin
CREATE TRIGGER time_entries_overlap BEFORE INSERT ON time_entries
WHEN NEW.superseded_by IS NULL AND NEW.ended_at IS NOT NULL AND EXISTS (
    SELECT 1 FROM time_entries e
    WHERE e.employer_id = NEW.employer_id AND e.worker_id = NEW.worker_id
      AND e.superseded_by IS NULL AND e.ended_at IS NOT NULL
      AND e.started_at < NEW.ended_at AND NEW.started_at < e.ended_at)
BEGIN SELECT RAISE(ABORT, 'overlap: time_entries_overlap'); END;
-- +goose StatementEnd
