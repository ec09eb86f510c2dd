-- +goose Up
-- Every table but the directory of employers and the rulebook texts carries employer_id, first in its key and in every
-- foreign key, and is held by row-level security to the employer that the transaction names.

CREATE EXTENSION IF NOT EXISTS btree_gist;

CREATE TABLE employers (
    id           uuid PRIMARY KEY,
    sign_in_name text        NOT NULL UNIQUE,
    created_at   timestamptz NOT NULL
);

CREATE TABLE book_texts (
    digest   text PRIMARY KEY,
    book_key text NOT NULL,
    body     text NOT NULL
);

CREATE TABLE employer_profiles (
    employer_id       uuid PRIMARY KEY REFERENCES employers (id),
    legal_name        text        NOT NULL,
    address           text        NOT NULL,
    tax_number        text        NOT NULL,
    insurance_carrier text        NOT NULL,
    size              bigint      NOT NULL CHECK (size > 0),
    week_start        bigint      NOT NULL CHECK (week_start BETWEEN 0 AND 6),
    workday_start     bigint      NOT NULL CHECK (workday_start BETWEEN 0 AND 1439),
    payday            bigint      NOT NULL CHECK (payday BETWEEN 0 AND 6),
    second_approver   boolean     NOT NULL,
    version           bigint      NOT NULL,
    updated_at        timestamptz NOT NULL
);

CREATE TABLE gardens (
    employer_id             uuid        NOT NULL REFERENCES employers (id),
    id                      uuid        NOT NULL,
    seq                     bigint      GENERATED ALWAYS AS IDENTITY,
    content_hash            text        NOT NULL,
    created_at              timestamptz NOT NULL,
    updated_at              timestamptz NOT NULL,
    version                 bigint      NOT NULL,
    number                  bigint      NOT NULL CHECK (number > 0),
    name                    text        NOT NULL,
    time_zone               text        NOT NULL,
    rulebook                text        NOT NULL,
    engaging_entity         text        NOT NULL,
    engaging_entity_address text        NOT NULL,
    PRIMARY KEY (employer_id, id),
    UNIQUE (employer_id, seq),
    UNIQUE (employer_id, number)
);

CREATE TABLE blocks (
    employer_id  uuid        NOT NULL REFERENCES employers (id),
    id           uuid        NOT NULL,
    seq          bigint      GENERATED ALWAYS AS IDENTITY,
    content_hash text        NOT NULL,
    created_at   timestamptz NOT NULL,
    updated_at   timestamptz NOT NULL,
    version      bigint      NOT NULL,
    garden_id    uuid        NOT NULL,
    code         text        NOT NULL,
    variety      text        NOT NULL,
    palms        bigint      NOT NULL CHECK (palms > 0),
    tallest_cm   bigint      NOT NULL CHECK (tallest_cm > 0),
    PRIMARY KEY (employer_id, id),
    UNIQUE (employer_id, seq),
    UNIQUE (employer_id, code),
    FOREIGN KEY (employer_id, garden_id) REFERENCES gardens (employer_id, id)
);

CREATE TABLE operations (
    employer_id  uuid        NOT NULL REFERENCES employers (id),
    id           uuid        NOT NULL,
    seq          bigint      GENERATED ALWAYS AS IDENTITY,
    content_hash text        NOT NULL,
    created_at   timestamptz NOT NULL,
    updated_at   timestamptz NOT NULL,
    version      bigint      NOT NULL,
    code         text        NOT NULL,
    unit         text        NOT NULL,
    daily_limit  bigint      NOT NULL CHECK (daily_limit > 0),
    PRIMARY KEY (employer_id, id),
    UNIQUE (employer_id, seq),
    UNIQUE (employer_id, code)
);

CREATE TABLE crews (
    employer_id  uuid        NOT NULL REFERENCES employers (id),
    id           uuid        NOT NULL,
    seq          bigint      GENERATED ALWAYS AS IDENTITY,
    content_hash text        NOT NULL,
    created_at   timestamptz NOT NULL,
    updated_at   timestamptz NOT NULL,
    version      bigint      NOT NULL,
    number       bigint      NOT NULL CHECK (number > 0),
    name         text        NOT NULL,
    PRIMARY KEY (employer_id, id),
    UNIQUE (employer_id, seq),
    UNIQUE (employer_id, number)
);

