-- +goose Up
-- Checklists filled before a climb with their review, stops, rules of the house set aside for a day, and training.

-- A list gone through before the climb by one crew on one workday for one way up. What was asked is the text of that digest in book_texts.
CREATE TABLE filled_checklists (
    seq           INTEGER PRIMARY KEY AUTOINCREMENT,
    employer_id   TEXT        NOT NULL REFERENCES employers (id),
    id            TEXT        NOT NULL,
    content_hash  TEXT        NOT NULL,
    crew_id       TEXT        NOT NULL,
    garden_id     TEXT        NOT NULL,
    workday       TEXT        NOT NULL,
    filled_on     TEXT        NOT NULL,
    way           TEXT        NOT NULL,
    checklist     TEXT        NOT NULL,
    digest        TEXT        NOT NULL,
    answers       TEXT        NOT NULL,
    passed        BOOLEAN     NOT NULL,
    stopped       TEXT        NOT NULL,
    recorded_at   DATETIME    NOT NULL,
    received_at   DATETIME    NOT NULL,
    recorded_by   TEXT        NOT NULL,
    reason        TEXT        NOT NULL,
    superseded_by TEXT,
    UNIQUE (employer_id, id),
    FOREIGN KEY (employer_id, crew_id) REFERENCES crews (employer_id, id),
    FOREIGN KEY (employer_id, garden_id) REFERENCES gardens (employer_id, id),
    FOREIGN KEY (employer_id, recorded_by) REFERENCES accounts (employer_id, id),
    FOREIGN KEY (employer_id, superseded_by) REFERENCES filled_checklists (employer_id, id) DEFERRABLE INITIALLY DEFERRED
);
CREATE INDEX filled_checklists_by_day ON filled_checklists (employer_id, workday, crew_id);

-- Which equipment a checklist was filled for, and whether a defect that stops the climb was found on it.
CREATE TABLE checklist_equipment (
    employer_id  TEXT        NOT NULL REFERENCES employers (id),
    checklist_id TEXT        NOT NULL,
    equipment_id TEXT        NOT NULL,
    defect       BOOLEAN     NOT NULL,
    PRIMARY KEY (employer_id, checklist_id, equipment_id),
    FOREIGN KEY (employer_id, checklist_id) REFERENCES filled_checklists (employer_id, id),
    FOREIGN KEY (employer_id, equipment_id) REFERENCES equipment (employer_id, id)
);
CREATE INDEX checklist_equipment_by_equipment ON checklist_equipment (employer_id, equipment_id);

-- The safety officer's word on a filled checklist: one, and it stays.
CREATE TABLE checklist_reviews (
    seq          INTEGER PRIMARY KEY AUTOINCREMENT,
    employer_id  TEXT        NOT NULL REFERENCES employers (id),
    id           TEXT        NOT NULL,
    content_hash TEXT        NOT NULL,
    checklist_id TEXT        NOT NULL,
    decision     TEXT        NOT NULL CHECK (decision IN ('accepted', 'sent_back', 'stopped')),
    reason       TEXT        NOT NULL,
    reviewed_at  DATETIME    NOT NULL,
    reviewed_by  TEXT        NOT NULL,
    UNIQUE (employer_id, id),
    UNIQUE (employer_id, checklist_id),
    FOREIGN KEY (employer_id, checklist_id) REFERENCES filled_checklists (employer_id, id),
    FOREIGN KEY (employer_id, reviewed_by) REFERENCES accounts (employer_id, id)
);

-- A stop of the climb: of a crew on a day (one way up, or all of them), of a piece of equipment or of a palm until it is lifted.
CREATE TABLE stops (
    seq          INTEGER PRIMARY KEY AUTOINCREMENT,
    employer_id  TEXT        NOT NULL REFERENCES employers (id),
    id           TEXT        NOT NULL,
    content_hash TEXT        NOT NULL,
    scope        TEXT        NOT NULL CHECK (scope IN ('crew', 'equipment', 'palm')),
    crew_id      TEXT,
    workday      TEXT        NOT NULL,
    way          TEXT        NOT NULL,
    equipment_id TEXT,
    palm_id      TEXT,
    checklist_id TEXT,
    reason       TEXT        NOT NULL,
    stopped_at   DATETIME    NOT NULL,
    stopped_by   TEXT        NOT NULL,
    UNIQUE (employer_id, id),
    FOREIGN KEY (employer_id, crew_id) REFERENCES crews (employer_id, id),
    FOREIGN KEY (employer_id, equipment_id) REFERENCES equipment (employer_id, id),
    FOREIGN KEY (employer_id, palm_id) REFERENCES palms (employer_id, id),
    FOREIGN KEY (employer_id, checklist_id) REFERENCES filled_checklists (employer_id, id),
    FOREIGN KEY (employer_id, stopped_by) REFERENCES accounts (employer_id, id),
    CHECK ((crew_id IS NOT NULL) = (scope = 'crew')),
    CHECK ((equipment_id IS NOT NULL) = (scope = 'equipment')),
    CHECK ((palm_id IS NOT NULL) = (scope = 'palm'))
);
CREATE INDEX stops_by_day ON stops (employer_id, workday, scope);

