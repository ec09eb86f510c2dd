-- +goose Up
-- Places and days: where nobody may enter, power lines, the heat and what is ready for it; incidents and what became of them.

-- Until when a block that was treated may not be entered.
CREATE TABLE entry_restrictions (
    seq              INTEGER PRIMARY KEY AUTOINCREMENT,
    employer_id      TEXT     NOT NULL REFERENCES employers (id),
    id               TEXT     NOT NULL,
    content_hash     TEXT     NOT NULL,
    block_id         TEXT     NOT NULL,
    product          TEXT     NOT NULL,
    restricted_from  DATETIME NOT NULL,
    restricted_until DATETIME NOT NULL,
    interval_hours   INTEGER  NOT NULL CHECK (interval_hours >= 0),
    source           TEXT     NOT NULL,
    posted_by        TEXT     NOT NULL,
    note             TEXT     NOT NULL,
    recorded_at      DATETIME NOT NULL,
    received_at      DATETIME NOT NULL,
    recorded_by      TEXT     NOT NULL,
    reason           TEXT     NOT NULL,
    superseded_by    TEXT,
    UNIQUE (employer_id, id),
    FOREIGN KEY (employer_id, block_id) REFERENCES blocks (employer_id, id),
    FOREIGN KEY (employer_id, recorded_by) REFERENCES accounts (employer_id, id),
    FOREIGN KEY (employer_id, superseded_by) REFERENCES entry_restrictions (employer_id, id) DEFERRABLE INITIALLY DEFERRED,
    CHECK (restricted_until >= restricted_from)
);
CREATE INDEX entry_restrictions_by_block ON entry_restrictions (employer_id, block_id, restricted_until);

-- Lines over or beside a block, or that somebody looked and there is none within a distance.
CREATE TABLE power_lines (
    seq          INTEGER PRIMARY KEY AUTOINCREMENT,
    employer_id  TEXT     NOT NULL REFERENCES employers (id),
    id           TEXT     NOT NULL,
    content_hash TEXT     NOT NULL,
    created_at   DATETIME NOT NULL,
    updated_at   DATETIME NOT NULL,
    version      INTEGER  NOT NULL,
    block_id     TEXT     NOT NULL,
    kind         TEXT     NOT NULL CHECK (kind IN ('overhead', 'service_drop', 'transmission', 'none')),
    volts        INTEGER,
    distance_ft  INTEGER  NOT NULL,
    height_ft    INTEGER,
    removed_on   TEXT,
    note         TEXT     NOT NULL,
    UNIQUE (employer_id, id),
    FOREIGN KEY (employer_id, block_id) REFERENCES blocks (employer_id, id)
);
CREATE INDEX power_lines_by_block ON power_lines (employer_id, block_id);

-- Readings that came in together, of one garden.
CREATE TABLE heat_imports (
    seq          INTEGER PRIMARY KEY AUTOINCREMENT,
    employer_id  TEXT     NOT NULL REFERENCES employers (id),
    id           TEXT     NOT NULL,
    content_hash TEXT     NOT NULL,
    garden_id    TEXT     NOT NULL,
    readings     INTEGER  NOT NULL,
    recorded_at  DATETIME NOT NULL,
    received_at  DATETIME NOT NULL,
    recorded_by  TEXT     NOT NULL,
    UNIQUE (employer_id, id),
    FOREIGN KEY (employer_id, garden_id) REFERENCES gardens (employer_id, id),
    FOREIGN KEY (employer_id, recorded_by) REFERENCES accounts (employer_id, id)
);

-- The air as somebody or something measured it in a garden.
CREATE TABLE heat_readings (
    seq               INTEGER PRIMARY KEY AUTOINCREMENT,
    employer_id       TEXT     NOT NULL REFERENCES employers (id),
    id                TEXT     NOT NULL,
    content_hash      TEXT     NOT NULL,
    garden_id         TEXT     NOT NULL,
    read_at           DATETIME NOT NULL,
    temperature_f     INTEGER  NOT NULL,
    relative_humidity INTEGER,
    source            TEXT     NOT NULL,
    import_id         TEXT,
    recorded_at       DATETIME NOT NULL,
    received_at       DATETIME NOT NULL,
    recorded_by       TEXT     NOT NULL,
    reason            TEXT     NOT NULL,
    superseded_by     TEXT,
    UNIQUE (employer_id, id),
    FOREIGN KEY (employer_id, garden_id) REFERENCES gardens (employer_id, id),
    FOREIGN KEY (employer_id, import_id) REFERENCES heat_imports (employer_id, id),
    FOREIGN KEY (employer_id, recorded_by) REFERENCES accounts (employer_id, id),
    FOREIGN KEY (employer_id, superseded_by) REFERENCES heat_readings (employer_id, id) DEFERRABLE INITIALLY DEFERRED
);
CREATE INDEX heat_readings_by_garden ON heat_readings (employer_id, garden_id, read_at);