CREATE TABLE workers (
    employer_id  uuid        NOT NULL REFERENCES employers (id),
    id           uuid        NOT NULL,
    seq          bigint      GENERATED ALWAYS AS IDENTITY,
    content_hash text        NOT NULL,
    created_at   timestamptz NOT NULL,
    updated_at   timestamptz NOT NULL,
    version      bigint      NOT NULL,
    number       bigint      NOT NULL CHECK (number > 0),
    name         text        NOT NULL,
    address      text        NOT NULL,
    birth_date   date,
    language     text        NOT NULL,
    started_on   date        NOT NULL,
    ended_on     date,
    provisional  boolean     NOT NULL,
    same_as      uuid,
    PRIMARY KEY (employer_id, id),
    UNIQUE (employer_id, seq),
    UNIQUE (employer_id, number),
    FOREIGN KEY (employer_id, same_as) REFERENCES workers (employer_id, id) DEFERRABLE,
    CHECK (same_as <> id),
    CHECK (ended_on >= started_on)
);

CREATE TABLE crew_members (
    employer_id  uuid        NOT NULL REFERENCES employers (id),
    id           uuid        NOT NULL,
    seq          bigint      GENERATED ALWAYS AS IDENTITY,
    content_hash text        NOT NULL,
    created_at   timestamptz NOT NULL,
    updated_at   timestamptz NOT NULL,
    version      bigint      NOT NULL,
    crew_id      uuid        NOT NULL,
    worker_id    uuid        NOT NULL,
    leads        boolean     NOT NULL,
    from_date    date        NOT NULL,
    through_date date,
    PRIMARY KEY (employer_id, id),
    UNIQUE (employer_id, seq),
    FOREIGN KEY (employer_id, crew_id) REFERENCES crews (employer_id, id),
    FOREIGN KEY (employer_id, worker_id) REFERENCES workers (employer_id, id),
    CHECK (through_date >= from_date)
);
CREATE INDEX crew_members_by_crew ON crew_members (employer_id, crew_id, from_date);
CREATE INDEX crew_members_by_worker ON crew_members (employer_id, worker_id, from_date);

CREATE TABLE accounts (
    employer_id  uuid        NOT NULL REFERENCES employers (id),
    id           uuid        NOT NULL,
    seq          bigint      GENERATED ALWAYS AS IDENTITY,
    content_hash text        NOT NULL,
    created_at   timestamptz NOT NULL,
    updated_at   timestamptz NOT NULL,
    version      bigint      NOT NULL,
    sign_in_name text        NOT NULL,
    name         text        NOT NULL,
    role         text        NOT NULL CHECK (role IN ('worker', 'crew_lead', 'payroll_clerk', 'safety_officer', 'administrator')),
    language     text        NOT NULL,
    worker_id    uuid,
    secret_hash  text        NOT NULL,
    suspended    boolean     NOT NULL,
    PRIMARY KEY (employer_id, id),
    UNIQUE (employer_id, seq),
    UNIQUE (employer_id, sign_in_name),
    FOREIGN KEY (employer_id, worker_id) REFERENCES workers (employer_id, id),
    CHECK (role NOT IN ('worker', 'crew_lead') OR worker_id IS NOT NULL)
);

CREATE TABLE sign_in_codes (
    employer_id uuid        NOT NULL REFERENCES employers (id),
    id          uuid        NOT NULL,
    account_id  uuid        NOT NULL,
    code_hash   text        NOT NULL,
    issued_by   uuid,
    issued_at   timestamptz NOT NULL,
    expires_at  timestamptz NOT NULL,
    used_at     timestamptz,
    PRIMARY KEY (employer_id, id),
    FOREIGN KEY (employer_id, account_id) REFERENCES accounts (employer_id, id),
    FOREIGN KEY (employer_id, issued_by) REFERENCES accounts (employer_id, id)
);
CREATE INDEX sign_in_codes_by_account ON sign_in_codes (employer_id, account_id);

CREATE TABLE sign_in_attempts (
    employer_id   uuid        NOT NULL REFERENCES employers (id),
    sign_in_name  text        NOT NULL,
    failures      bigint      NOT NULL,
    first_at      timestamptz NOT NULL,
    blocked_until timestamptz,
    PRIMARY KEY (employer_id, sign_in_name)
);

