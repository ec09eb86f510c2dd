-- +goose Up
-- Palms by block and number, equipment with its inspections and findings, gear in workers' hands, photos of what was found.

-- A stretch of a block's palms taken into the register at once: prefix and number as the farm writes them.
CREATE TABLE palm_ranges (
    seq INTEGER PRIMARY KEY AUTOINCREMENT,
    employer_id   TEXT     NOT NULL REFERENCES employers (id),
    id            TEXT     NOT NULL,
    content_hash  TEXT     NOT NULL,
    block_id      TEXT     NOT NULL,
    prefix        TEXT     NOT NULL,
    first_no      INTEGER  NOT NULL CHECK (first_no >= 0),
    last_no       INTEGER  NOT NULL CHECK (last_no >= first_no),
    digits        INTEGER  NOT NULL CHECK (digits >= 0),
    recorded_at   DATETIME NOT NULL,
    recorded_by   TEXT     NOT NULL,
    UNIQUE (employer_id, id),
    FOREIGN KEY (employer_id, block_id) REFERENCES blocks (employer_id, id),
    FOREIGN KEY (employer_id, recorded_by) REFERENCES accounts (employer_id, id)
);

-- avoided_by is the event for which the palm is not to be worked on, NULL while it is in use.
CREATE TABLE palms (
    seq INTEGER PRIMARY KEY AUTOINCREMENT,
    employer_id  TEXT     NOT NULL REFERENCES employers (id),
    id           TEXT     NOT NULL,
    content_hash TEXT     NOT NULL,
    created_at   DATETIME NOT NULL,
    updated_at   DATETIME NOT NULL,
    version      INTEGER  NOT NULL,
    block_id     TEXT     NOT NULL,
    label        TEXT     NOT NULL,
    avoided_by   TEXT,
    UNIQUE (employer_id, id),
    UNIQUE (employer_id, block_id, label),
    FOREIGN KEY (employer_id, block_id) REFERENCES blocks (employer_id, id)
);
CREATE INDEX palms_by_block ON palms (employer_id, block_id, seq);
CREATE INDEX palms_to_avoid ON palms (employer_id, block_id, seq) WHERE avoided_by IS NOT NULL;

CREATE TABLE palm_events (
    seq INTEGER PRIMARY KEY AUTOINCREMENT,
    employer_id   TEXT     NOT NULL REFERENCES employers (id),
    id            TEXT     NOT NULL,
    content_hash  TEXT     NOT NULL,
    palm_id       TEXT     NOT NULL,
    kind          TEXT     NOT NULL CHECK (kind IN ('avoid', 'back_in_use')),
    reason        TEXT     NOT NULL,
    note          TEXT     NOT NULL,
    person        TEXT     NOT NULL,
    happened_at   DATETIME NOT NULL,
    received_at   DATETIME NOT NULL,
    recorded_by   TEXT     NOT NULL,
    UNIQUE (employer_id, id),
    FOREIGN KEY (employer_id, palm_id) REFERENCES palms (employer_id, id),
    FOREIGN KEY (employer_id, recorded_by) REFERENCES accounts (employer_id, id),
    CHECK ((kind = 'back_in_use') = (person <> ''))
);
CREATE INDEX palm_events_by_palm ON palm_events (employer_id, palm_id, seq);

