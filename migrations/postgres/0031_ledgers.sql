-- +goose Up
-- What a year's hours and a season's counts are summed from. The records of work remain the evidence: what each adds is entered here as it comes in, and taken away again once
-- a correction takes its place. Entries are only added; whom and what they name, the records hold to be there.

-- Minutes at work of a worker's day in a garden: everything but meal periods free of duty, and of what is still open nothing yet. A day of counts alone is entered with none.
CREATE TABLE time_ledger (
    employer_id uuid   NOT NULL REFERENCES employers (id),
    workday     date   NOT NULL,
    worker_id   uuid   NOT NULL,
    garden_id   uuid   NOT NULL,
    entry_id    uuid   NOT NULL,
    minutes     bigint NOT NULL,
    PRIMARY KEY (employer_id, workday, worker_id, garden_id, entry_id) INCLUDE (minutes)
);

-- Pieces that were counted on a day in a block at an operation. A lot counts once, however many shared it.
CREATE TABLE count_ledger (
    employer_id  uuid   NOT NULL REFERENCES employers (id),
    workday      date   NOT NULL,
    block_id     uuid   NOT NULL,
    operation_id uuid   NOT NULL,
    entry_id     uuid   NOT NULL,
    pieces       bigint NOT NULL,
    PRIMARY KEY (employer_id, workday, block_id, operation_id, entry_id) INCLUDE (pieces)
);

-- The tables' owner is held to the policies like everybody, and they show no rows to whoever names no employer: for the time of the sums they do not hold the owner.
-- +goose StatementBegin
DO $$
DECLARE t text;
BEGIN
    FOREACH t IN ARRAY ARRAY['time_entries', 'tallies', 'lots', 'blocks'] LOOP
        EXECUTE format('ALTER TABLE %I NO FORCE ROW LEVEL SECURITY', t);
    END LOOP;
END $$;
-- +goose StatementEnd

INSERT INTO time_ledger (employer_id, workday, worker_id, garden_id, entry_id, minutes)
SELECT employer_id, workday, worker_id, garden_id, '00000000-0000-0000-0000-000000000000', sum(minutes) FROM (
    SELECT employer_id, workday, worker_id, garden_id,
        CASE kind WHEN 'meal' THEN 0 ELSE coalesce(minutes, CAST(extract(epoch FROM ended_at - started_at) AS bigint) / 60, 0) END AS minutes
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
DO $$
DECLARE t text;
BEGIN
    FOREACH t IN ARRAY ARRAY['time_entries', 'tallies', 'lots', 'blocks'] LOOP
        EXECUTE format('ALTER TABLE %I FORCE ROW LEVEL SECURITY', t);
    END LOOP;
    FOREACH t IN ARRAY ARRAY['time_ledger', 'count_ledger'] LOOP
        EXECUTE format('CREATE TRIGGER keep BEFORE UPDATE OR DELETE ON %I FOR EACH ROW EXECUTE FUNCTION refuse_change()', t);
        EXECUTE format('ALTER TABLE %I ENABLE ROW LEVEL SECURITY', t);
        EXECUTE format('ALTER TABLE %I FORCE ROW LEVEL SECURITY', t);
        EXECUTE format('CREATE POLICY own_employer ON %I USING (employer_id = (SELECT nullif(current_setting(''palmero.employer'', true), '''')::uuid))', t);
    END LOOP;
END $$;
-- +goose StatementEnd
