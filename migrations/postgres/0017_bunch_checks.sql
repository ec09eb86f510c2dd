-- +goose Up
-- Bunch checks: what is asked of a bunch at an operation, from which day, and samples of bunches that were looked at against it. They coach; pay knows nothing of them.

-- What is asked of a bunch at an operation, of one variety or of every one that has no standard of its own, from a day on.
CREATE TABLE work_standards (
    employer_id   uuid        NOT NULL REFERENCES employers (id),
    id            uuid        NOT NULL,
    seq           bigint      GENERATED ALWAYS AS IDENTITY,
    content_hash  text        NOT NULL,
    operation_id  uuid        NOT NULL,
    variety       text        NOT NULL,
    effective_on  date        NOT NULL,
    withdrawn     boolean     NOT NULL,
    points        text        NOT NULL,
    recorded_at   timestamptz NOT NULL,
    received_at   timestamptz NOT NULL,
    recorded_by   uuid        NOT NULL,
    reason        text        NOT NULL,
    superseded_by uuid,
    PRIMARY KEY (employer_id, id),
    UNIQUE (employer_id, seq),
    FOREIGN KEY (employer_id, operation_id) REFERENCES operations (employer_id, id),
    FOREIGN KEY (employer_id, recorded_by) REFERENCES accounts (employer_id, id),
    FOREIGN KEY (employer_id, superseded_by) REFERENCES work_standards (employer_id, id) DEFERRABLE INITIALLY DEFERRED
);
CREATE INDEX work_standards_by_operation ON work_standards (employer_id, operation_id, variety, effective_on);

-- A sample of bunches that somebody looked at. Without a worker it is of the crew, and names nobody.
CREATE TABLE bunch_checks (
    employer_id   uuid        NOT NULL REFERENCES employers (id),
    id            uuid        NOT NULL,
    seq           bigint      GENERATED ALWAYS AS IDENTITY,
    content_hash  text        NOT NULL,
    standard_id   uuid        NOT NULL,
    operation_id  uuid        NOT NULL,
    crew_id       uuid        NOT NULL,
    worker_id     uuid,
    workday       date        NOT NULL,
    block_id      uuid        NOT NULL,
    palm_id       uuid,
    bunches       text        NOT NULL,
    looked_at     bigint      NOT NULL CHECK (looked_at > 0),
    as_asked      bigint      NOT NULL CHECK (as_asked >= 0 AND as_asked <= looked_at),
    remark        text        NOT NULL,
    recorded_at   timestamptz NOT NULL,
    received_at   timestamptz NOT NULL,
    recorded_by   uuid        NOT NULL,
    reason        text        NOT NULL,
    superseded_by uuid,
    PRIMARY KEY (employer_id, id),
    UNIQUE (employer_id, seq),
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
    employer_id uuid   NOT NULL REFERENCES employers (id),
    check_id    uuid   NOT NULL,
    no          bigint NOT NULL,
    point       text   NOT NULL,
    looked_at   bigint NOT NULL,
    as_asked    bigint NOT NULL,
    under       bigint NOT NULL,
    over        bigint NOT NULL,
    PRIMARY KEY (employer_id, check_id, no),
    FOREIGN KEY (employer_id, check_id) REFERENCES bunch_checks (employer_id, id)
);

-- +goose StatementBegin
DO $$
DECLARE t text;
BEGIN
    FOREACH t IN ARRAY ARRAY['work_standards', 'bunch_checks'] LOOP
        EXECUTE format('CREATE TRIGGER append_only BEFORE UPDATE ON %I FOR EACH ROW EXECUTE FUNCTION allow_superseding_once()', t);
        EXECUTE format('CREATE TRIGGER keep BEFORE DELETE ON %I FOR EACH ROW EXECUTE FUNCTION refuse_change()', t);
    END LOOP;
    CREATE TRIGGER keep BEFORE UPDATE OR DELETE ON bunch_check_points FOR EACH ROW EXECUTE FUNCTION refuse_change();
    FOREACH t IN ARRAY ARRAY['work_standards', 'bunch_checks', 'bunch_check_points'] LOOP
        EXECUTE format('ALTER TABLE %I ENABLE ROW LEVEL SECURITY', t);
        EXECUTE format('ALTER TABLE %I FORCE ROW LEVEL SECURITY', t);
        EXECUTE format('CREATE POLICY own_employer ON %I USING (employer_id = (SELECT nullif(current_setting(''palmero.employer'', true), '''')::uuid))', t);
    END LOOP;
END $$;
-- +goose StatementEnd
