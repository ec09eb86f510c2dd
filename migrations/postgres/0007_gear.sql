-- +goose Up
-- Palms by block and number, equipment with its inspections and findings, gear in workers' hands, photos of what was found.

-- A stretch of a block's palms taken into the register at once: prefix and number as the farm writes them.
CREATE TABLE palm_ranges (
    employer_id   uuid        NOT NULL REFERENCES employers (id),
    id            uuid        NOT NULL,
    seq           bigint      GENERATED ALWAYS AS IDENTITY,
    content_hash  text        NOT NULL,
    block_id      uuid        NOT NULL,
    prefix        text        NOT NULL,
    first_no      bigint      NOT NULL CHECK (first_no >= 0),
    last_no       bigint      NOT NULL CHECK (last_no >= first_no),
    digits        bigint      NOT NULL CHECK (digits >= 0),
    recorded_at   timestamptz NOT NULL,
    recorded_by   uuid        NOT NULL,
    PRIMARY KEY (employer_id, id),
    UNIQUE (employer_id, seq),
    FOREIGN KEY (employer_id, block_id) REFERENCES blocks (employer_id, id),
    FOREIGN KEY (employer_id, recorded_by) REFERENCES accounts (employer_id, id)
);

-- avoided_by is the event for which the palm is not to be worked on, NULL while it is in use.
CREATE TABLE palms (
    employer_id  uuid        NOT NULL REFERENCES employers (id),
    id           uuid        NOT NULL,
    seq          bigint      GENERATED ALWAYS AS IDENTITY,
    content_hash text        NOT NULL,
    created_at   timestamptz NOT NULL,
    updated_at   timestamptz NOT NULL,
    version      bigint      NOT NULL,
    block_id     uuid        NOT NULL,
    label        text        NOT NULL,
    avoided_by   uuid,
    PRIMARY KEY (employer_id, id),
    UNIQUE (employer_id, seq),
    CONSTRAINT palms_employer_id_label_key UNIQUE (employer_id, block_id, label),
    FOREIGN KEY (employer_id, block_id) REFERENCES blocks (employer_id, id)
);
CREATE INDEX palms_by_block ON palms (employer_id, block_id, seq);
CREATE INDEX palms_to_avoid ON palms (employer_id, block_id, seq) WHERE avoided_by IS NOT NULL;

CREATE TABLE palm_events (
    employer_id   uuid        NOT NULL REFERENCES employers (id),
    id            uuid        NOT NULL,
    seq           bigint      GENERATED ALWAYS AS IDENTITY,
    content_hash  text        NOT NULL,
    palm_id       uuid        NOT NULL,
    kind          text        NOT NULL CHECK (kind IN ('avoid', 'back_in_use')),
    reason        text        NOT NULL,
    note          text        NOT NULL,
    person        text        NOT NULL,
    happened_at   timestamptz NOT NULL,
    received_at   timestamptz NOT NULL,
    recorded_by   uuid        NOT NULL,
    PRIMARY KEY (employer_id, id),
    UNIQUE (employer_id, seq),
    FOREIGN KEY (employer_id, palm_id) REFERENCES palms (employer_id, id),
    FOREIGN KEY (employer_id, recorded_by) REFERENCES accounts (employer_id, id),
    CHECK ((kind = 'back_in_use') = (person <> ''))
);
CREATE INDEX palm_events_by_palm ON palm_events (employer_id, palm_id, seq);

-- The columns from state on follow from the events; they are written with them, in one transaction.
CREATE TABLE equipment (
    employer_id       uuid        NOT NULL REFERENCES employers (id),
    id                uuid        NOT NULL,
    seq               bigint      GENERATED ALWAYS AS IDENTITY,
    content_hash      text        NOT NULL,
    created_at        timestamptz NOT NULL,
    updated_at        timestamptz NOT NULL,
    version           bigint      NOT NULL,
    garden_id         uuid        NOT NULL,
    kind              text        NOT NULL,
    code              text        NOT NULL,
    description       text        NOT NULL,
    maker             text        NOT NULL,
    model             text        NOT NULL,
    serial            text        NOT NULL,
    palm_id           uuid,
    ratings           text        NOT NULL,
    first_used_on     date,
    retire_by         date,
    inspection_months bigint      CHECK (inspection_months > 0),
    inspection_source text        NOT NULL,
    state             text        NOT NULL CHECK (state IN ('in_service', 'out_of_service', 'retired')),
    state_event       uuid,
    pre_use_on        date,
    periodic_on       date,
    PRIMARY KEY (employer_id, id),
    UNIQUE (employer_id, seq),
    UNIQUE (employer_id, code),
    FOREIGN KEY (employer_id, garden_id) REFERENCES gardens (employer_id, id),
    FOREIGN KEY (employer_id, palm_id) REFERENCES palms (employer_id, id),
    CHECK ((kind = 'attached_ladder') = (palm_id IS NOT NULL)),
    CHECK ((inspection_months IS NULL) = (inspection_source = ''))
);
CREATE INDEX equipment_by_garden ON equipment (employer_id, garden_id, kind, seq);
CREATE INDEX equipment_by_palm ON equipment (employer_id, palm_id) WHERE palm_id IS NOT NULL;
CREATE INDEX equipment_out ON equipment (employer_id, seq) WHERE state = 'out_of_service';
CREATE INDEX equipment_by_periodic ON equipment (employer_id, kind, periodic_on) WHERE state <> 'retired';

