-- +goose Up
-- A crew's day while its lead is still writing it, and samples of bunches held against what good work is.

-- The day of a crew as its lead keeps it on a page. It is no evidence: what is sent becomes records, and leaves the draft.
CREATE TABLE sheet_drafts (
    employer_id  uuid        NOT NULL REFERENCES employers (id),
    id           uuid        NOT NULL,
    seq          bigint      GENERATED ALWAYS AS IDENTITY,
    content_hash text        NOT NULL,
    crew_id      uuid        NOT NULL,
    workday      date        NOT NULL,
    draft        text        NOT NULL,
    waiting      bigint      NOT NULL CHECK (waiting >= 0),
    version      bigint      NOT NULL,
    created_at   timestamptz NOT NULL,
    updated_at   timestamptz NOT NULL,
    PRIMARY KEY (employer_id, id),
    UNIQUE (employer_id, seq),
    FOREIGN KEY (employer_id, crew_id) REFERENCES crews (employer_id, id)
);
CREATE INDEX sheet_drafts_waiting ON sheet_drafts (employer_id, workday, crew_id) WHERE waiting > 0;

-- What is right at an operation, for one variety or ('') for all.
CREATE TABLE work_standards (
    employer_id  uuid        NOT NULL REFERENCES employers (id),
    id           uuid        NOT NULL,
    seq          bigint      GENERATED ALWAYS AS IDENTITY,
    content_hash text        NOT NULL,
    created_at   timestamptz NOT NULL,
    updated_at   timestamptz NOT NULL,
    version      bigint      NOT NULL,
    operation_id uuid        NOT NULL,
    variety      text        NOT NULL,
    points       text        NOT NULL,
    source       text        NOT NULL,
    PRIMARY KEY (employer_id, id),
    UNIQUE (employer_id, seq),
    UNIQUE (employer_id, operation_id, variety),
    FOREIGN KEY (employer_id, operation_id) REFERENCES operations (employer_id, id)
);

-- A sample of a worker's bunches held against a standard as it stood. It coaches, and pay knows nothing of it.
CREATE TABLE bunch_checks (
    employer_id   uuid        NOT NULL REFERENCES employers (id),
    id            uuid        NOT NULL,
    seq           bigint      GENERATED ALWAYS AS IDENTITY,
    content_hash  text        NOT NULL,
    crew_id       uuid        NOT NULL,
    worker_id     uuid        NOT NULL,
    workday       date        NOT NULL,
    block_id      uuid        NOT NULL,
    operation_id  uuid        NOT NULL,
    standard_id   uuid        NOT NULL,
    points        text        NOT NULL,
    bunches       text        NOT NULL,
    looked_at     bigint      NOT NULL,
    within        bigint      NOT NULL,
    note          text        NOT NULL,
    recorded_at   timestamptz NOT NULL,
    received_at   timestamptz NOT NULL,
    recorded_by   uuid        NOT NULL,
    reason        text        NOT NULL,
    superseded_by uuid,
    PRIMARY KEY (employer_id, id),
    UNIQUE (employer_id, seq),
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
DO $$
DECLARE t text;
BEGIN
    EXECUTE 'CREATE TRIGGER append_only BEFORE UPDATE ON bunch_checks FOR EACH ROW EXECUTE FUNCTION allow_superseding_once()';
    FOREACH t IN ARRAY ARRAY['sheet_drafts', 'work_standards', 'bunch_checks'] LOOP
        EXECUTE format('CREATE TRIGGER keep BEFORE DELETE ON %I FOR EACH ROW EXECUTE FUNCTION refuse_change()', t);
        EXECUTE format('ALTER TABLE %I ENABLE ROW LEVEL SECURITY', t);
        EXECUTE format('ALTER TABLE %I FORCE ROW LEVEL SECURITY', t);
        EXECUTE format('CREATE POLICY own_employer ON %I USING (employer_id = (SELECT nullif(current_setting(''palmero.employer'', true), '''')::uuid))', t);
    END LOOP;
END $$;
-- +goose StatementEnd
