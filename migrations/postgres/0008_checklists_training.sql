-- +goose Up
-- Checklists filled before a climb with their review, stops, rules of the house set aside for a day, and training.

-- A list gone through before the climb by one crew on one workday for one way up. What was asked is the text of that digest in book_texts.
CREATE TABLE filled_checklists (
    employer_id   uuid        NOT NULL REFERENCES employers (id),
    id            uuid        NOT NULL,
    seq           bigint      GENERATED ALWAYS AS IDENTITY,
    content_hash  text        NOT NULL,
    crew_id       uuid        NOT NULL,
    garden_id     uuid        NOT NULL,
    workday       date        NOT NULL,
    filled_on     date        NOT NULL,
    way           text        NOT NULL,
    checklist     text        NOT NULL,
    digest        text        NOT NULL,
    answers       text        NOT NULL,
    passed        boolean     NOT NULL,
    stopped       text        NOT NULL,
    recorded_at   timestamptz NOT NULL,
    received_at   timestamptz NOT NULL,
    recorded_by   uuid        NOT NULL,
    reason        text        NOT NULL,
    superseded_by uuid,
    PRIMARY KEY (employer_id, id),
    UNIQUE (employer_id, seq),
    FOREIGN KEY (employer_id, crew_id) REFERENCES crews (employer_id, id),
    FOREIGN KEY (employer_id, garden_id) REFERENCES gardens (employer_id, id),
    FOREIGN KEY (employer_id, recorded_by) REFERENCES accounts (employer_id, id),
    FOREIGN KEY (employer_id, superseded_by) REFERENCES filled_checklists (employer_id, id) DEFERRABLE INITIALLY DEFERRED
);
CREATE INDEX filled_checklists_by_day ON filled_checklists (employer_id, workday, crew_id);

-- Which equipment a checklist was filled for, and whether a defect that stops the climb was found on it.
CREATE TABLE checklist_equipment (
    employer_id  uuid        NOT NULL REFERENCES employers (id),
    checklist_id uuid        NOT NULL,
    equipment_id uuid        NOT NULL,
    defect       boolean     NOT NULL,
    PRIMARY KEY (employer_id, checklist_id, equipment_id),
    FOREIGN KEY (employer_id, checklist_id) REFERENCES filled_checklists (employer_id, id),
    FOREIGN KEY (employer_id, equipment_id) REFERENCES equipment (employer_id, id)
);
CREATE INDEX checklist_equipment_by_equipment ON checklist_equipment (employer_id, equipment_id);

-- The safety officer's word on a filled checklist: one, and it stays.
CREATE TABLE checklist_reviews (
    employer_id  uuid        NOT NULL REFERENCES employers (id),
    id           uuid        NOT NULL,
    seq          bigint      GENERATED ALWAYS AS IDENTITY,
    content_hash text        NOT NULL,
    checklist_id uuid        NOT NULL,
    decision     text        NOT NULL CHECK (decision IN ('accepted', 'sent_back', 'stopped')),
    reason       text        NOT NULL,
    reviewed_at  timestamptz NOT NULL,
    reviewed_by  uuid        NOT NULL,
    PRIMARY KEY (employer_id, id),
    UNIQUE (employer_id, seq),
    UNIQUE (employer_id, checklist_id),
    FOREIGN KEY (employer_id, checklist_id) REFERENCES filled_checklists (employer_id, id),
    FOREIGN KEY (employer_id, reviewed_by) REFERENCES accounts (employer_id, id)
);

-- A stop of the climb: of a crew on a day (one way up, or all of them), of a piece of equipment or of a palm until it is lifted.
CREATE TABLE stops (
    employer_id  uuid        NOT NULL REFERENCES employers (id),
    id           uuid        NOT NULL,
    seq          bigint      GENERATED ALWAYS AS IDENTITY,
    content_hash text        NOT NULL,
    scope        text        NOT NULL CHECK (scope IN ('crew', 'equipment', 'palm')),
    crew_id      uuid,
    workday      date        NOT NULL,
    way          text        NOT NULL,
    equipment_id uuid,
    palm_id      uuid,
    checklist_id uuid,
    reason       text        NOT NULL,
    stopped_at   timestamptz NOT NULL,
    stopped_by   uuid        NOT NULL,
    PRIMARY KEY (employer_id, id),
    UNIQUE (employer_id, seq),
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
    employer_id uuid        NOT NULL REFERENCES employers (id),
    stop_id     uuid        NOT NULL,
    worker_id   uuid        NOT NULL,
    heard_at    timestamptz NOT NULL,
    PRIMARY KEY (employer_id, stop_id, worker_id),
    FOREIGN KEY (employer_id, stop_id) REFERENCES stops (employer_id, id),
    FOREIGN KEY (employer_id, worker_id) REFERENCES workers (employer_id, id)
);

