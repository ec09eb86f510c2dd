-- +goose Up
-- What was asked of a crew's draft, once each: a phone without a signal may send the same again after hours, however many came in between. Commands from before this
-- were remembered in the draft itself, which no longer reads them.

CREATE TABLE draft_commands (
    employer_id  uuid        NOT NULL REFERENCES employers (id),
    id           uuid        NOT NULL,
    seq          bigint      GENERATED ALWAYS AS IDENTITY,
    content_hash text        NOT NULL,
    draft_id     uuid        NOT NULL,
    outcome      text        NOT NULL,
    received_at  timestamptz NOT NULL,
    recorded_by  uuid        NOT NULL,
    PRIMARY KEY (employer_id, id),
    UNIQUE (employer_id, seq),
    FOREIGN KEY (employer_id, draft_id) REFERENCES sheet_drafts (employer_id, id),
    FOREIGN KEY (employer_id, recorded_by) REFERENCES accounts (employer_id, id)
);

CREATE TRIGGER keep BEFORE UPDATE OR DELETE ON draft_commands FOR EACH ROW EXECUTE FUNCTION refuse_change();
ALTER TABLE draft_commands ENABLE ROW LEVEL SECURITY;
ALTER TABLE draft_commands FORCE ROW LEVEL SECURITY;
CREATE POLICY own_employer ON draft_commands USING (employer_id = (SELECT nullif(current_setting('palmero.employer', true), '')::uuid));
