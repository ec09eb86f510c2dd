-- +goose Up
-- The ledger of sick leave, bonuses earned over several weeks, and contracts that guarantee hours.

ALTER TABLE workers ADD COLUMN usual_day_minutes bigint NOT NULL DEFAULT 0 CHECK (usual_day_minutes >= 0);

-- An employment that ended before the worker was hired anew.
CREATE TABLE employments (
    employer_id  uuid        NOT NULL REFERENCES employers (id),
    id           uuid        NOT NULL,
    seq          bigint      GENERATED ALWAYS AS IDENTITY,
    worker_id    uuid        NOT NULL,
    from_date    date        NOT NULL,
    through_date date        NOT NULL,
    recorded_at  timestamptz NOT NULL,
    recorded_by  uuid,
    PRIMARY KEY (employer_id, id),
    UNIQUE (employer_id, seq),
    FOREIGN KEY (employer_id, worker_id) REFERENCES workers (employer_id, id),
    FOREIGN KEY (employer_id, recorded_by) REFERENCES accounts (employer_id, id),
    CHECK (through_date >= from_date)
);
CREATE INDEX employments_by_worker ON employments (employer_id, worker_id, from_date);

-- Sick leave that was taken. The note says why, and is for whoever runs the pay alone.
CREATE TABLE sick_uses (
    employer_id   uuid        NOT NULL REFERENCES employers (id),
    id            uuid        NOT NULL,
    seq           bigint      GENERATED ALWAYS AS IDENTITY,
    content_hash  text        NOT NULL,
    worker_id     uuid        NOT NULL,
    workday       date        NOT NULL,
    garden_id     uuid        NOT NULL,
    minutes       bigint      NOT NULL CHECK (minutes >= 0),
    note          text        NOT NULL,
    recorded_at   timestamptz NOT NULL,
    received_at   timestamptz NOT NULL,
    recorded_by   uuid        NOT NULL,
    reason        text        NOT NULL,
    superseded_by uuid,
    PRIMARY KEY (employer_id, id),
    UNIQUE (employer_id, seq),
    FOREIGN KEY (employer_id, worker_id) REFERENCES workers (employer_id, id),
    FOREIGN KEY (employer_id, garden_id) REFERENCES gardens (employer_id, id),
    FOREIGN KEY (employer_id, recorded_by) REFERENCES accounts (employer_id, id),
    FOREIGN KEY (employer_id, superseded_by) REFERENCES sick_uses (employer_id, id) DEFERRABLE INITIALLY DEFERRED
);
CREATE INDEX sick_uses_by_day ON sick_uses (employer_id, workday, worker_id);
CREATE INDEX sick_uses_by_worker ON sick_uses (employer_id, worker_id, workday);

-- The ledger of sick leave: each entry changes a worker's balance and carries it on. A void or withdrawn statement's entry is reversed by another.
CREATE TABLE sick_entries (
    employer_id     uuid        NOT NULL REFERENCES employers (id),
    id              uuid        NOT NULL,
    seq             bigint      GENERATED ALWAYS AS IDENTITY,
    content_hash    text        NOT NULL,
    worker_id       uuid        NOT NULL,
    entry_no        bigint      NOT NULL CHECK (entry_no > 0),
    kind            text        NOT NULL CHECK (kind IN ('opening', 'adjustment', 'use', 'statement', 'reversal')),
    on_date         date        NOT NULL,
    through_date    date        NOT NULL,
    change_seconds  bigint      NOT NULL,
    balance_seconds bigint      NOT NULL,
    use_id          uuid,
    statement_id    uuid,
    reason          text        NOT NULL,
    recorded_at     timestamptz NOT NULL,
    recorded_by     uuid        NOT NULL,
    PRIMARY KEY (employer_id, worker_id, entry_no),
    UNIQUE (employer_id, seq),
    UNIQUE (employer_id, id),
    FOREIGN KEY (employer_id, worker_id) REFERENCES workers (employer_id, id),
    FOREIGN KEY (employer_id, use_id) REFERENCES sick_uses (employer_id, id),
    FOREIGN KEY (employer_id, recorded_by) REFERENCES accounts (employer_id, id)
);
CREATE INDEX sick_entries_by_statement ON sick_entries (employer_id, statement_id);

-- Bonuses earned over one or several weeks, and the week whose statement pays them.
CREATE TABLE bonuses (
    employer_id    uuid        NOT NULL REFERENCES employers (id),
    id             uuid        NOT NULL,
    seq            bigint      GENERATED ALWAYS AS IDENTITY,
    content_hash   text        NOT NULL,
    worker_id      uuid,
    crew_id        uuid,
    earned_from    date        NOT NULL,
    earned_through date        NOT NULL,
    pay_week       date        NOT NULL,
    kind           text        NOT NULL CHECK (kind IN ('production', 'flat')),
    amount         bigint      NOT NULL CHECK (amount >= 0),
    what_for       text        NOT NULL,
    promised       boolean     NOT NULL,
    measured       boolean     NOT NULL,
    basis          text        NOT NULL,
    recorded_at    timestamptz NOT NULL,
    received_at    timestamptz NOT NULL,
    recorded_by    uuid        NOT NULL,
    reason         text        NOT NULL,
    superseded_by  uuid,
    PRIMARY KEY (employer_id, id),
    UNIQUE (employer_id, seq),
    FOREIGN KEY (employer_id, worker_id) REFERENCES workers (employer_id, id),
    FOREIGN KEY (employer_id, crew_id) REFERENCES crews (employer_id, id),
    CHECK (earned_through >= earned_from),
    CHECK ((worker_id IS NULL) <> (crew_id IS NULL)),
    FOREIGN KEY (employer_id, recorded_by) REFERENCES accounts (employer_id, id),
    FOREIGN KEY (employer_id, superseded_by) REFERENCES bonuses (employer_id, id) DEFERRABLE INITIALLY DEFERRED
);
CREATE INDEX bonuses_by_pay_week ON bonuses (employer_id, pay_week);

