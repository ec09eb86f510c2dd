-- +goose Up

-- Most counts are of no lot. An index that held them all under one missing lot tempted SQLite, which keeps no statistics, to look for "no lot" by it and read every count there ever was.
DROP INDEX tallies_by_lot;
CREATE INDEX tallies_by_lot ON tallies (employer_id, lot_id) WHERE lot_id IS NOT NULL;
