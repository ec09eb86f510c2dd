-- +goose Up
-- How a season goes: what a block may bear, and what labor cost in it.

-- Bunches that are expected on one palm of the block; 0 where nobody has said.
ALTER TABLE blocks ADD COLUMN bunches_per_palm INTEGER NOT NULL DEFAULT 0 CHECK (bunches_per_palm >= 0);

-- Counts that stand are summed by day, block and operation without a look at the rest of the record.
CREATE INDEX tallies_summed ON tallies (employer_id, workday, block_id, operation_id, pieces) WHERE superseded_by IS NULL AND lot_id IS NULL;

-- What the labor of an approved run cost, by block and operation. Entries are only added: what is void or withdrawn is entered once more, taken away.
CREATE TABLE labor_costs (
    seq INTEGER PRIMARY KEY AUTOINCREMENT,
    employer_id    TEXT    NOT NULL REFERENCES employers (id),
    run_id         TEXT    NOT NULL,
    entry_no       INTEGER NOT NULL CHECK (entry_no > 0),
    week_start     TEXT    NOT NULL,
    block          TEXT    NOT NULL,
    operation      TEXT    NOT NULL,
    worked_minutes INTEGER NOT NULL,
    straight_time  INTEGER NOT NULL,
    premiums       INTEGER NOT NULL,
    other          INTEGER NOT NULL,
    UNIQUE (employer_id, run_id, entry_no),
    FOREIGN KEY (employer_id, run_id) REFERENCES pay_runs (employer_id, id)
);
CREATE INDEX labor_costs_by_week ON labor_costs (employer_id, week_start);

-- +goose StatementBegin
CREATE TRIGGER labor_costs_unchanged BEFORE UPDATE ON labor_costs
BEGIN SELECT RAISE(ABORT, 'append-only: labor_costs may not be changed or deleted'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER labor_costs_keep BEFORE DELETE ON labor_costs
BEGIN SELECT RAISE(ABORT, 'append-only: labor_costs may not be changed or deleted'); END;
-- +goose StatementEnd