-- Contracts that guarantee hours.
CREATE TABLE contracts (
    employer_id  uuid        NOT NULL REFERENCES employers (id),
    id           uuid        NOT NULL,
    seq          bigint      GENERATED ALWAYS AS IDENTITY,
    content_hash text        NOT NULL,
    created_at   timestamptz NOT NULL,
    updated_at   timestamptz NOT NULL,
    version      bigint      NOT NULL,
    number       bigint      NOT NULL CHECK (number > 0),
    worker_id    uuid        NOT NULL,
    job_order    text        NOT NULL,
    first_day    date        NOT NULL,
    last_day     date        NOT NULL,
    workdays     text        NOT NULL,
    day_minutes  bigint      NOT NULL CHECK (day_minutes > 0),
    offered_rate bigint      NOT NULL CHECK (offered_rate > 0),
    rate_source  text        NOT NULL,
    settle_week  date        NOT NULL,
    PRIMARY KEY (employer_id, id),
    UNIQUE (employer_id, seq),
    UNIQUE (employer_id, number),
    FOREIGN KEY (employer_id, worker_id) REFERENCES workers (employer_id, id),
    CHECK (last_day >= first_day)
);
CREATE INDEX contracts_by_worker ON contracts (employer_id, worker_id, first_day);
CREATE INDEX contracts_by_settle_week ON contracts (employer_id, settle_week);

-- What was offered on a day of a contract, and days that its guarantee leaves out.
CREATE TABLE contract_days (
    employer_id     uuid        NOT NULL REFERENCES employers (id),
    id              uuid        NOT NULL,
    seq             bigint      GENERATED ALWAYS AS IDENTITY,
    content_hash    text        NOT NULL,
    contract_id     uuid        NOT NULL,
    workday         date        NOT NULL,
    kind            text        NOT NULL CHECK (kind IN ('offered', 'holiday')),
    offered_minutes bigint      NOT NULL CHECK (offered_minutes >= 0),
    note            text        NOT NULL,
    recorded_at     timestamptz NOT NULL,
    received_at     timestamptz NOT NULL,
    recorded_by     uuid        NOT NULL,
    reason          text        NOT NULL,
    superseded_by   uuid,
    PRIMARY KEY (employer_id, id),
    UNIQUE (employer_id, seq),
    FOREIGN KEY (employer_id, contract_id) REFERENCES contracts (employer_id, id),
    FOREIGN KEY (employer_id, recorded_by) REFERENCES accounts (employer_id, id),
    FOREIGN KEY (employer_id, superseded_by) REFERENCES contract_days (employer_id, id) DEFERRABLE INITIALLY DEFERRED
);
CREATE UNIQUE INDEX contract_days_once ON contract_days (employer_id, contract_id, workday) WHERE superseded_by IS NULL;

-- +goose StatementBegin
DO $$
DECLARE t text;
BEGIN
    FOREACH t IN ARRAY ARRAY['employments', 'sick_entries'] LOOP
        EXECUTE format('CREATE TRIGGER keep BEFORE UPDATE OR DELETE ON %I FOR EACH ROW EXECUTE FUNCTION refuse_change()', t);
    END LOOP;
    FOREACH t IN ARRAY ARRAY['sick_uses', 'bonuses', 'contract_days'] LOOP
        EXECUTE format('CREATE TRIGGER append_only BEFORE UPDATE ON %I FOR EACH ROW EXECUTE FUNCTION allow_superseding_once()', t);
    END LOOP;
    FOREACH t IN ARRAY ARRAY['sick_uses', 'bonuses', 'contracts', 'contract_days'] LOOP
        EXECUTE format('CREATE TRIGGER keep BEFORE DELETE ON %I FOR EACH ROW EXECUTE FUNCTION refuse_change()', t);
    END LOOP;
    FOREACH t IN ARRAY ARRAY['employments', 'sick_uses', 'sick_entries', 'bonuses', 'contracts', 'contract_days'] LOOP
        EXECUTE format('ALTER TABLE %I ENABLE ROW LEVEL SECURITY', t);
        EXECUTE format('ALTER TABLE %I FORCE ROW LEVEL SECURITY', t);
        EXECUTE format('CREATE POLICY own_employer ON %I USING (employer_id = (SELECT nullif(current_setting(''palmero.employer'', true), '''')::uuid))', t);
    END LOOP;
END $$;
-- +goose StatementEnd