-- What is ready for a garden's day in the heat.
CREATE TABLE heat_plans (
    seq             INTEGER PRIMARY KEY AUTOINCREMENT,
    employer_id     TEXT     NOT NULL REFERENCES employers (id),
    id              TEXT     NOT NULL,
    content_hash    TEXT     NOT NULL,
    garden_id       TEXT     NOT NULL,
    workday         TEXT     NOT NULL,
    forecast_high_f INTEGER,
    water_quarts    INTEGER,
    shade_places    INTEGER,
    water_ready     BOOLEAN,
    shade_up        BOOLEAN,
    high_heat_plan  BOOLEAN,
    observers       TEXT     NOT NULL,
    observation     TEXT     NOT NULL,
    note            TEXT     NOT NULL,
    recorded_at     DATETIME NOT NULL,
    received_at     DATETIME NOT NULL,
    recorded_by     TEXT     NOT NULL,
    reason          TEXT     NOT NULL,
    superseded_by   TEXT,
    UNIQUE (employer_id, id),
    FOREIGN KEY (employer_id, garden_id) REFERENCES gardens (employer_id, id),
    FOREIGN KEY (employer_id, recorded_by) REFERENCES accounts (employer_id, id),
    FOREIGN KEY (employer_id, superseded_by) REFERENCES heat_plans (employer_id, id) DEFERRABLE INITIALLY DEFERRED
);
CREATE INDEX heat_plans_by_garden ON heat_plans (employer_id, garden_id, workday);

-- What happened to whom. A correction keeps the case of what it corrects; what became of it is in the events of the case.
CREATE TABLE incidents (
    seq            INTEGER PRIMARY KEY AUTOINCREMENT,
    employer_id    TEXT     NOT NULL REFERENCES employers (id),
    id             TEXT     NOT NULL,
    content_hash   TEXT     NOT NULL,
    case_id        TEXT     NOT NULL,
    number         INTEGER  NOT NULL,
    kind           TEXT     NOT NULL,
    happened_at    DATETIME NOT NULL,
    happened_on    TEXT     NOT NULL,
    worker_id      TEXT,
    garden_id      TEXT     NOT NULL,
    block_id       TEXT,
    operation_id   TEXT,
    reporter_id    TEXT,
    place          TEXT     NOT NULL,
    job_title      TEXT     NOT NULL,
    description    TEXT     NOT NULL,
    body_part      TEXT     NOT NULL,
    cause          TEXT     NOT NULL,
    condition_type TEXT     NOT NULL,
    height_ft      INTEGER,
    arrested       BOOLEAN,
    privacy        TEXT     NOT NULL,
    recorded_at    DATETIME NOT NULL,
    received_at    DATETIME NOT NULL,
    recorded_by    TEXT     NOT NULL,
    reason         TEXT     NOT NULL,
    superseded_by  TEXT,
    UNIQUE (employer_id, id),
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
    employer_id   TEXT     NOT NULL REFERENCES employers (id),
    incident_id   TEXT     NOT NULL,
    no            INTEGER  NOT NULL,
    equipment_id  TEXT,
    palm_id       TEXT,
    gear_issue_id TEXT,
    PRIMARY KEY (employer_id, incident_id, no),
    FOREIGN KEY (employer_id, incident_id) REFERENCES incidents (employer_id, id),
    FOREIGN KEY (employer_id, equipment_id) REFERENCES equipment (employer_id, id),
    FOREIGN KEY (employer_id, palm_id) REFERENCES palms (employer_id, id),
    FOREIGN KEY (employer_id, gear_issue_id) REFERENCES gear_issues (employer_id, id),
    CHECK ((equipment_id IS NOT NULL) + (palm_id IS NOT NULL) + (gear_issue_id IS NOT NULL) = 1)
);
CREATE INDEX incident_subjects_by_equipment ON incident_subjects (employer_id, equipment_id);
CREATE INDEX incident_subjects_by_palm ON incident_subjects (employer_id, palm_id);
CREATE INDEX incident_subjects_by_gear ON incident_subjects (employer_id, gear_issue_id);