-- The columns from state on follow from the events; they are written with them, in one transaction.
CREATE TABLE equipment (
    seq INTEGER PRIMARY KEY AUTOINCREMENT,
    employer_id       TEXT     NOT NULL REFERENCES employers (id),
    id                TEXT     NOT NULL,
    content_hash      TEXT     NOT NULL,
    created_at        DATETIME NOT NULL,
    updated_at        DATETIME NOT NULL,
    version           INTEGER  NOT NULL,
    garden_id         TEXT     NOT NULL,
    kind              TEXT     NOT NULL,
    code              TEXT     NOT NULL,
    description       TEXT     NOT NULL,
    maker             TEXT     NOT NULL,
    model             TEXT     NOT NULL,
    serial            TEXT     NOT NULL,
    palm_id           TEXT,
    ratings           TEXT     NOT NULL,
    first_used_on     TEXT,
    retire_by         TEXT,
    inspection_months INTEGER  CHECK (inspection_months > 0),
    inspection_source TEXT     NOT NULL,
    state             TEXT     NOT NULL CHECK (state IN ('in_service', 'out_of_service', 'retired')),
    state_event       TEXT,
    pre_use_on        TEXT,
    periodic_on       TEXT,
    UNIQUE (employer_id, id),
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
    seq INTEGER PRIMARY KEY AUTOINCREMENT,
    employer_id  TEXT     NOT NULL REFERENCES employers (id),
    id           TEXT     NOT NULL,
    content_hash TEXT     NOT NULL,
    equipment_id TEXT     NOT NULL,
    kind         TEXT     NOT NULL CHECK (kind IN ('pre_use', 'periodic', 'after_event', 'arrested_fall', 'withdrawn', 'mended', 'returned', 'retired')),
    happened_on  TEXT     NOT NULL,
    passed       BOOLEAN,
    state        TEXT     NOT NULL CHECK (state IN ('', 'in_service', 'out_of_service', 'retired')),
    person       TEXT     NOT NULL,
    note         TEXT     NOT NULL,
    happened_at  DATETIME NOT NULL,
    received_at  DATETIME NOT NULL,
    recorded_by  TEXT     NOT NULL,
    UNIQUE (employer_id, id),
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
    seq INTEGER PRIMARY KEY AUTOINCREMENT,
    employer_id  TEXT     NOT NULL REFERENCES employers (id),
    id           TEXT     NOT NULL,
    event_id     TEXT     NOT NULL,
    equipment_id TEXT     NOT NULL,
    severity     TEXT     NOT NULL CHECK (severity IN ('stopping', 'to_mend', 'note')),
    note         TEXT     NOT NULL,
    settled_by   TEXT,
    UNIQUE (employer_id, id),
    FOREIGN KEY (employer_id, event_id) REFERENCES equipment_events (employer_id, id),
    FOREIGN KEY (employer_id, equipment_id) REFERENCES equipment (employer_id, id),
    FOREIGN KEY (employer_id, settled_by) REFERENCES equipment_events (employer_id, id)
);
CREATE INDEX equipment_findings_by_event ON equipment_findings (employer_id, event_id);
CREATE INDEX equipment_findings_open ON equipment_findings (employer_id, equipment_id, seq) WHERE settled_by IS NULL AND severity <> 'note';

-- on_hand follows from the stock moves, the issues and the returns.
CREATE TABLE gear_kinds (
    seq INTEGER PRIMARY KEY AUTOINCREMENT,
    employer_id    TEXT     NOT NULL REFERENCES employers (id),
    id             TEXT     NOT NULL,
    content_hash   TEXT     NOT NULL,
    created_at     DATETIME NOT NULL,
    updated_at     DATETIME NOT NULL,
    version        INTEGER  NOT NULL,
    kind           TEXT     NOT NULL,
    name           TEXT     NOT NULL,
    size           TEXT     NOT NULL,
    protective     BOOLEAN  NOT NULL,
    cut_level      TEXT     NOT NULL,
    puncture_level INTEGER  CHECK (puncture_level BETWEEN 0 AND 5),
    en388          TEXT     NOT NULL,
    sheathed       BOOLEAN,
    low_at         INTEGER  CHECK (low_at >= 0),
    on_hand        INTEGER  NOT NULL,
    UNIQUE (employer_id, id),
    UNIQUE (employer_id, name, size)
);

CREATE TABLE gear_stock_moves (
    seq INTEGER PRIMARY KEY AUTOINCREMENT,
    employer_id  TEXT     NOT NULL REFERENCES employers (id),
    id           TEXT     NOT NULL,
    content_hash TEXT     NOT NULL,
    gear_kind_id TEXT     NOT NULL,
    move         TEXT     NOT NULL CHECK (move IN ('received', 'counted', 'discarded')),
    quantity     INTEGER  NOT NULL CHECK (quantity >= 0),
    on_hand      INTEGER  NOT NULL,
    note         TEXT     NOT NULL,
    received_at  DATETIME NOT NULL,
    recorded_by  TEXT     NOT NULL,
    UNIQUE (employer_id, id),
    FOREIGN KEY (employer_id, gear_kind_id) REFERENCES gear_kinds (employer_id, id),
    FOREIGN KEY (employer_id, recorded_by) REFERENCES accounts (employer_id, id)
);
CREATE INDEX gear_stock_moves_by_kind ON gear_stock_moves (employer_id, gear_kind_id, seq);