CREATE TABLE sign_in_sessions (
    employer_id uuid        NOT NULL REFERENCES employers (id),
    id          uuid        NOT NULL,
    account_id  uuid        NOT NULL,
    started_at  timestamptz NOT NULL,
    ended_at    timestamptz,
    end_reason  text        NOT NULL,
    PRIMARY KEY (employer_id, id),
    FOREIGN KEY (employer_id, account_id) REFERENCES accounts (employer_id, id)
);
CREATE INDEX sign_in_sessions_by_account ON sign_in_sessions (employer_id, account_id);

CREATE TABLE refresh_tokens (
    employer_id    uuid        NOT NULL REFERENCES employers (id),
    id             uuid        NOT NULL,
    session_id     uuid        NOT NULL,
    predecessor_id uuid,
    token_hash     text        NOT NULL,
    issued_at      timestamptz NOT NULL,
    expires_at     timestamptz NOT NULL,
    first_used_at  timestamptz,
    PRIMARY KEY (employer_id, id),
    UNIQUE (employer_id, token_hash),
    FOREIGN KEY (employer_id, session_id) REFERENCES sign_in_sessions (employer_id, id),
    FOREIGN KEY (employer_id, predecessor_id) REFERENCES refresh_tokens (employer_id, id) DEFERRABLE
);
CREATE INDEX refresh_tokens_by_session ON refresh_tokens (employer_id, session_id);
CREATE INDEX refresh_tokens_by_predecessor ON refresh_tokens (employer_id, predecessor_id);

-- Records of rates and of work are append-only: one column may change, once, from nothing to the record that takes its place.

CREATE TABLE piece_rates (
    employer_id   uuid        NOT NULL REFERENCES employers (id),
    id            uuid        NOT NULL,
    seq           bigint      GENERATED ALWAYS AS IDENTITY,
    content_hash  text        NOT NULL,
    operation_id  uuid        NOT NULL,
    block_id      uuid,
    variety       text        NOT NULL,
    rate          bigint      NOT NULL CHECK (rate >= 0),
    effective_on  date        NOT NULL,
    recorded_at   timestamptz NOT NULL,
    received_at   timestamptz NOT NULL,
    recorded_by   uuid        NOT NULL,
    reason        text        NOT NULL,
    superseded_by uuid,
    PRIMARY KEY (employer_id, id),
    UNIQUE (employer_id, seq),
    FOREIGN KEY (employer_id, operation_id) REFERENCES operations (employer_id, id),
    FOREIGN KEY (employer_id, block_id) REFERENCES blocks (employer_id, id),
    FOREIGN KEY (employer_id, recorded_by) REFERENCES accounts (employer_id, id),
    FOREIGN KEY (employer_id, superseded_by) REFERENCES piece_rates (employer_id, id) DEFERRABLE INITIALLY DEFERRED,
    CHECK (block_id IS NULL OR variety = '')
);

CREATE TABLE hourly_rates (
    employer_id   uuid        NOT NULL REFERENCES employers (id),
    id            uuid        NOT NULL,
    seq           bigint      GENERATED ALWAYS AS IDENTITY,
    content_hash  text        NOT NULL,
    worker_id     uuid,
    rate          bigint      NOT NULL CHECK (rate >= 0),
    effective_on  date        NOT NULL,
    recorded_at   timestamptz NOT NULL,
    received_at   timestamptz NOT NULL,
    recorded_by   uuid        NOT NULL,
    reason        text        NOT NULL,
    superseded_by uuid,
    PRIMARY KEY (employer_id, id),
    UNIQUE (employer_id, seq),
    FOREIGN KEY (employer_id, worker_id) REFERENCES workers (employer_id, id),
    FOREIGN KEY (employer_id, recorded_by) REFERENCES accounts (employer_id, id),
    FOREIGN KEY (employer_id, superseded_by) REFERENCES hourly_rates (employer_id, id) DEFERRABLE INITIALLY DEFERRED
);