-- What became of a case: facts that were learnt, work that could or could not be done, reports made. The last word on a fact counts.
CREATE TABLE incident_events (
    seq           INTEGER PRIMARY KEY AUTOINCREMENT,
    employer_id   TEXT     NOT NULL REFERENCES employers (id),
    id            TEXT     NOT NULL,
    content_hash  TEXT     NOT NULL,
    case_id       TEXT     NOT NULL,
    kind          TEXT     NOT NULL CHECK (kind IN ('facts', 'work', 'agency_report', 'decision', 'note')),
    happened_at   DATETIME NOT NULL,
    treatment     TEXT     NOT NULL,
    unconscious   BOOLEAN,
    death         BOOLEAN,
    inpatient     BOOLEAN,
    amputation    BOOLEAN,
    eye_loss      BOOLEAN,
    disfigurement BOOLEAN,
    work_status   TEXT     NOT NULL,
    from_date     TEXT,
    reported_to   TEXT     NOT NULL,
    recordable    BOOLEAN,
    note          TEXT     NOT NULL,
    recorded_at   DATETIME NOT NULL,
    received_at   DATETIME NOT NULL,
    recorded_by   TEXT     NOT NULL,
    UNIQUE (employer_id, id),
    FOREIGN KEY (employer_id, case_id) REFERENCES incidents (employer_id, id),
    FOREIGN KEY (employer_id, recorded_by) REFERENCES accounts (employer_id, id)
);
CREATE INDEX incident_events_by_case ON incident_events (employer_id, case_id, seq);

-- That a year's summary was certified, and when it was posted.
CREATE TABLE injury_summaries (
    seq               INTEGER PRIMARY KEY AUTOINCREMENT,
    employer_id       TEXT     NOT NULL REFERENCES employers (id),
    id                TEXT     NOT NULL,
    content_hash      TEXT     NOT NULL,
    year              INTEGER  NOT NULL,
    garden_id         TEXT,
    average_employees INTEGER  NOT NULL,
    certified_by      TEXT     NOT NULL,
    certified_title   TEXT     NOT NULL,
    certified_on      TEXT     NOT NULL,
    posted_on         TEXT,
    recorded_at       DATETIME NOT NULL,
    received_at       DATETIME NOT NULL,
    recorded_by       TEXT     NOT NULL,
    reason            TEXT     NOT NULL,
    superseded_by     TEXT,
    UNIQUE (employer_id, id),
    FOREIGN KEY (employer_id, garden_id) REFERENCES gardens (employer_id, id),
    FOREIGN KEY (employer_id, recorded_by) REFERENCES accounts (employer_id, id),
    FOREIGN KEY (employer_id, superseded_by) REFERENCES injury_summaries (employer_id, id) DEFERRABLE INITIALLY DEFERRED
);
CREATE INDEX injury_summaries_by_year ON injury_summaries (employer_id, year);