CREATE TABLE gear_issues (
    seq INTEGER PRIMARY KEY AUTOINCREMENT,
    employer_id     TEXT     NOT NULL REFERENCES employers (id),
    id              TEXT     NOT NULL,
    content_hash    TEXT     NOT NULL,
    worker_id       TEXT     NOT NULL,
    gear_kind_id    TEXT     NOT NULL,
    equipment_id    TEXT,
    quantity        INTEGER  NOT NULL CHECK (quantity > 0),
    condition       TEXT     NOT NULL CHECK (condition IN ('new', 'good', 'worn')),
    issued_on       TEXT     NOT NULL,
    due_on          TEXT,
    note            TEXT     NOT NULL,
    recorded_at     DATETIME NOT NULL,
    received_at     DATETIME NOT NULL,
    recorded_by     TEXT     NOT NULL,
    acknowledged_by TEXT,
    closed_by       TEXT,
    UNIQUE (employer_id, id),
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
    seq INTEGER PRIMARY KEY AUTOINCREMENT,
    employer_id  TEXT     NOT NULL REFERENCES employers (id),
    id           TEXT     NOT NULL,
    content_hash TEXT     NOT NULL,
    issue_id     TEXT     NOT NULL,
    kind         TEXT     NOT NULL CHECK (kind IN ('acknowledged', 'returned', 'replaced', 'missing')),
    reason       TEXT     NOT NULL,
    restocked    BOOLEAN  NOT NULL,
    by_worker    BOOLEAN  NOT NULL,
    typed_name   TEXT     NOT NULL,
    note         TEXT     NOT NULL,
    replaced_by  TEXT,
    happened_at  DATETIME NOT NULL,
    received_at  DATETIME NOT NULL,
    recorded_by  TEXT     NOT NULL,
    UNIQUE (employer_id, id),
    FOREIGN KEY (employer_id, issue_id) REFERENCES gear_issues (employer_id, id),
    FOREIGN KEY (employer_id, replaced_by) REFERENCES gear_issues (employer_id, id),
    FOREIGN KEY (employer_id, recorded_by) REFERENCES accounts (employer_id, id),
    CHECK (kind <> 'acknowledged' OR by_worker = (typed_name = ''))
);
CREATE INDEX gear_issue_events_by_issue ON gear_issue_events (employer_id, issue_id, seq);

-- The bytes of a photo in base64: a text moves between the databases and into an archive as any other does.
CREATE TABLE photos (
    seq INTEGER PRIMARY KEY AUTOINCREMENT,
    employer_id  TEXT     NOT NULL REFERENCES employers (id),
    id           TEXT     NOT NULL,
    content_hash TEXT     NOT NULL,
    subject_kind TEXT     NOT NULL,
    subject_id   TEXT     NOT NULL,
    media        TEXT     NOT NULL CHECK (media IN ('image/jpeg', 'image/png')),
    size         INTEGER  NOT NULL CHECK (size > 0),
    digest       TEXT     NOT NULL,
    picture      TEXT     NOT NULL,
    received_at  DATETIME NOT NULL,
    recorded_by  TEXT     NOT NULL,
    UNIQUE (employer_id, id),
    FOREIGN KEY (employer_id, recorded_by) REFERENCES accounts (employer_id, id)
);
CREATE INDEX photos_by_subject ON photos (employer_id, subject_id, seq);