-- A crew lead has acknowledged a stop, by name.
CREATE TABLE stop_acknowledgements (
    employer_id     uuid        NOT NULL REFERENCES employers (id),
    id              uuid        NOT NULL,
    seq             bigint      GENERATED ALWAYS AS IDENTITY,
    content_hash    text        NOT NULL,
    stop_id         uuid        NOT NULL,
    worker_id       uuid        NOT NULL,
    name            text        NOT NULL,
    recorded_at     timestamptz NOT NULL,
    received_at     timestamptz NOT NULL,
    acknowledged_by uuid        NOT NULL,
    PRIMARY KEY (employer_id, id),
    UNIQUE (employer_id, seq),
    UNIQUE (employer_id, stop_id, worker_id),
    FOREIGN KEY (employer_id, stop_id) REFERENCES stops (employer_id, id),
    FOREIGN KEY (employer_id, worker_id) REFERENCES workers (employer_id, id),
    FOREIGN KEY (employer_id, acknowledged_by) REFERENCES accounts (employer_id, id)
);

-- A stop is lifted by a named competent person, with the reason.
CREATE TABLE stop_lifts (
    employer_id      uuid        NOT NULL REFERENCES employers (id),
    id               uuid        NOT NULL,
    seq              bigint      GENERATED ALWAYS AS IDENTITY,
    content_hash     text        NOT NULL,
    stop_id          uuid        NOT NULL,
    competent_person text        NOT NULL,
    reason           text        NOT NULL,
    lifted_at        timestamptz NOT NULL,
    lifted_by        uuid        NOT NULL,
    PRIMARY KEY (employer_id, id),
    UNIQUE (employer_id, seq),
    UNIQUE (employer_id, stop_id),
    FOREIGN KEY (employer_id, stop_id) REFERENCES stops (employer_id, id),
    FOREIGN KEY (employer_id, lifted_by) REFERENCES accounts (employer_id, id)
);

-- A rule of the house set aside for a crew's day by a named competent person. What the law asks never stands here.
CREATE TABLE rule_overrides (
    employer_id      uuid        NOT NULL REFERENCES employers (id),
    id               uuid        NOT NULL,
    seq              bigint      GENERATED ALWAYS AS IDENTITY,
    content_hash     text        NOT NULL,
    garden_id        uuid        NOT NULL,
    crew_id          uuid        NOT NULL,
    workday          date        NOT NULL,
    way              text        NOT NULL,
    worker_id        uuid,
    code             text        NOT NULL,
    competent_person text        NOT NULL,
    grounds          text        NOT NULL,
    withdrawn        boolean     NOT NULL,
    recorded_at      timestamptz NOT NULL,
    received_at      timestamptz NOT NULL,
    recorded_by      uuid        NOT NULL,
    reason           text        NOT NULL,
    superseded_by    uuid,
    PRIMARY KEY (employer_id, id),
    UNIQUE (employer_id, seq),
    FOREIGN KEY (employer_id, garden_id) REFERENCES gardens (employer_id, id),
    FOREIGN KEY (employer_id, crew_id) REFERENCES crews (employer_id, id),
    FOREIGN KEY (employer_id, worker_id) REFERENCES workers (employer_id, id),
    FOREIGN KEY (employer_id, recorded_by) REFERENCES accounts (employer_id, id),
    FOREIGN KEY (employer_id, superseded_by) REFERENCES rule_overrides (employer_id, id) DEFERRABLE INITIALLY DEFERRED
);
CREATE INDEX rule_overrides_by_day ON rule_overrides (employer_id, workday, crew_id);

-- Topics that an employer adds to those of the safety rulebooks.
CREATE TABLE training_topics (
    employer_id  uuid        NOT NULL REFERENCES employers (id),
    id           uuid        NOT NULL,
    seq          bigint      GENERATED ALWAYS AS IDENTITY,
    content_hash text        NOT NULL,
    created_at   timestamptz NOT NULL,
    updated_at   timestamptz NOT NULL,
    version      bigint      NOT NULL,
    topic        text        NOT NULL,
    title_en     text        NOT NULL,
    title_es     text        NOT NULL,
    source       text        NOT NULL,
    section      text        NOT NULL,
    link         text        NOT NULL,
    ways         text        NOT NULL,
    operations   text        NOT NULL,
    carries      text        NOT NULL,
    holds_months bigint      NOT NULL CHECK (holds_months >= 0),
    keep_months  bigint      NOT NULL CHECK (keep_months >= 0),
    retired      boolean     NOT NULL,
    PRIMARY KEY (employer_id, id),
    UNIQUE (employer_id, seq),
    UNIQUE (employer_id, topic)
);