CREATE TABLE crew_sheets (
    employer_id  uuid        NOT NULL REFERENCES employers (id),
    id           uuid        NOT NULL,
    seq          bigint      GENERATED ALWAYS AS IDENTITY,
    content_hash text        NOT NULL,
    crew_id      uuid        NOT NULL,
    workday      date        NOT NULL,
    recorded_at  timestamptz NOT NULL,
    received_at  timestamptz NOT NULL,
    clock_skew   bigint      NOT NULL,
    roll         text        NOT NULL,
    recorded_by  uuid        NOT NULL,
    PRIMARY KEY (employer_id, id),
    UNIQUE (employer_id, seq),
    FOREIGN KEY (employer_id, crew_id) REFERENCES crews (employer_id, id),
    FOREIGN KEY (employer_id, recorded_by) REFERENCES accounts (employer_id, id)
);
CREATE INDEX crew_sheets_by_day ON crew_sheets (employer_id, workday, crew_id);

CREATE TABLE lots (
    employer_id   uuid        NOT NULL REFERENCES employers (id),
    id            uuid        NOT NULL,
    seq           bigint      GENERATED ALWAYS AS IDENTITY,
    content_hash  text        NOT NULL,
    sheet_id      uuid,
    workday       date        NOT NULL,
    block_id      uuid        NOT NULL,
    operation_id  uuid        NOT NULL,
    pieces        bigint      NOT NULL CHECK (pieces >= 0),
    parting       text        NOT NULL CHECK (parting IN ('minutes', 'share', 'heads')),
    recorded_at   timestamptz NOT NULL,
    received_at   timestamptz NOT NULL,
    recorded_by   uuid        NOT NULL,
    reason        text        NOT NULL,
    superseded_by uuid,
    PRIMARY KEY (employer_id, id),
    UNIQUE (employer_id, seq),
    FOREIGN KEY (employer_id, sheet_id) REFERENCES crew_sheets (employer_id, id),
    FOREIGN KEY (employer_id, block_id) REFERENCES blocks (employer_id, id),
    FOREIGN KEY (employer_id, operation_id) REFERENCES operations (employer_id, id),
    FOREIGN KEY (employer_id, recorded_by) REFERENCES accounts (employer_id, id),
    FOREIGN KEY (employer_id, superseded_by) REFERENCES lots (employer_id, id) DEFERRABLE INITIALLY DEFERRED
);
CREATE INDEX lots_by_day ON lots (employer_id, workday);

-- A worker's part of a lot is a tally without pieces of its own: the lot holds them.
CREATE TABLE tallies (
    employer_id   uuid        NOT NULL REFERENCES employers (id),
    id            uuid        NOT NULL,
    seq           bigint      GENERATED ALWAYS AS IDENTITY,
    content_hash  text        NOT NULL,
    sheet_id      uuid,
    worker_id     uuid        NOT NULL,
    workday       date        NOT NULL,
    block_id      uuid        NOT NULL,
    operation_id  uuid        NOT NULL,
    pieces        bigint      CHECK (pieces >= 0),
    lot_id        uuid,
    part_minutes  bigint      CHECK (part_minutes >= 0),
    lot_minutes   bigint      CHECK (lot_minutes > 0),
    share         bigint      CHECK (share > 0),
    heads         bigint      CHECK (heads > 0),
    recorded_at   timestamptz NOT NULL,
    received_at   timestamptz NOT NULL,
    recorded_by   uuid        NOT NULL,
    reason        text        NOT NULL,
    superseded_by uuid,
    PRIMARY KEY (employer_id, id),
    UNIQUE (employer_id, seq),
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
    employer_id   uuid        NOT NULL REFERENCES employers (id),
    id            uuid        NOT NULL,
    seq           bigint      GENERATED ALWAYS AS IDENTITY,
    content_hash  text        NOT NULL,
    sheet_id      uuid,
    worker_id     uuid        NOT NULL,
    workday       date        NOT NULL,
    kind          text        NOT NULL CHECK (kind IN ('piece', 'hourly', 'nonproductive', 'rest', 'recovery', 'meal', 'meal_on_duty')),
    garden_id     uuid        NOT NULL,
    block_id      uuid,
    operation_id  uuid,
    started_at    timestamptz,
    ended_at      timestamptz,
    minutes       bigint      CHECK (minutes > 0),
    recorded_at   timestamptz NOT NULL,
    received_at   timestamptz NOT NULL,
    recorded_by   uuid        NOT NULL,
    reason        text        NOT NULL,
    superseded_by uuid,
    PRIMARY KEY (employer_id, id),
    UNIQUE (employer_id, seq),
    FOREIGN KEY (employer_id, sheet_id) REFERENCES crew_sheets (employer_id, id),
    FOREIGN KEY (employer_id, worker_id) REFERENCES workers (employer_id, id),
    FOREIGN KEY (employer_id, garden_id) REFERENCES gardens (employer_id, id),
    FOREIGN KEY (employer_id, block_id) REFERENCES blocks (employer_id, id),
    FOREIGN KEY (employer_id, operation_id) REFERENCES operations (employer_id, id),
    FOREIGN KEY (employer_id, recorded_by) REFERENCES accounts (employer_id, id),
    FOREIGN KEY (employer_id, superseded_by) REFERENCES time_entries (employer_id, id) DEFERRABLE INITIALLY DEFERRED,
    CHECK ((started_at IS NULL) = (minutes IS NOT NULL)),
    CHECK (ended_at IS NULL OR started_at IS NOT NULL),
    CHECK (ended_at > started_at),
    CONSTRAINT time_entries_overlap EXCLUDE USING gist
        (employer_id WITH =, worker_id WITH =, tstzrange(started_at, ended_at) WITH &&)
        WHERE (superseded_by IS NULL AND ended_at IS NOT NULL)
);
CREATE INDEX time_entries_by_day ON time_entries (employer_id, workday, worker_id);
CREATE INDEX time_entries_by_worker ON time_entries (employer_id, worker_id, workday);
CREATE INDEX time_entries_by_sheet ON time_entries (employer_id, sheet_id);
CREATE UNIQUE INDEX time_entries_open ON time_entries (employer_id, worker_id)
    WHERE superseded_by IS NULL AND started_at IS NOT NULL AND ended_at IS NULL;