-- +goose StatementBegin
CREATE TRIGGER entry_restrictions_append_only BEFORE UPDATE OF seq, employer_id, id, content_hash, block_id, product, restricted_from, restricted_until, interval_hours, source, posted_by, note, recorded_at, received_at, recorded_by, reason ON entry_restrictions
BEGIN SELECT RAISE(ABORT, 'append-only: a record of entry_restrictions may only be superseded, once'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER entry_restrictions_superseded_once BEFORE UPDATE OF superseded_by ON entry_restrictions
WHEN OLD.superseded_by IS NOT NULL OR NEW.superseded_by IS NULL
BEGIN SELECT RAISE(ABORT, 'append-only: a record of entry_restrictions may only be superseded, once'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER entry_restrictions_keep BEFORE DELETE ON entry_restrictions
BEGIN SELECT RAISE(ABORT, 'append-only: entry_restrictions may not be changed or deleted'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER power_lines_keep BEFORE DELETE ON power_lines
BEGIN SELECT RAISE(ABORT, 'append-only: power_lines may not be changed or deleted'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER heat_imports_no_update BEFORE UPDATE ON heat_imports
BEGIN SELECT RAISE(ABORT, 'append-only: heat_imports may not be changed or deleted'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER heat_imports_keep BEFORE DELETE ON heat_imports
BEGIN SELECT RAISE(ABORT, 'append-only: heat_imports may not be changed or deleted'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER heat_readings_append_only BEFORE UPDATE OF seq, employer_id, id, content_hash, garden_id, read_at, temperature_f, relative_humidity, source, import_id, recorded_at, received_at, recorded_by, reason ON heat_readings
BEGIN SELECT RAISE(ABORT, 'append-only: a record of heat_readings may only be superseded, once'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER heat_readings_superseded_once BEFORE UPDATE OF superseded_by ON heat_readings
WHEN OLD.superseded_by IS NOT NULL OR NEW.superseded_by IS NULL
BEGIN SELECT RAISE(ABORT, 'append-only: a record of heat_readings may only be superseded, once'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER heat_readings_keep BEFORE DELETE ON heat_readings
BEGIN SELECT RAISE(ABORT, 'append-only: heat_readings may not be changed or deleted'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER heat_plans_append_only BEFORE UPDATE OF seq, employer_id, id, content_hash, garden_id, workday, forecast_high_f, water_quarts, shade_places, water_ready, shade_up, high_heat_plan, observers, observation, note, recorded_at, received_at, recorded_by, reason ON heat_plans
BEGIN SELECT RAISE(ABORT, 'append-only: a record of heat_plans may only be superseded, once'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER heat_plans_superseded_once BEFORE UPDATE OF superseded_by ON heat_plans
WHEN OLD.superseded_by IS NOT NULL OR NEW.superseded_by IS NULL
BEGIN SELECT RAISE(ABORT, 'append-only: a record of heat_plans may only be superseded, once'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER heat_plans_keep BEFORE DELETE ON heat_plans
BEGIN SELECT RAISE(ABORT, 'append-only: heat_plans may not be changed or deleted'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER incidents_append_only BEFORE UPDATE OF seq, employer_id, id, content_hash, case_id, number, kind, happened_at, happened_on, worker_id, garden_id, block_id, operation_id, reporter_id, place, job_title, description, body_part, cause, condition_type, height_ft, arrested, privacy, recorded_at, received_at, recorded_by, reason ON incidents
BEGIN SELECT RAISE(ABORT, 'append-only: a record of incidents may only be superseded, once'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER incidents_superseded_once BEFORE UPDATE OF superseded_by ON incidents
WHEN OLD.superseded_by IS NOT NULL OR NEW.superseded_by IS NULL
BEGIN SELECT RAISE(ABORT, 'append-only: a record of incidents may only be superseded, once'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER incidents_keep BEFORE DELETE ON incidents
BEGIN SELECT RAISE(ABORT, 'append-only: incidents may not be changed or deleted'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER incident_subjects_no_update BEFORE UPDATE ON incident_subjects
BEGIN SELECT RAISE(ABORT, 'append-only: incident_subjects may not be changed or deleted'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER incident_subjects_keep BEFORE DELETE ON incident_subjects
BEGIN SELECT RAISE(ABORT, 'append-only: incident_subjects may not be changed or deleted'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER incident_events_no_update BEFORE UPDATE ON incident_events
BEGIN SELECT RAISE(ABORT, 'append-only: incident_events may not be changed or deleted'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER incident_events_keep BEFORE DELETE ON incident_events
BEGIN SELECT RAISE(ABORT, 'append-only: incident_events may not be changed or deleted'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER injury_summaries_append_only BEFORE UPDATE OF seq, employer_id, id, content_hash, year, garden_id, average_employees, certified_by, certified_title, certified_on, posted_on, recorded_at, received_at, recorded_by, reason ON injury_summaries
BEGIN SELECT RAISE(ABORT, 'append-only: a record of injury_summaries may only be superseded, once'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER injury_summaries_superseded_once BEFORE UPDATE OF superseded_by ON injury_summaries
WHEN OLD.superseded_by IS NOT NULL OR NEW.superseded_by IS NULL
BEGIN SELECT RAISE(ABORT, 'append-only: a record of injury_summaries may only be superseded, once'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER injury_summaries_keep BEFORE DELETE ON injury_summaries
BEGIN SELECT RAISE(ABORT, 'append-only: injury_summaries may not be changed or deleted'); END;
-- +goose StatementEnd
