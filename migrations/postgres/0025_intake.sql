-- +goose Up
-- Files on their way in: how far each has come, for whoever asks any of several servers, and what became of it.

-- A file that is taken in, or only tried. It is no evidence: what it brings becomes records, each with its audit entry. The file itself is kept only while somebody
-- is still at it on the pages.
CREATE TABLE imports (
    employer_id  uuid        NOT NULL REFERENCES employers (id),
    id           uuid        NOT NULL,
    seq          bigint      GENERATED ALWAYS AS IDENTITY,
    content_hash text        NOT NULL,
    kind         text        NOT NULL CHECK (kind IN ('crew-sheets', 'workers', 'blocks', 'piece-rates', 'hourly-rates')),
    reference    text        NOT NULL,
    state        text        NOT NULL CHECK (state IN ('kept', 'checking', 'storing', 'checked', 'stored', 'refused', 'failed', 'dropped')),
    rows_read    bigint      NOT NULL CHECK (rows_read >= 0),
    rows_done    bigint      NOT NULL CHECK (rows_done >= 0),
    begun_at     timestamptz NOT NULL,
    told_at      timestamptz NOT NULL,
    ended_at     timestamptz,
    begun_by     uuid        NOT NULL,
    answers      text        NOT NULL,
    report       text        NOT NULL,
    file         text        NOT NULL,
    version      bigint      NOT NULL CHECK (version >= 1),
    PRIMARY KEY (employer_id, id),
    UNIQUE (employer_id, seq),
    FOREIGN KEY (employer_id, begun_by) REFERENCES accounts (employer_id, id)
);
CREATE INDEX imports_with_file ON imports (employer_id, begun_at) WHERE file <> '';

CREATE TRIGGER keep BEFORE DELETE ON imports FOR EACH ROW EXECUTE FUNCTION refuse_change();
ALTER TABLE imports ENABLE ROW LEVEL SECURITY;
ALTER TABLE imports FORCE ROW LEVEL SECURITY;
CREATE POLICY own_employer ON imports USING (employer_id = (SELECT nullif(current_setting('palmero.employer', true), '')::uuid));

-- Statistics are gathered by the owner of the tables. Whoever has just filled a database to measure it, as the serving role, asks for that here.
-- +goose StatementBegin
CREATE FUNCTION gather_statistics() RETURNS void LANGUAGE plpgsql SECURITY DEFINER SET search_path = pg_catalog AS $$
BEGIN
    ANALYZE;
END
$$;
-- +goose StatementEnd