-- What the employer did not provide that day, and what a worker agreed to waive.
CREATE TABLE break_records (
    employer_id   uuid        NOT NULL REFERENCES employers (id),
    id            uuid        NOT NULL,
    seq           bigint      GENERATED ALWAYS AS IDENTITY,
    content_hash  text        NOT NULL,
    sheet_id      uuid,
    worker_id     uuid        NOT NULL,
    workday       date        NOT NULL,
    fact          text        NOT NULL CHECK (fact IN ('meal_not_provided', 'rest_not_provided', 'recovery_not_provided', 'first_meal_waived', 'second_meal_waived')),
    recorded_at   timestamptz NOT NULL,
    received_at   timestamptz NOT NULL,
    recorded_by   uuid        NOT NULL,
    reason        text        NOT NULL,
    superseded_by uuid,
    PRIMARY KEY (employer_id, id),
    UNIQUE (employer_id, seq),
    FOREIGN KEY (employer_id, sheet_id) REFERENCES crew_sheets (employer_id, id),
    FOREIGN KEY (employer_id, worker_id) REFERENCES workers (employer_id, id),
    FOREIGN KEY (employer_id, recorded_by) REFERENCES accounts (employer_id, id),
    FOREIGN KEY (employer_id, superseded_by) REFERENCES break_records (employer_id, id) DEFERRABLE INITIALLY DEFERRED
);
CREATE INDEX break_records_by_day ON break_records (employer_id, workday, worker_id);
CREATE INDEX break_records_by_sheet ON break_records (employer_id, sheet_id);

CREATE TABLE pay_runs (
    employer_id  uuid        NOT NULL REFERENCES employers (id),
    id           uuid        NOT NULL,
    seq          bigint      GENERATED ALWAYS AS IDENTITY,
    content_hash text        NOT NULL,
    created_at   timestamptz NOT NULL,
    updated_at   timestamptz NOT NULL,
    version      bigint      NOT NULL,
    number       bigint      NOT NULL CHECK (number > 0),
    kind         text        NOT NULL CHECK (kind IN ('regular', 'final', 'correction')),
    week_start   date        NOT NULL,
    payday       date        NOT NULL,
    state        text        NOT NULL CHECK (state IN ('draft', 'approved', 'paid')),
    input_digest text        NOT NULL,
    engine       text        NOT NULL,
    drafted_by   uuid        NOT NULL,
    drafted_at   timestamptz NOT NULL,
    approved_by  uuid,
    approved_at  timestamptz,
    PRIMARY KEY (employer_id, id),
    UNIQUE (employer_id, seq),
    UNIQUE (employer_id, number),
    FOREIGN KEY (employer_id, drafted_by) REFERENCES accounts (employer_id, id),
    FOREIGN KEY (employer_id, approved_by) REFERENCES accounts (employer_id, id),
    CHECK ((state = 'draft') = (approved_by IS NULL))
);
CREATE UNIQUE INDEX pay_runs_one_draft ON pay_runs (employer_id, week_start) WHERE kind = 'regular' AND state = 'draft';
CREATE INDEX pay_runs_by_week ON pay_runs (employer_id, week_start);