-- +goose StatementBegin
CREATE TRIGGER palm_ranges_no_update BEFORE UPDATE ON palm_ranges
BEGIN SELECT RAISE(ABORT, 'append-only: palm_ranges may not be changed or deleted'); END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER palm_events_no_update BEFORE UPDATE ON palm_events
BEGIN SELECT RAISE(ABORT, 'append-only: palm_events may not be changed or deleted'); END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER equipment_events_no_update BEFORE UPDATE ON equipment_events
BEGIN SELECT RAISE(ABORT, 'append-only: equipment_events may not be changed or deleted'); END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER gear_stock_moves_no_update BEFORE UPDATE ON gear_stock_moves
BEGIN SELECT RAISE(ABORT, 'append-only: gear_stock_moves may not be changed or deleted'); END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER gear_issue_events_no_update BEFORE UPDATE ON gear_issue_events
BEGIN SELECT RAISE(ABORT, 'append-only: gear_issue_events may not be changed or deleted'); END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER photos_no_update BEFORE UPDATE ON photos
BEGIN SELECT RAISE(ABORT, 'append-only: photos may not be changed or deleted'); END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER palm_ranges_no_delete BEFORE DELETE ON palm_ranges
BEGIN SELECT RAISE(ABORT, 'append-only: palm_ranges may not be changed or deleted'); END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER palms_no_delete BEFORE DELETE ON palms
BEGIN SELECT RAISE(ABORT, 'append-only: palms may not be changed or deleted'); END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER palm_events_no_delete BEFORE DELETE ON palm_events
BEGIN SELECT RAISE(ABORT, 'append-only: palm_events may not be changed or deleted'); END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER equipment_no_delete BEFORE DELETE ON equipment
BEGIN SELECT RAISE(ABORT, 'append-only: equipment may not be changed or deleted'); END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER equipment_events_no_delete BEFORE DELETE ON equipment_events
BEGIN SELECT RAISE(ABORT, 'append-only: equipment_events may not be changed or deleted'); END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER equipment_findings_no_delete BEFORE DELETE ON equipment_findings
BEGIN SELECT RAISE(ABORT, 'append-only: equipment_findings may not be changed or deleted'); END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER gear_kinds_no_delete BEFORE DELETE ON gear_kinds
BEGIN SELECT RAISE(ABORT, 'append-only: gear_kinds may not be changed or deleted'); END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER gear_stock_moves_no_delete BEFORE DELETE ON gear_stock_moves
BEGIN SELECT RAISE(ABORT, 'append-only: gear_stock_moves may not be changed or deleted'); END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER gear_issues_no_delete BEFORE DELETE ON gear_issues
BEGIN SELECT RAISE(ABORT, 'append-only: gear_issues may not be changed or deleted'); END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER gear_issue_events_no_delete BEFORE DELETE ON gear_issue_events
BEGIN SELECT RAISE(ABORT, 'append-only: gear_issue_events may not be changed or deleted'); END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER photos_no_delete BEFORE DELETE ON photos
BEGIN SELECT RAISE(ABORT, 'append-only: photos may not be changed or deleted'); END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER equipment_findings_append_only BEFORE UPDATE OF seq, employer_id, id, event_id, equipment_id, severity, note ON equipment_findings
BEGIN SELECT RAISE(ABORT, 'append-only: a record of equipment_findings may only be marked, once'); END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER equipment_findings_settled_by_once BEFORE UPDATE OF settled_by ON equipment_findings
WHEN OLD.settled_by IS NOT NULL
BEGIN SELECT RAISE(ABORT, 'append-only: a record of equipment_findings may only be marked, once'); END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER gear_issues_append_only BEFORE UPDATE OF seq, employer_id, id, content_hash, worker_id, gear_kind_id, equipment_id, quantity, condition, issued_on, due_on, note, recorded_at, received_at, recorded_by ON gear_issues
BEGIN SELECT RAISE(ABORT, 'append-only: a record of gear_issues may only be marked, once'); END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER gear_issues_acknowledged_by_once BEFORE UPDATE OF acknowledged_by ON gear_issues
WHEN OLD.acknowledged_by IS NOT NULL
BEGIN SELECT RAISE(ABORT, 'append-only: a record of gear_issues may only be marked, once'); END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER gear_issues_closed_by_once BEFORE UPDATE OF closed_by ON gear_issues
WHEN OLD.closed_by IS NOT NULL
BEGIN SELECT RAISE(ABORT, 'append-only: a record of gear_issues may only be marked, once'); END;
-- +goose StatementEnd
