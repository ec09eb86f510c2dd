-- +goose Up
-- What a year's hours and a season's counts are summed from. The records of work remain the evidence: what each adds is entered here as it comes in, and taken away again once
-- a correction takes its place. Entries are only added; whom and what they name, the records hold to be there.

-- Minutes at work of a worker's day in a garden: everything but meal periods free of duty, and of what is still open nothing yet. A day of counts alone is entered with none.
CREATE TABLE time_ledger (
    employer_id TEXT    NOT NULL REFERENCES employers (id),
    workday     TEXT    NOT NULL,
    worker_id   TEXT    NOT NULL,
    garden_id   TEXT    NOT NULL,
    entry_id    TEXT    NOT NULL,
    minutes     INTEGER NOT NULL,
    PRIMARY KEY (employer_id, workday, worker_id, garden_id, entry_id)
) WITHOUT ROWID;

-- Pieces that were counted on a day in a block at an operation. A lot counts once, however many shared it.
CREATE TABLE count_ledger (
    employer_id  TEXT    NOT NULL REFERENCES employers (id),
    workday      TEXT    NOT NULL,
    block_id     TEXT    NOT NULL,
    operation_id TEXT    NOT NULL,
    entry_id     TEXT    NOT NULL,
    pieces       INTEGER NOT NULL,
    PRIMARY KEY (employer_id, workday, block_id, operation_id, entry_id)
) WITHOUT ROWID;

INSERT INTO time_ledger (employer_id, workday, worker_id, garden_id, entry_id, minutes)
SELECT employer_id, workday, worker_id, garden_id, '00000000-0000-0000-0000-000000000000', sum(minutes) FROM (
    SELECT employer_id, workday, worker_id, garden_id,
        CASE kind WHEN 'meal' THEN 0 ELSE coalesce(minutes, (CAST(strftime('%s', ended_at) AS INTEGER) - CAST(strftime('%s', started_at) AS INTEGER)) / 60, 0) END AS minutes
    FROM time_entries WHERE superseded_by IS NULL
    UNION ALL
    SELECT t.employer_id, t.workday, t.worker_id, b.garden_id, 0 FROM tallies t JOIN blocks b ON b.employer_id = t.employer_id AND b.id = t.block_id WHERE t.superseded_by IS NULL
) recorded GROUP BY employer_id, workday, worker_id, garden_id;

INSERT INTO count_ledger (employer_id, workday, block_id, operation_id, entry_id, pieces)
SELECT employer_id, workday, block_id, operation_id, '00000000-0000-0000-0000-000000000000', sum(pieces) FROM (
    SELECT employer_id, workday, block_id, operation_id, pieces FROM tallies WHERE superseded_by IS NULL AND lot_id IS NULL
    UNION ALL
    SELECT employer_id, workday, block_id, operation_id, pieces FROM lots WHERE superseded_by IS NULL
) counted GROUP BY employer_id, workday, block_id, operation_id;

DROP INDEX tallies_summed;

-- +goose StatementBegin
CREATE TRIGGER time_ledger_unchanged BEFORE UPDATE ON time_ledger
BEGIN SELECT RAISE(ABORT, 'append-only: time_ledger may not be changed or deleted'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER time_ledger_keep BEFORE DELETE ON time_ledger
BEGIN SELECT RAISE(ABORT, 'append-only: time_ledger may not be changed or deleted'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER count_ledger_unchanged BEFORE UPDATE ON count_ledger
BEGIN SELECT RAISE(ABORT, 'append-only: count_ledger may not be changed or deleted'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER count_ledger_keep BEFORE DELETE ON count_ledger
BEGIN SELECT RAISE(ABORT, 'append-only: count_ledger may not be changed or deleted'); END;
-- +goose StatementEnd