-- A training held for several workers at once: what their sign-offs have in common.
CREATE TABLE training_meetings (
    employer_id   uuid        NOT NULL REFERENCES employers (id),
    id            uuid        NOT NULL,
    seq           bigint      GENERATED ALWAYS AS IDENTITY,
    content_hash  text        NOT NULL,
    topic         text        NOT NULL,
    held_on       date        NOT NULL,
    trainer       text        NOT NULL,
    qualification text        NOT NULL,
    language      text        NOT NULL,
    understanding text        NOT NULL,
    detail        text        NOT NULL,
    recorded_at   timestamptz NOT NULL,
    received_at   timestamptz NOT NULL,
    recorded_by   uuid        NOT NULL,
    PRIMARY KEY (employer_id, id),
    UNIQUE (employer_id, seq),
    FOREIGN KEY (employer_id, recorded_by) REFERENCES accounts (employer_id, id)
);
CREATE INDEX training_meetings_by_day ON training_meetings (employer_id, held_on);

-- A worker was trained in a topic, or with withdrawn that what was signed off does not hold.
CREATE TABLE training_sign_offs (
    employer_id   uuid        NOT NULL REFERENCES employers (id),
    id            uuid        NOT NULL,
    seq           bigint      GENERATED ALWAYS AS IDENTITY,
    content_hash  text        NOT NULL,
    meeting_id    uuid,
    worker_id     uuid        NOT NULL,
    topic         text        NOT NULL,
    held_on       date        NOT NULL,
    trainer       text        NOT NULL,
    qualification text        NOT NULL,
    language      text        NOT NULL,
    understanding text        NOT NULL,
    detail        text        NOT NULL,
    acknowledged  boolean     NOT NULL,
    through_date  date,
    withdrawn     boolean     NOT NULL,
    recorded_at   timestamptz NOT NULL,
    received_at   timestamptz NOT NULL,
    recorded_by   uuid        NOT NULL,
    reason        text        NOT NULL,
    superseded_by uuid,
    PRIMARY KEY (employer_id, id),
    UNIQUE (employer_id, seq),
    FOREIGN KEY (employer_id, meeting_id) REFERENCES training_meetings (employer_id, id),
    FOREIGN KEY (employer_id, worker_id) REFERENCES workers (employer_id, id),
    FOREIGN KEY (employer_id, recorded_by) REFERENCES accounts (employer_id, id),
    FOREIGN KEY (employer_id, superseded_by) REFERENCES training_sign_offs (employer_id, id) DEFERRABLE INITIALLY DEFERRED
);
CREATE INDEX training_sign_offs_by_worker ON training_sign_offs (employer_id, worker_id, topic, held_on);
CREATE INDEX training_sign_offs_by_topic ON training_sign_offs (employer_id, topic, held_on);
CREATE INDEX training_sign_offs_by_meeting ON training_sign_offs (employer_id, meeting_id);

-- +goose StatementBegin
DO $$
DECLARE t text;
BEGIN
    FOREACH t IN ARRAY ARRAY['filled_checklists', 'rule_overrides', 'training_sign_offs'] LOOP
        EXECUTE format('CREATE TRIGGER append_only BEFORE UPDATE ON %I FOR EACH ROW EXECUTE FUNCTION allow_superseding_once()', t);
        EXECUTE format('CREATE TRIGGER keep BEFORE DELETE ON %I FOR EACH ROW EXECUTE FUNCTION refuse_change()', t);
    END LOOP;
    FOREACH t IN ARRAY ARRAY['checklist_equipment', 'checklist_reviews', 'stops', 'stop_hearings', 'stop_acknowledgements', 'stop_lifts', 'training_meetings'] LOOP
        EXECUTE format('CREATE TRIGGER keep BEFORE UPDATE OR DELETE ON %I FOR EACH ROW EXECUTE FUNCTION refuse_change()', t);
    END LOOP;
    FOREACH t IN ARRAY ARRAY['filled_checklists', 'checklist_equipment', 'checklist_reviews', 'stops', 'stop_hearings', 'stop_acknowledgements', 'stop_lifts', 'rule_overrides', 'training_topics', 'training_meetings', 'training_sign_offs'] LOOP
        EXECUTE format('ALTER TABLE %I ENABLE ROW LEVEL SECURITY', t);
        EXECUTE format('ALTER TABLE %I FORCE ROW LEVEL SECURITY', t);
        EXECUTE format('CREATE POLICY own_employer ON %I USING (employer_id = (SELECT nullif(current_setting(''palmero.employer'', true), '''')::uuid))', t);
    END LOOP;
END $$;
-- +goose StatementEnd
CREATE TRIGGER keep BEFORE DELETE ON training_topics FOR EACH ROW EXECUTE FUNCTION refuse_change();