-- state is what the event makes of the equipment, '' where it leaves it as it is.
CREATE TABLE equipment_events (
    employer_id  uuid        NOT NULL REFERENCES employers (id),
    id           uuid        NOT NULL,
    seq          bigint      GENERATED ALWAYS AS IDENTITY,
    content_hash text        NOT NULL,
    equipment_id uuid        NOT NULL,
    kind         text        NOT NULL CHECK (kind IN ('pre_use', 'periodic', 'after_event', 'arrested_fall', 'withdrawn', 'mended', 'returned', 'retired')),
    happened_on  date        NOT NULL,
    passed       boolean,
    state        text        NOT NULL CHECK (state IN ('', 'in_service', 'out_of_service', 'retired')),
    person       text        NOT NULL,
    note         text        NOT NULL,
    happened_at  timestamptz NOT NULL,
    received_at  timestamptz NOT NULL,
    recorded_by  uuid        NOT NULL,
    PRIMARY KEY (employer_id, id),
    UNIQUE (employer_id, seq),
    FOREIGN KEY (employer_id, equipment_id) REFERENCES equipment (employer_id, id),
    FOREIGN KEY (employer_id, recorded_by) REFERENCES accounts (employer_id, id),
    CHECK ((kind IN ('pre_use', 'periodic', 'after_event')) = (passed IS NOT NULL)),
    CHECK (kind NOT IN ('periodic', 'returned') OR person <> '')
);
CREATE INDEX equipment_events_by_equipment ON equipment_events (employer_id, equipment_id, seq);
CREATE INDEX equipment_events_inspections ON equipment_events (employer_id, equipment_id, kind, happened_on) WHERE passed;
CREATE INDEX equipment_events_states ON equipment_events (employer_id, equipment_id, seq) WHERE state <> '';

-- settled_by is the event that mended the finding or returned or retired the equipment.
CREATE TABLE equipment_findings (
    employer_id  uuid   NOT NULL REFERENCES employers (id),
    id           uuid   NOT NULL,
    seq          bigint GENERATED ALWAYS AS IDENTITY,
    event_id     uuid   NOT NULL,
    equipment_id uuid   NOT NULL,
    severity     text   NOT NULL CHECK (severity IN ('stopping', 'to_mend', 'note')),
    note         text   NOT NULL,
    settled_by   uuid,
    PRIMARY KEY (employer_id, id),
    UNIQUE (employer_id, seq),
    FOREIGN KEY (employer_id, event_id) REFERENCES equipment_events (employer_id, id),
    FOREIGN KEY (employer_id, equipment_id) REFERENCES equipment (employer_id, id),
    FOREIGN KEY (employer_id, settled_by) REFERENCES equipment_events (employer_id, id)
);
CREATE INDEX equipment_findings_by_event ON equipment_findings (employer_id, event_id);
CREATE INDEX equipment_findings_open ON equipment_findings (employer_id, equipment_id, seq) WHERE settled_by IS NULL AND severity <> 'note';