-- Which crew lead's phone has heard of a stop, and when first.
CREATE TABLE stop_hearings (
    employer_id TEXT        NOT NULL REFERENCES employers (id),
    stop_id     TEXT        NOT NULL,
    worker_id   TEXT        NOT NULL,
    heard_at    DATETIME    NOT NULL,
    PRIMARY KEY (employer_id, stop_id, worker_id),
    FOREIGN KEY (employer_id, stop_id) REFERENCES stops (employer_id, id),
    FOREIGN KEY (employer_id, worker_id) REFERENCES workers (employer_id, id)
);

-- A crew lead has acknowledged a stop, by name.
CREATE TABLE stop_acknowledgements (
    seq             INTEGER PRIMARY KEY AUTOINCREMENT,
    employer_id     TEXT        NOT NULL REFERENCES employers (id),
    id              TEXT        NOT NULL,
    content_hash    TEXT        NOT NULL,
    stop_id         TEXT        NOT NULL,
    worker_id       TEXT        NOT NULL,
    name            TEXT        NOT NULL,
    recorded_at     DATETIME    NOT NULL,
    received_at     DATETIME    NOT NULL,
    acknowledged_by TEXT        NOT NULL,
    UNIQUE (employer_id, id),
    UNIQUE (employer_id, stop_id, worker_id),
    FOREIGN KEY (employer_id, stop_id) REFERENCES stops (employer_id, id),
    FOREIGN KEY (employer_id, worker_id) REFERENCES workers (employer_id, id),
    FOREIGN KEY (employer_id, acknowledged_by) REFERENCES accounts (employer_id, id)
);

-- A stop is lifted by a named competent person, with the reason.
CREATE TABLE stop_lifts (
    seq              INTEGER PRIMARY KEY AUTOINCREMENT,
    employer_id      TEXT        NOT NULL REFERENCES employers (id),
    id               TEXT        NOT NULL,
    content_hash     TEXT        NOT NULL,
    stop_id          TEXT        NOT NULL,
    competent_person TEXT        NOT NULL,
    reason           TEXT        NOT NULL,
    lifted_at        DATETIME    NOT NULL,
    lifted_by        TEXT        NOT NULL,
    UNIQUE (employer_id, id),
    UNIQUE (employer_id, stop_id),
    FOREIGN KEY (employer_id, stop_id) REFERENCES stops (employer_id, id),
    FOREIGN KEY (employer_id, lifted_by) REFERENCES accounts (employer_id, id)
);

-- A rule of the house set aside for a crew's day by a named competent person. What the law asks never stands here.
CREATE TABLE rule_overrides (
    seq              INTEGER PRIMARY KEY AUTOINCREMENT,
    employer_id      TEXT        NOT NULL REFERENCES employers (id),
    id               TEXT        NOT NULL,
    content_hash     TEXT        NOT NULL,
    garden_id        TEXT        NOT NULL,
    crew_id          TEXT        NOT NULL,
    workday          TEXT        NOT NULL,
    way              TEXT        NOT NULL,
    worker_id        TEXT,
    code             TEXT        NOT NULL,
    competent_person TEXT        NOT NULL,
    grounds          TEXT        NOT NULL,
    withdrawn        BOOLEAN     NOT NULL,
    recorded_at      DATETIME    NOT NULL,
    received_at      DATETIME    NOT NULL,
    recorded_by      TEXT        NOT NULL,
    reason           TEXT        NOT NULL,
    superseded_by    TEXT,
    UNIQUE (employer_id, id),
    FOREIGN KEY (employer_id, garden_id) REFERENCES gardens (employer_id, id),
    FOREIGN KEY (employer_id, crew_id) REFERENCES crews (employer_id, id),
    FOREIGN KEY (employer_id, worker_id) REFERENCES workers (employer_id, id),
    FOREIGN KEY (employer_id, recorded_by) REFERENCES accounts (employer_id, id),
    FOREIGN KEY (employer_id, superseded_by) REFERENCES rule_overrides (employer_id, id) DEFERRABLE INITIALLY DEFERRED
);
CREATE INDEX rule_overrides_by_day ON rule_overrides (employer_id, workday, crew_id);