CREATE TABLE pay_run_books (
    employer_id uuid NOT NULL REFERENCES employers (id),
    run_id      uuid NOT NULL,
    book_key    text NOT NULL,
    digest      text NOT NULL REFERENCES book_texts (digest),
    PRIMARY KEY (employer_id, run_id, book_key),
    FOREIGN KEY (employer_id, run_id) REFERENCES pay_runs (employer_id, id)
);

CREATE TABLE statements (
    employer_id    uuid    NOT NULL REFERENCES employers (id),
    id             uuid    NOT NULL,
    seq            bigint  GENERATED ALWAYS AS IDENTITY,
    run_id         uuid    NOT NULL,
    worker_id      uuid    NOT NULL,
    week_start     date    NOT NULL,
    heading        text    NOT NULL,
    detail         text    NOT NULL,
    figures        text    NOT NULL,
    week           text    NOT NULL,
    straight_time  bigint  NOT NULL,
    premiums       bigint  NOT NULL,
    other          bigint  NOT NULL,
    gross          bigint  NOT NULL,
    taxes          bigint  NOT NULL,
    deductions     bigint  NOT NULL,
    reimbursements bigint  NOT NULL,
    net            bigint  NOT NULL,
    worked_minutes bigint  NOT NULL,
    paid_on        date,
    paid_method    text    NOT NULL,
    paid_reference text    NOT NULL,
    paid_by        uuid,
    PRIMARY KEY (employer_id, id),
    UNIQUE (employer_id, seq),
    UNIQUE (employer_id, run_id, worker_id, week_start),
    FOREIGN KEY (employer_id, run_id) REFERENCES pay_runs (employer_id, id),
    FOREIGN KEY (employer_id, worker_id) REFERENCES workers (employer_id, id),
    FOREIGN KEY (employer_id, paid_by) REFERENCES accounts (employer_id, id)
);
CREATE INDEX statements_by_worker ON statements (employer_id, worker_id, week_start);
CREATE INDEX statements_by_week ON statements (employer_id, week_start, worker_id);

CREATE TABLE statement_lines (
    employer_id  uuid   NOT NULL REFERENCES employers (id),
    statement_id uuid   NOT NULL,
    line_no      bigint NOT NULL,
    code         text   NOT NULL,
    operation    text   NOT NULL,
    quantity     text   NOT NULL,
    unit         text   NOT NULL,
    rate         bigint,
    amount       bigint NOT NULL,
    basis_key    text   NOT NULL,
    basis_terms  text   NOT NULL,
    authority    text   NOT NULL,
    PRIMARY KEY (employer_id, statement_id, line_no),
    FOREIGN KEY (employer_id, statement_id) REFERENCES statements (employer_id, id)
);

CREATE TABLE pay_run_problems (
    employer_id uuid   NOT NULL REFERENCES employers (id),
    run_id      uuid   NOT NULL,
    problem_no  bigint NOT NULL,
    worker_id   uuid,
    kind        text   NOT NULL CHECK (kind IN ('holds', 'decide', 'note')),
    code        text   NOT NULL,
    on_date     date,
    terms       text   NOT NULL,
    subject     text   NOT NULL,
    PRIMARY KEY (employer_id, run_id, problem_no),
    FOREIGN KEY (employer_id, run_id) REFERENCES pay_runs (employer_id, id),
    FOREIGN KEY (employer_id, worker_id) REFERENCES workers (employer_id, id)
);