-- on_hand follows from the stock moves, the issues and the returns.
CREATE TABLE gear_kinds (
    employer_id    uuid        NOT NULL REFERENCES employers (id),
    id             uuid        NOT NULL,
    seq            bigint      GENERATED ALWAYS AS IDENTITY,
    content_hash   text        NOT NULL,
    created_at     timestamptz NOT NULL,
    updated_at     timestamptz NOT NULL,
    version        bigint      NOT NULL,
    kind           text        NOT NULL,
    name           text        NOT NULL,
    size           text        NOT NULL,
    protective     boolean     NOT NULL,
    cut_level      text        NOT NULL,
    puncture_level bigint      CHECK (puncture_level BETWEEN 0 AND 5),
    en388          text        NOT NULL,
    sheathed       boolean,
    low_at         bigint      CHECK (low_at >= 0),
    on_hand        bigint      NOT NULL,
    PRIMARY KEY (employer_id, id),
    UNIQUE (employer_id, seq),
    CONSTRAINT gear_kinds_employer_id_name_key UNIQUE (employer_id, name, size)
);

CREATE TABLE gear_stock_moves (
    employer_id  uuid        NOT NULL REFERENCES employers (id),
    id           uuid        NOT NULL,
    seq          bigint      GENERATED ALWAYS AS IDENTITY,
    content_hash text        NOT NULL,
    gear_kind_id uuid        NOT NULL,
    move         text        NOT NULL CHECK (move IN ('received', 'counted', 'discarded')),
    quantity     bigint      NOT NULL CHECK (quantity >= 0),
    on_hand      bigint      NOT NULL,
    note         text        NOT NULL,
    received_at  timestamptz NOT NULL,
    recorded_by  uuid        NOT NULL,
    PRIMARY KEY (employer_id, id),
    UNIQUE (employer_id, seq),
    FOREIGN KEY (employer_id, gear_kind_id) REFERENCES gear_kinds (employer_id, id),
    FOREIGN KEY (employer_id, recorded_by) REFERENCES accounts (employer_id, id)
);
CREATE INDEX gear_stock_moves_by_kind ON gear_stock_moves (employer_id, gear_kind_id, seq);

CREATE TABLE gear_issues (
    employer_id     uuid        NOT NULL REFERENCES employers (id),
    id              uuid        NOT NULL,
    seq             bigint      GENERATED ALWAYS AS IDENTITY,
    content_hash    text        NOT NULL,
    worker_id       uuid        NOT NULL,
    gear_kind_id    uuid        NOT NULL,
    equipment_id    uuid,
    quantity        bigint      NOT NULL CHECK (quantity > 0),
    condition       text        NOT NULL CHECK (condition IN ('new', 'good', 'worn')),
    issued_on       date        NOT NULL,
    due_on          date,
    note            text        NOT NULL,
    recorded_at     timestamptz NOT NULL,
    received_at     timestamptz NOT NULL,
    recorded_by     uuid        NOT NULL,
    acknowledged_by uuid,
    closed_by       uuid,
    PRIMARY KEY (employer_id, id),
    UNIQUE (employer_id, seq),
    FOREIGN KEY (employer_id, worker_id) REFERENCES workers (employer_id, id),
    FOREIGN KEY (employer_id, gear_kind_id) REFERENCES gear_kinds (employer_id, id),
    FOREIGN KEY (employer_id, equipment_id) REFERENCES equipment (employer_id, id),
    FOREIGN KEY (employer_id, recorded_by) REFERENCES accounts (employer_id, id),
    CHECK (due_on >= issued_on),
    CHECK (equipment_id IS NULL OR quantity = 1)
);
CREATE INDEX gear_issues_by_worker ON gear_issues (employer_id, worker_id, seq);
CREATE INDEX gear_issues_held ON gear_issues (employer_id, worker_id, seq) WHERE closed_by IS NULL;
CREATE INDEX gear_issues_due ON gear_issues (employer_id, due_on) WHERE closed_by IS NULL AND due_on IS NOT NULL;
CREATE UNIQUE INDEX gear_issues_one_holder ON gear_issues (employer_id, equipment_id) WHERE closed_by IS NULL AND equipment_id IS NOT NULL;