-- Topics that an employer adds to those of the safety rulebooks.
CREATE TABLE training_topics (
    seq          INTEGER PRIMARY KEY AUTOINCREMENT,
    employer_id  TEXT        NOT NULL REFERENCES employers (id),
    id           TEXT        NOT NULL,
    content_hash TEXT        NOT NULL,
    created_at   DATETIME    NOT NULL,
    updated_at   DATETIME    NOT NULL,
    version      INTEGER     NOT NULL,
    topic        TEXT        NOT NULL,
    title_en     TEXT        NOT NULL,
    title_es     TEXT        NOT NULL,
    source       TEXT        NOT NULL,
    section      TEXT        NOT NULL,
    link         TEXT        NOT NULL,
    ways         TEXT        NOT NULL,
    operations   TEXT        NOT NULL,
    carries      TEXT        NOT NULL,
    holds_months INTEGER     NOT NULL CHECK (holds_months >= 0),
    keep_months  INTEGER     NOT NULL CHECK (keep_months >= 0),
    retired      BOOLEAN     NOT NULL,
    UNIQUE (employer_id, id),
    UNIQUE (employer_id, topic)
);

-- A training held for several workers at once: what their sign-offs have in common.
CREATE TABLE training_meetings (
    seq           INTEGER PRIMARY KEY AUTOINCREMENT,
    employer_id   TEXT        NOT NULL REFERENCES employers (id),
    id            TEXT        NOT NULL,
    content_hash  TEXT        NOT NULL,
    topic         TEXT        NOT NULL,
    held_on       TEXT        NOT NULL,
    trainer       TEXT        NOT NULL,
    qualification TEXT        NOT NULL,
    language      TEXT        NOT NULL,
    understanding TEXT        NOT NULL,
    detail        TEXT        NOT NULL,
    recorded_at   DATETIME    NOT NULL,
    received_at   DATETIME    NOT NULL,
    recorded_by   TEXT        NOT NULL,
    UNIQUE (employer_id, id),
    FOREIGN KEY (employer_id, recorded_by) REFERENCES accounts (employer_id, id)
);
CREATE INDEX training_meetings_by_day ON training_meetings (employer_id, held_on);

-- A worker was trained in a topic, or with withdrawn that what was signed off does not hold.
CREATE TABLE training_sign_offs (
    seq           INTEGER PRIMARY KEY AUTOINCREMENT,
    employer_id   TEXT        NOT NULL REFERENCES employers (id),
    id            TEXT        NOT NULL,
    content_hash  TEXT        NOT NULL,
    meeting_id    TEXT,
    worker_id     TEXT        NOT NULL,
    topic         TEXT        NOT NULL,
    held_on       TEXT        NOT NULL,
    trainer       TEXT        NOT NULL,
    qualification TEXT        NOT NULL,
    language      TEXT        NOT NULL,
    understanding TEXT        NOT NULL,
    detail        TEXT        NOT NULL,
    acknowledged  BOOLEAN     NOT NULL,
    through_date  TEXT,
    withdrawn     BOOLEAN     NOT NULL,
    recorded_at   DATETIME    NOT NULL,
    received_at   DATETIME    NOT NULL,
    recorded_by   TEXT        NOT NULL,
    reason        TEXT        NOT NULL,
    superseded_by TEXT,
    UNIQUE (employer_id, id),
    FOREIGN KEY (employer_id, meeting_id) REFERENCES training_meetings (employer_id, id),
    FOREIGN KEY (employer_id, worker_id) REFERENCES workers (employer_id, id),
    FOREIGN KEY (employer_id, recorded_by) REFERENCES accounts (employer_id, id),
    FOREIGN KEY (employer_id, superseded_by) REFERENCES training_sign_offs (employer_id, id) DEFERRABLE INITIALLY DEFERRED
);
CREATE INDEX training_sign_offs_by_worker ON training_sign_offs (employer_id, worker_id, topic, held_on);
CREATE INDEX training_sign_offs_by_topic ON training_sign_offs (employer_id, topic, held_on);
CREATE INDEX training_sign_offs_by_meeting ON training_sign_offs (employer_id, meeting_id);