-- A decision answers a problem by what the problem is about, so that it outlives a redraft.
CREATE TABLE problem_decisions (
    employer_id uuid        NOT NULL REFERENCES employers (id),
    id          uuid        NOT NULL,
    week_start  date        NOT NULL,
    subject     text        NOT NULL,
    decision    text        NOT NULL,
    decided_by  uuid        NOT NULL,
    decided_at  timestamptz NOT NULL,
    PRIMARY KEY (employer_id, id),
    UNIQUE (employer_id, week_start, subject),
    FOREIGN KEY (employer_id, decided_by) REFERENCES accounts (employer_id, id)
);

CREATE TABLE audit_entries (
    employer_id  uuid        NOT NULL REFERENCES employers (id),
    id           uuid        NOT NULL,
    seq          bigint      GENERATED ALWAYS AS IDENTITY,
    at           timestamptz NOT NULL,
    account_id   uuid,
    action       text        NOT NULL,
    subject_kind text        NOT NULL,
    subject_id   uuid        NOT NULL,
    before_doc   text        NOT NULL,
    after_doc    text        NOT NULL,
    reason       text        NOT NULL,
    content_hash text        NOT NULL,
    tx           bigint      NOT NULL DEFAULT (pg_current_xact_id()::text::bigint),
    PRIMARY KEY (employer_id, id),
    UNIQUE (employer_id, seq)
);
CREATE INDEX audit_entries_by_subject ON audit_entries (employer_id, subject_id, seq);
CREATE INDEX audit_entries_by_tx ON audit_entries (employer_id, tx, seq);

-- A seal covers the entries after the seal before it, through its own last one, in the order of (tx, seq).
CREATE TABLE audit_seals (
    employer_id   uuid        NOT NULL REFERENCES employers (id),
    number        bigint      NOT NULL CHECK (number > 0),
    sealed_at     timestamptz NOT NULL,
    entries       bigint      NOT NULL CHECK (entries > 0),
    last_tx       bigint      NOT NULL,
    last_seq      bigint      NOT NULL,
    previous_hash text        NOT NULL,
    hash          text        NOT NULL,
    PRIMARY KEY (employer_id, number)
);

-- +goose StatementBegin
CREATE FUNCTION refuse_change() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    RAISE EXCEPTION 'append-only: % may not be changed or deleted', TG_TABLE_NAME USING ERRCODE = 'integrity_constraint_violation';
END $$;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE FUNCTION allow_superseding_once() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    IF OLD.superseded_by IS NULL AND NEW.superseded_by IS NOT NULL
        AND to_jsonb(OLD) - 'superseded_by' = to_jsonb(NEW) - 'superseded_by' THEN
        RETURN NEW;
    END IF;
    RAISE EXCEPTION 'append-only: a record of % may only be superseded, once', TG_TABLE_NAME USING ERRCODE = 'integrity_constraint_violation';
END $$;
-- +goose StatementEnd

-- +goose StatementBegin
DO $$
DECLARE t text;
BEGIN
    FOREACH t IN ARRAY ARRAY['piece_rates', 'hourly_rates', 'lots', 'tallies', 'time_entries', 'break_records'] LOOP
        EXECUTE format('CREATE TRIGGER append_only BEFORE UPDATE ON %I FOR EACH ROW EXECUTE FUNCTION allow_superseding_once()', t);
        EXECUTE format('CREATE TRIGGER keep BEFORE DELETE ON %I FOR EACH ROW EXECUTE FUNCTION refuse_change()', t);
    END LOOP;
    FOREACH t IN ARRAY ARRAY['crew_sheets', 'audit_entries', 'audit_seals', 'book_texts'] LOOP
        EXECUTE format('CREATE TRIGGER keep BEFORE UPDATE OR DELETE ON %I FOR EACH ROW EXECUTE FUNCTION refuse_change()', t);
    END LOOP;
    FOR t IN SELECT c.table_name FROM information_schema.columns c
             WHERE c.table_schema = current_schema() AND c.column_name = 'employer_id' LOOP
        EXECUTE format('ALTER TABLE %I ENABLE ROW LEVEL SECURITY', t);
        EXECUTE format('ALTER TABLE %I FORCE ROW LEVEL SECURITY', t);
        EXECUTE format('CREATE POLICY own_employer ON %I USING (employer_id = (SELECT nullif(current_setting(''palmero.employer'', true), '''')::uuid))', t);
    END LOOP;
END $$;
-- +goose StatementEnd
