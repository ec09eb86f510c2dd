-- +goose Up
-- How an employer's spreadsheets are to be read: the last mapping of each kind of file.

CREATE TABLE import_mappings (
    employer_id TEXT     NOT NULL REFERENCES employers (id),
    kind        TEXT     NOT NULL CHECK (kind IN ('crew-sheets', 'workers', 'blocks', 'piece-rates', 'hourly-rates')),
    mapping     TEXT     NOT NULL,
    updated_at  DATETIME NOT NULL,
    updated_by  TEXT     NOT NULL,
    PRIMARY KEY (employer_id, kind),
    FOREIGN KEY (employer_id, updated_by) REFERENCES accounts (employer_id, id)
);

-- +goose StatementBegin
CREATE TRIGGER import_mappings_no_delete BEFORE DELETE ON import_mappings
BEGIN SELECT RAISE(ABORT, 'append-only: import_mappings may not be deleted'); END;
-- +goose StatementEnd