-- +goose StatementBegin
CREATE TRIGGER filled_checklists_append_only BEFORE UPDATE OF seq, employer_id, id, content_hash, crew_id, garden_id, workday, filled_on, way, checklist, digest, answers, passed, stopped, recorded_at, received_at, recorded_by, reason ON filled_checklists
BEGIN SELECT RAISE(ABORT, 'append-only: a record of filled_checklists may only be superseded, once'); END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER filled_checklists_superseded_once BEFORE UPDATE OF superseded_by ON filled_checklists
WHEN OLD.superseded_by IS NOT NULL OR NEW.superseded_by IS NULL
BEGIN SELECT RAISE(ABORT, 'append-only: a record of filled_checklists may only be superseded, once'); END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER filled_checklists_no_delete BEFORE DELETE ON filled_checklists
BEGIN SELECT RAISE(ABORT, 'append-only: filled_checklists may not be changed or deleted'); END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER checklist_equipment_no_update BEFORE UPDATE ON checklist_equipment
BEGIN SELECT RAISE(ABORT, 'append-only: checklist_equipment may not be changed or deleted'); END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER checklist_equipment_no_delete BEFORE DELETE ON checklist_equipment
BEGIN SELECT RAISE(ABORT, 'append-only: checklist_equipment may not be changed or deleted'); END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER checklist_reviews_no_update BEFORE UPDATE ON checklist_reviews
BEGIN SELECT RAISE(ABORT, 'append-only: checklist_reviews may not be changed or deleted'); END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER checklist_reviews_no_delete BEFORE DELETE ON checklist_reviews
BEGIN SELECT RAISE(ABORT, 'append-only: checklist_reviews may not be changed or deleted'); END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER stops_no_update BEFORE UPDATE ON stops
BEGIN SELECT RAISE(ABORT, 'append-only: stops may not be changed or deleted'); END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER stops_no_delete BEFORE DELETE ON stops
BEGIN SELECT RAISE(ABORT, 'append-only: stops may not be changed or deleted'); END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER stop_hearings_no_update BEFORE UPDATE ON stop_hearings
BEGIN SELECT RAISE(ABORT, 'append-only: stop_hearings may not be changed or deleted'); END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER stop_hearings_no_delete BEFORE DELETE ON stop_hearings
BEGIN SELECT RAISE(ABORT, 'append-only: stop_hearings may not be changed or deleted'); END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER stop_acknowledgements_no_update BEFORE UPDATE ON stop_acknowledgements
BEGIN SELECT RAISE(ABORT, 'append-only: stop_acknowledgements may not be changed or deleted'); END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER stop_acknowledgements_no_delete BEFORE DELETE ON stop_acknowledgements
BEGIN SELECT RAISE(ABORT, 'append-only: stop_acknowledgements may not be changed or deleted'); END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER stop_lifts_no_update BEFORE UPDATE ON stop_lifts
BEGIN SELECT RAISE(ABORT, 'append-only: stop_lifts may not be changed or deleted'); END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER stop_lifts_no_delete BEFORE DELETE ON stop_lifts
BEGIN SELECT RAISE(ABORT, 'append-only: stop_lifts may not be changed or deleted'); END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER rule_overrides_append_only BEFORE UPDATE OF seq, employer_id, id, content_hash, garden_id, crew_id, workday, way, worker_id, code, competent_person, grounds, withdrawn, recorded_at, received_at, recorded_by, reason ON rule_overrides
BEGIN SELECT RAISE(ABORT, 'append-only: a record of rule_overrides may only be superseded, once'); END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER rule_overrides_superseded_once BEFORE UPDATE OF superseded_by ON rule_overrides
WHEN OLD.superseded_by IS NOT NULL OR NEW.superseded_by IS NULL
BEGIN SELECT RAISE(ABORT, 'append-only: a record of rule_overrides may only be superseded, once'); END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER rule_overrides_no_delete BEFORE DELETE ON rule_overrides
BEGIN SELECT RAISE(ABORT, 'append-only: rule_overrides may not be changed or deleted'); END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER training_topics_no_delete BEFORE DELETE ON training_topics
BEGIN SELECT RAISE(ABORT, 'append-only: training_topics may not be changed or deleted'); END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER training_meetings_no_update BEFORE UPDATE ON training_meetings
BEGIN SELECT RAISE(ABORT, 'append-only: training_meetings may not be changed or deleted'); END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER training_meetings_no_delete BEFORE DELETE ON training_meetings
BEGIN SELECT RAISE(ABORT, 'append-only: training_meetings may not be changed or deleted'); END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER training_sign_offs_append_only BEFORE UPDATE OF seq, employer_id, id, content_hash, meeting_id, worker_id, topic, held_on, trainer, qualification, language, understanding, detail, acknowledged, through_date, withdrawn, recorded_at, received_at, recorded_by, reason ON training_sign_offs
BEGIN SELECT RAISE(ABORT, 'append-only: a record of training_sign_offs may only be superseded, once'); END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER training_sign_offs_superseded_once BEFORE UPDATE OF superseded_by ON training_sign_offs
WHEN OLD.superseded_by IS NOT NULL OR NEW.superseded_by IS NULL
BEGIN SELECT RAISE(ABORT, 'append-only: a record of training_sign_offs may only be superseded, once'); END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER training_sign_offs_no_delete BEFORE DELETE ON training_sign_offs
BEGIN SELECT RAISE(ABORT, 'append-only: training_sign_offs may not be changed or deleted'); END;
-- +goose StatementEnd
