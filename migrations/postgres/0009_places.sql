-- +goose Up
-- Places and days: where nobody may enter, power lines, the heat and what is ready for it; incidents and what became of them.

-- Until when a block that was treated may not be entered.
CREATE TABLE entry_restrictions (
    employer_id      uuid        NOT NULL REFERENCES employers (id),
    id               uuid        NOT NULL,
    seq              bigint      GENERATED ALWAYS AS IDENTITY,
    content_hash     text        NOT NULL,
    block_id         uuid        NOT NULL,
    product          text        NOT NULL,
    restricted_from  timestamptz NOT NULL,
    restricted_until timestamptz NOT NULL,
    interval_hours   bigint      NOT NULL CHECK (interval_hours >= 0),
    source           text        NOT NULL,
    posted_by        text        NOT NULL,
    note             text        NOT NULL,
    recorded_at      timestamptz NOT NULL,
    received_at      timestamptz NOT NULL,
    recorded_by      uuid        NOT NULL,
    reason           text        NOT NULL,
    superseded_by    uuid,
    PRIMARY KEY (employer_id, id),
    UNIQUE (employer_id, seq),
    FOREIGN KEY (employer_id, block_id) REFERENCES blocks (employer_id, id),
    FOREIGN KEY (employer_id, recorded_by) REFERENCES accounts (employer_id, id),
    FOREIGN KEY (employer_id, superseded_by) REFERENCES entry_restrictions (employer_id, id) DEFERRABLE INITIALLY DEFERRED,
    CHECK (restricted_until >= restricted_from)
);
CREATE INDEX entry_restrictions_by_block ON entry_restrictions (employer_id, block_id, restricted_until);

-- Lines over or beside a block, or that somebody looked and there is none within a distance.
CREATE TABLE power_lines (
    employer_id  uuid        NOT NULL REFERENCES employers (id),
    id           uuid        NOT NULL,
    seq          bigint      GENERATED ALWAYS AS IDENTITY,
    content_hash text        NOT NULL,
    created_at   timestamptz NOT NULL,
    updated_at   timestamptz NOT NULL,
    version      bigint      NOT NULL,
    block_id     uuid        NOT NULL,
    kind         text        NOT NULL CHECK (kind IN ('overhead', 'service_drop', 'transmission', 'none')),
    volts        bigint,
    distance_ft  bigint      NOT NULL,
    height_ft    bigint,
    removed_on   date,
    note         text        NOT NULL,
    PRIMARY KEY (employer_id, id),
    UNIQUE (employer_id, seq),
    FOREIGN KEY (employer_id, block_id) REFERENCES blocks (employer_id, id)
);
CREATE INDEX power_lines_by_block ON power_lines (employer_id, block_id);

-- Readings that came in together, of one garden.
CREATE TABLE heat_imports (
    employer_id  uuid        NOT NULL REFERENCES employers (id),
    id           uuid        NOT NULL,
    seq          bigint      GENERATED ALWAYS AS IDENTITY,
    content_hash text        NOT NULL,
    garden_id    uuid        NOT NULL,
    readings     bigint      NOT NULL,
    recorded_at  timestamptz NOT NULL,
    received_at  timestamptz NOT NULL,
    recorded_by  uuid        NOT NULL,
    PRIMARY KEY (employer_id, id),
    UNIQUE (employer_id, seq),
    FOREIGN KEY (employer_id, garden_id) REFERENCES gardens (employer_id, id),
    FOREIGN KEY (employer_id, recorded_by) REFERENCES accounts (employer_id, id)
);

-- The air as somebody or something measured it in a garden.
CREATE TABLE heat_readings (
    employer_id       uuid        NOT NULL REFERENCES employers (id),
    id                uuid        NOT NULL,
    seq               bigint      GENERATED ALWAYS AS IDENTITY,
    content_hash      text        NOT NULL,
    garden_id         uuid        NOT NULL,
    read_at           timestamptz NOT NULL,
    temperature_f     bigint      NOT NULL,
    relative_humidity bigint,
    source            text        NOT NULL,
    import_id         uuid,
    recorded_at       timestamptz NOT NULL,
    received_at       timestamptz NOT NULL,
    recorded_by       uuid        NOT NULL,
    reason            text        NOT NULL,
    superseded_by     uuid,
    PRIMARY KEY (employer_id, id),
    UNIQUE (employer_id, seq),
    FOREIGN KEY (employer_id, garden_id) REFERENCES gardens (employer_id, id),
    FOREIGN KEY (employer_id, import_id) REFERENCES heat_imports (employer_id, id),
    FOREIGN KEY (employer_id, recorded_by) REFERENCES accounts (employer_id, id),
    FOREIGN KEY (employer_id, superseded_by) REFERENCES heat_readings (employer_id, id) DEFERRABLE INITIALLY DEFERRED
);
CREATE INDEX heat_readings_by_garden ON heat_readings (employer_id, garden_id, read_at);

