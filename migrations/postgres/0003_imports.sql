-- +goose Up
-- How an employer's spreadsheets are to be read: the last mapping of each kind of file.

CREATE TABLE import_mappings (
    employer_id uuid        NOT NULL REFERENCES employers (id),
    kind        text        NOT NULL CHECK (kind IN ('crew-sheets', 'workers', 'blocks', 'piece-rates', 'hourly-rates')),
    mapping     text        NOT NULL,
    updated_at  timestamptz NOT NULL,
    updated_by  uuid        NOT NULL,
    PRIMARY KEY (employer_id, kind),
    FOREIGN KEY (employer_id, updated_by) REFERENCES accounts (employer_id, id)
);

CREATE TRIGGER keep BEFORE DELETE ON import_mappings FOR EACH ROW EXECUTE FUNCTION refuse_change();
ALTER TABLE import_mappings ENABLE ROW LEVEL SECURITY;
ALTER TABLE import_mappings FORCE ROW LEVEL SECURITY;
CREATE POLICY own_employer ON import_mappings USING (employer_id = (SELECT nullif(current_setting('palmero.employer', true), '')::uuid));
