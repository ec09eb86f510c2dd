-- +goose Up
-- How crews go up on a day, the clearances that they asked for, and what the safety officer said of work done without one.

-- How a crew goes up in a block on a workday: with which equipment, and what its lead sees.
CREATE TABLE climb_setups (
    employer_id   uuid        NOT NULL REFERENCES employers (id),
    id            uuid        NOT NULL,
    seq           bigint      GENERATED ALWAYS AS IDENTITY,
    content_hash  text        NOT NULL,
    crew_id       uuid        NOT NULL,
    workday       date        NOT NULL,
    block_id      uuid        NOT NULL,
    operation_id  uuid        NOT NULL,
    way           text        NOT NULL,
    equipment     text        NOT NULL,
    setup         text        NOT NULL,
    recorded_at   timestamptz NOT NULL,
    received_at   timestamptz NOT NULL,
    recorded_by   uuid        NOT NULL,
    reason        text        NOT NULL,
    superseded_by uuid,
    PRIMARY KEY (employer_id, id),
    UNIQUE (employer_id, seq),
    FOREIGN KEY (employer_id, crew_id) REFERENCES crews (employer_id, id),
    FOREIGN KEY (employer_id, block_id) REFERENCES blocks (employer_id, id),
    FOREIGN KEY (employer_id, operation_id) REFERENCES operations (employer_id, id),
    FOREIGN KEY (employer_id, recorded_by) REFERENCES accounts (employer_id, id),
    FOREIGN KEY (employer_id, superseded_by) REFERENCES climb_setups (employer_id, id) DEFERRABLE INITIALLY DEFERRED
);
CREATE INDEX climb_setups_by_day ON climb_setups (employer_id, workday, crew_id);

-- A clearance as it was given: who asked, for which crew and day, and the answer with its reasons.
CREATE TABLE clearances (
    employer_id  uuid        NOT NULL REFERENCES employers (id),
    id           uuid        NOT NULL,
    seq          bigint      GENERATED ALWAYS AS IDENTITY,
    content_hash text        NOT NULL,
    crew_id      uuid        NOT NULL,
    workday      date        NOT NULL,
    answer       text        NOT NULL,
    asked_at     timestamptz NOT NULL,
    asked_by     uuid        NOT NULL,
    PRIMARY KEY (employer_id, id),
    UNIQUE (employer_id, seq),
    FOREIGN KEY (employer_id, crew_id) REFERENCES crews (employer_id, id),
    FOREIGN KEY (employer_id, asked_by) REFERENCES accounts (employer_id, id)
);
CREATE INDEX clearances_by_day ON clearances (employer_id, workday, crew_id);

-- Whom a clearance cleared, for which way up.
CREATE TABLE cleared_workers (
    employer_id  uuid        NOT NULL REFERENCES employers (id),
    clearance_id uuid        NOT NULL,
    worker_id    uuid        NOT NULL,
    way          text        NOT NULL,
    workday      date        NOT NULL,
    valid_until  timestamptz,
    PRIMARY KEY (employer_id, clearance_id, worker_id, way),
    FOREIGN KEY (employer_id, clearance_id) REFERENCES clearances (employer_id, id),
    FOREIGN KEY (employer_id, worker_id) REFERENCES workers (employer_id, id)
);
CREATE INDEX cleared_workers_by_day ON cleared_workers (employer_id, workday, worker_id);

-- The safety officer's word on work that was done without clearance: one for a worker's day, and it stays. It never touches pay.
CREATE TABLE clearance_exceptions (
    employer_id  uuid        NOT NULL REFERENCES employers (id),
    id           uuid        NOT NULL,
    seq          bigint      GENERATED ALWAYS AS IDENTITY,
    content_hash text        NOT NULL,
    worker_id    uuid        NOT NULL,
    workday      date        NOT NULL,
    finding      text        NOT NULL CHECK (finding IN ('was_safe', 'was_unsafe', 'did_not_climb')),
    reason       text        NOT NULL,
    settled_at   timestamptz NOT NULL,
    settled_by   uuid        NOT NULL,
    PRIMARY KEY (employer_id, id),
    UNIQUE (employer_id, seq),
    UNIQUE (employer_id, workday, worker_id),
    FOREIGN KEY (employer_id, worker_id) REFERENCES workers (employer_id, id),
    FOREIGN KEY (employer_id, settled_by) REFERENCES accounts (employer_id, id)
);

-- +goose StatementBegin
DO $$
DECLARE t text;
BEGIN
    EXECUTE 'CREATE TRIGGER append_only BEFORE UPDATE ON climb_setups FOR EACH ROW EXECUTE FUNCTION allow_superseding_once()';
    EXECUTE 'CREATE TRIGGER keep BEFORE DELETE ON climb_setups FOR EACH ROW EXECUTE FUNCTION refuse_change()';
    FOREACH t IN ARRAY ARRAY['clearances', 'cleared_workers', 'clearance_exceptions'] LOOP
        EXECUTE format('CREATE TRIGGER keep BEFORE UPDATE OR DELETE ON %I FOR EACH ROW EXECUTE FUNCTION refuse_change()', t);
    END LOOP;
    FOREACH t IN ARRAY ARRAY['climb_setups', 'clearances', 'cleared_workers', 'clearance_exceptions'] LOOP
        EXECUTE format('ALTER TABLE %I ENABLE ROW LEVEL SECURITY', t);
        EXECUTE format('ALTER TABLE %I FORCE ROW LEVEL SECURITY', t);
        EXECUTE format('CREATE POLICY own_employer ON %I USING (employer_id = (SELECT nullif(current_setting(''palmero.employer'', true), '''')::uuid))', t);
    END LOOP;
END $$;
-- +goose StatementEnd