-- What is ready for a garden's day in the heat.
CREATE TABLE heat_plans (
    employer_id     uuid        NOT NULL REFERENCES employers (id),
    id              uuid        NOT NULL,
    seq             bigint      GENERATED ALWAYS AS IDENTITY,
    content_hash    text        NOT NULL,
    garden_id       uuid        NOT NULL,
    workday         date        NOT NULL,
    forecast_high_f bigint,
    water_quarts    bigint,
    shade_places    bigint,
    water_ready     boolean,
    shade_up        boolean,
    high_heat_plan  boolean,
    observers       text        NOT NULL,
    observation     text        NOT NULL,
    note            text        NOT NULL,
    recorded_at     timestamptz NOT NULL,
    received_at     timestamptz NOT NULL,
    recorded_by     uuid        NOT NULL,
    reason          text        NOT NULL,
    superseded_by   uuid,
    PRIMARY KEY (employer_id, id),
    UNIQUE (employer_id, seq),
    FOREIGN KEY (employer_id, garden_id) REFERENCES gardens (employer_id, id),
    FOREIGN KEY (employer_id, recorded_by) REFERENCES accounts (employer_id, id),
    FOREIGN KEY (employer_id, superseded_by) REFERENCES heat_plans (employer_id, id) DEFERRABLE INITIALLY DEFERRED
);
CREATE INDEX heat_plans_by_garden ON heat_plans (employer_id, garden_id, workday);

-- What happened to whom. A correction keeps the case of what it corrects; what became of it is in the events of the case.
CREATE TABLE incidents (
    employer_id    uuid        NOT NULL REFERENCES employers (id),
    id             uuid        NOT NULL,
    seq            bigint      GENERATED ALWAYS AS IDENTITY,
    content_hash   text        NOT NULL,
    case_id        uuid        NOT NULL,
    number         bigint      NOT NULL,
    kind           text        NOT NULL,
    happened_at    timestamptz NOT NULL,
    happened_on    date        NOT NULL,
    worker_id      uuid,
    garden_id      uuid        NOT NULL,
    block_id       uuid,
    operation_id   uuid,
    reporter_id    uuid,
    place          text        NOT NULL,
    job_title      text        NOT NULL,
    description    text        NOT NULL,
    body_part      text        NOT NULL,
    cause          text        NOT NULL,
    condition_type text        NOT NULL,
    height_ft      bigint,
    arrested       boolean,
    privacy        text        NOT NULL,
    recorded_at    timestamptz NOT NULL,
    received_at    timestamptz NOT NULL,
    recorded_by    uuid        NOT NULL,
    reason         text        NOT NULL,
    superseded_by  uuid,
    PRIMARY KEY (employer_id, id),
    UNIQUE (employer_id, seq),
    FOREIGN KEY (employer_id, case_id) REFERENCES incidents (employer_id, id) DEFERRABLE INITIALLY DEFERRED,
    FOREIGN KEY (employer_id, worker_id) REFERENCES workers (employer_id, id),
    FOREIGN KEY (employer_id, garden_id) REFERENCES gardens (employer_id, id),
    FOREIGN KEY (employer_id, block_id) REFERENCES blocks (employer_id, id),
    FOREIGN KEY (employer_id, operation_id) REFERENCES operations (employer_id, id),
    FOREIGN KEY (employer_id, reporter_id) REFERENCES workers (employer_id, id),
    FOREIGN KEY (employer_id, recorded_by) REFERENCES accounts (employer_id, id),
    FOREIGN KEY (employer_id, superseded_by) REFERENCES incidents (employer_id, id) DEFERRABLE INITIALLY DEFERRED
);
CREATE INDEX incidents_by_day ON incidents (employer_id, happened_on);
CREATE INDEX incidents_by_case ON incidents (employer_id, case_id);
CREATE INDEX incidents_by_worker ON incidents (employer_id, worker_id, happened_on);
CREATE INDEX incidents_by_reporter ON incidents (employer_id, recorded_by, seq);
CREATE INDEX incidents_by_number ON incidents (employer_id, number);

-- The equipment, palms and gear that had a part in an incident.
CREATE TABLE incident_subjects (
    employer_id   uuid        NOT NULL REFERENCES employers (id),
    incident_id   uuid        NOT NULL,
    no            bigint      NOT NULL,
    equipment_id  uuid,
    palm_id       uuid,
    gear_issue_id uuid,
    PRIMARY KEY (employer_id, incident_id, no),
    FOREIGN KEY (employer_id, incident_id) REFERENCES incidents (employer_id, id),
    FOREIGN KEY (employer_id, equipment_id) REFERENCES equipment (employer_id, id),
    FOREIGN KEY (employer_id, palm_id) REFERENCES palms (employer_id, id),
    FOREIGN KEY (employer_id, gear_issue_id) REFERENCES gear_issues (employer_id, id),
    CHECK (num_nonnulls(equipment_id, palm_id, gear_issue_id) = 1)
);
CREATE INDEX incident_subjects_by_equipment ON incident_subjects (employer_id, equipment_id);
CREATE INDEX incident_subjects_by_palm ON incident_subjects (employer_id, palm_id);
CREATE INDEX incident_subjects_by_gear ON incident_subjects (employer_id, gear_issue_id);