CREATE TABLE gear_issue_events (
    employer_id  uuid        NOT NULL REFERENCES employers (id),
    id           uuid        NOT NULL,
    seq          bigint      GENERATED ALWAYS AS IDENTITY,
    content_hash text        NOT NULL,
    issue_id     uuid        NOT NULL,
    kind         text        NOT NULL CHECK (kind IN ('acknowledged', 'returned', 'replaced', 'missing')),
    reason       text        NOT NULL,
    restocked    boolean     NOT NULL,
    by_worker    boolean     NOT NULL,
    typed_name   text        NOT NULL,
    note         text        NOT NULL,
    replaced_by  uuid,
    happened_at  timestamptz NOT NULL,
    received_at  timestamptz NOT NULL,
    recorded_by  uuid        NOT NULL,
    PRIMARY KEY (employer_id, id),
    UNIQUE (employer_id, seq),
    FOREIGN KEY (employer_id, issue_id) REFERENCES gear_issues (employer_id, id),
    FOREIGN KEY (employer_id, replaced_by) REFERENCES gear_issues (employer_id, id),
    FOREIGN KEY (employer_id, recorded_by) REFERENCES accounts (employer_id, id),
    CHECK (kind <> 'acknowledged' OR by_worker = (typed_name = ''))
);
CREATE INDEX gear_issue_events_by_issue ON gear_issue_events (employer_id, issue_id, seq);

-- The bytes of a photo in base64: a text moves between the databases and into an archive as any other does.
CREATE TABLE photos (
    employer_id  uuid        NOT NULL REFERENCES employers (id),
    id           uuid        NOT NULL,
    seq          bigint      GENERATED ALWAYS AS IDENTITY,
    content_hash text        NOT NULL,
    subject_kind text        NOT NULL,
    subject_id   uuid        NOT NULL,
    media        text        NOT NULL CHECK (media IN ('image/jpeg', 'image/png')),
    size         bigint      NOT NULL CHECK (size > 0),
    digest       text        NOT NULL,
    picture      text        NOT NULL,
    received_at  timestamptz NOT NULL,
    recorded_by  uuid        NOT NULL,
    PRIMARY KEY (employer_id, id),
    UNIQUE (employer_id, seq),
    FOREIGN KEY (employer_id, recorded_by) REFERENCES accounts (employer_id, id)
);
CREATE INDEX photos_by_subject ON photos (employer_id, subject_id, seq);

-- A column that the trigger names may go from nothing to something, once; the others never change.
-- +goose StatementBegin
CREATE FUNCTION allow_marking_once() RETURNS trigger LANGUAGE plpgsql AS $$
DECLARE
    was jsonb := to_jsonb(OLD);
    is_now jsonb := to_jsonb(NEW);
    marked text;
BEGIN
    FOREACH marked IN ARRAY TG_ARGV LOOP
        IF was ->> marked IS NULL THEN
            was := was - marked;
            is_now := is_now - marked;
        END IF;
    END LOOP;
    IF was = is_now THEN
        RETURN NEW;
    END IF;
    RAISE EXCEPTION 'append-only: a record of % may only be marked, once', TG_TABLE_NAME USING ERRCODE = 'integrity_constraint_violation';
END $$;
-- +goose StatementEnd

CREATE TRIGGER append_only BEFORE UPDATE ON equipment_findings FOR EACH ROW EXECUTE FUNCTION allow_marking_once('settled_by');
CREATE TRIGGER append_only BEFORE UPDATE ON gear_issues FOR EACH ROW EXECUTE FUNCTION allow_marking_once('acknowledged_by', 'closed_by');

-- +goose StatementBegin
DO $$
DECLARE t text;
BEGIN
    FOREACH t IN ARRAY ARRAY['palm_ranges', 'palm_events', 'equipment_events', 'gear_stock_moves', 'gear_issue_events', 'photos'] LOOP
        EXECUTE format('CREATE TRIGGER keep BEFORE UPDATE OR DELETE ON %I FOR EACH ROW EXECUTE FUNCTION refuse_change()', t);
    END LOOP;
    FOREACH t IN ARRAY ARRAY['palms', 'equipment', 'equipment_findings', 'gear_kinds', 'gear_issues'] LOOP
        EXECUTE format('CREATE TRIGGER keep BEFORE DELETE ON %I FOR EACH ROW EXECUTE FUNCTION refuse_change()', t);
    END LOOP;
    FOREACH t IN ARRAY ARRAY['palm_ranges', 'palms', 'palm_events', 'equipment', 'equipment_events', 'equipment_findings', 'gear_kinds', 'gear_stock_moves', 'gear_issues',
            'gear_issue_events', 'photos'] LOOP
        EXECUTE format('ALTER TABLE %I ENABLE ROW LEVEL SECURITY', t);
        EXECUTE format('ALTER TABLE %I FORCE ROW LEVEL SECURITY', t);
        EXECUTE format('CREATE POLICY own_employer ON %I USING (employer_id = (SELECT nullif(current_setting(''palmero.employer'', true), '''')::uuid))', t);
    END LOOP;
END $$;
-- +goose StatementEnd
