-- +goose Up
-- A crew's day while its lead is still writing it.

-- The day of a crew as its lead keeps it on a page. It is no evidence: what is sent becomes records, and leaves the draft.
CREATE TABLE sheet_drafts (
    employer_id  uuid        NOT NULL REFERENCES employers (id),
    id           uuid        NOT NULL,
    seq          bigint      GENERATED ALWAYS AS IDENTITY,
    content_hash text        NOT NULL,
    crew_id      uuid        NOT NULL,
    workday      date        NOT NULL,
    draft        text        NOT NULL,
    waiting      bigint      NOT NULL CHECK (waiting >= 0),
    version      bigint      NOT NULL,
    created_at   timestamptz NOT NULL,
    updated_at   timestamptz NOT NULL,
    PRIMARY KEY (employer_id, id),
    UNIQUE (employer_id, seq),
    FOREIGN KEY (employer_id, crew_id) REFERENCES crews (employer_id, id)
);
CREATE INDEX sheet_drafts_waiting ON sheet_drafts (employer_id, workday, crew_id) WHERE waiting > 0;

CREATE TRIGGER keep BEFORE DELETE ON sheet_drafts FOR EACH ROW EXECUTE FUNCTION refuse_change();
ALTER TABLE sheet_drafts ENABLE ROW LEVEL SECURITY;
ALTER TABLE sheet_drafts FORCE ROW LEVEL SECURITY;
CREATE POLICY own_employer ON sheet_drafts USING (employer_id = (SELECT nullif(current_setting('palmero.employer', true), '')::uuid));
