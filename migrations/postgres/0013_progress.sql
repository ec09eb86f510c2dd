-- +goose Up
-- How a season goes: what a block may bear, and what labor cost in it.

-- Bunches that are expected on one palm of the block; 0 where nobody has said.
ALTER TABLE blocks ADD COLUMN bunches_per_palm bigint NOT NULL DEFAULT 0 CHECK (bunches_per_palm >= 0);

-- Counts that stand are summed by day, block and operation without a look at the rest of the record.
CREATE INDEX tallies_summed ON tallies (employer_id, workday, block_id, operation_id, pieces) WHERE superseded_by IS NULL AND lot_id IS NULL;

-- What the labor of an approved run cost, by block and operation. Entries are only added: what is void or withdrawn is entered once more, taken away.
CREATE TABLE labor_costs (
    employer_id    uuid   NOT NULL REFERENCES employers (id),
    seq            bigint GENERATED ALWAYS AS IDENTITY,
    run_id         uuid   NOT NULL,
    entry_no       bigint NOT NULL CHECK (entry_no > 0),
    week_start     date   NOT NULL,
    block          text   NOT NULL,
    operation      text   NOT NULL,
    worked_minutes bigint NOT NULL,
    straight_time  bigint NOT NULL,
    premiums       bigint NOT NULL,
    other          bigint NOT NULL,
    PRIMARY KEY (employer_id, run_id, entry_no),
    UNIQUE (employer_id, seq),
    FOREIGN KEY (employer_id, run_id) REFERENCES pay_runs (employer_id, id)
);
CREATE INDEX labor_costs_by_week ON labor_costs (employer_id, week_start);

CREATE TRIGGER keep BEFORE UPDATE OR DELETE ON labor_costs FOR EACH ROW EXECUTE FUNCTION refuse_change();
ALTER TABLE labor_costs ENABLE ROW LEVEL SECURITY;
ALTER TABLE labor_costs FORCE ROW LEVEL SECURITY;
CREATE POLICY own_employer ON labor_costs USING (employer_id = (SELECT nullif(current_setting('palmero.employer', true), '')::uuid));