-- What became of a case: facts that were learnt, work that could or could not be done, reports made. The last word on a fact counts.
CREATE TABLE incident_events (
    employer_id   uuid        NOT NULL REFERENCES employers (id),
    id            uuid        NOT NULL,
    seq           bigint      GENERATED ALWAYS AS IDENTITY,
    content_hash  text        NOT NULL,
    case_id       uuid        NOT NULL,
    kind          text        NOT NULL CHECK (kind IN ('facts', 'work', 'agency_report', 'decision', 'note')),
    happened_at   timestamptz NOT NULL,
    treatment     text        NOT NULL,
    unconscious   boolean,
    death         boolean,
    inpatient     boolean,
    amputation    boolean,
    eye_loss      boolean,
    disfigurement boolean,
    work_status   text        NOT NULL,
    from_date     date,
    reported_to   text        NOT NULL,
    recordable    boolean,
    note          text        NOT NULL,
    recorded_at   timestamptz NOT NULL,
    received_at   timestamptz NOT NULL,
    recorded_by   uuid        NOT NULL,
    PRIMARY KEY (employer_id, id),
    UNIQUE (employer_id, seq),
    FOREIGN KEY (employer_id, case_id) REFERENCES incidents (employer_id, id),
    FOREIGN KEY (employer_id, recorded_by) REFERENCES accounts (employer_id, id)
);
CREATE INDEX incident_events_by_case ON incident_events (employer_id, case_id, seq);

-- That a year's summary was certified, and when it was posted.
CREATE TABLE injury_summaries (
    employer_id       uuid        NOT NULL REFERENCES employers (id),
    id                uuid        NOT NULL,
    seq               bigint      GENERATED ALWAYS AS IDENTITY,
    content_hash      text        NOT NULL,
    year              bigint      NOT NULL,
    garden_id         uuid,
    average_employees bigint      NOT NULL,
    certified_by      text        NOT NULL,
    certified_title   text        NOT NULL,
    certified_on      date        NOT NULL,
    posted_on         date,
    recorded_at       timestamptz NOT NULL,
    received_at       timestamptz NOT NULL,
    recorded_by       uuid        NOT NULL,
    reason            text        NOT NULL,
    superseded_by     uuid,
    PRIMARY KEY (employer_id, id),
    UNIQUE (employer_id, seq),
    FOREIGN KEY (employer_id, garden_id) REFERENCES gardens (employer_id, id),
    FOREIGN KEY (employer_id, recorded_by) REFERENCES accounts (employer_id, id),
    FOREIGN KEY (employer_id, superseded_by) REFERENCES injury_summaries (employer_id, id) DEFERRABLE INITIALLY DEFERRED
);
CREATE INDEX injury_summaries_by_year ON injury_summaries (employer_id, year);

-- +goose StatementBegin
DO $$
DECLARE t text;
BEGIN
    FOREACH t IN ARRAY ARRAY['entry_restrictions', 'heat_readings', 'heat_plans', 'incidents', 'injury_summaries'] LOOP
        EXECUTE format('CREATE TRIGGER append_only BEFORE UPDATE ON %I FOR EACH ROW EXECUTE FUNCTION allow_superseding_once()', t);
        EXECUTE format('CREATE TRIGGER keep BEFORE DELETE ON %I FOR EACH ROW EXECUTE FUNCTION refuse_change()', t);
    END LOOP;
    FOREACH t IN ARRAY ARRAY['heat_imports', 'incident_subjects', 'incident_events'] LOOP
        EXECUTE format('CREATE TRIGGER keep BEFORE UPDATE OR DELETE ON %I FOR EACH ROW EXECUTE FUNCTION refuse_change()', t);
    END LOOP;
    CREATE TRIGGER keep BEFORE DELETE ON power_lines FOR EACH ROW EXECUTE FUNCTION refuse_change();
    FOREACH t IN ARRAY ARRAY['entry_restrictions', 'power_lines', 'heat_imports', 'heat_readings', 'heat_plans', 'incidents', 'incident_subjects', 'incident_events', 'injury_summaries'] LOOP
        EXECUTE format('ALTER TABLE %I ENABLE ROW LEVEL SECURITY', t);
        EXECUTE format('ALTER TABLE %I FORCE ROW LEVEL SECURITY', t);
        EXECUTE format('CREATE POLICY own_employer ON %I USING (employer_id = (SELECT nullif(current_setting(''palmero.employer'', true), '''')::uuid))', t);
    END LOOP;
END $$;
-- +goose StatementEnd
