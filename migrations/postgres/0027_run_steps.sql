-- +goose Up
-- The steps of pay runs that take a while: how far each has come, for whoever asks any of several servers, and what became of it.

-- The last step of each run; one that drafts the run is here before the run is. It is no evidence, and nothing of the step itself stands here: what it does is kept all at once, at its end.
CREATE TABLE run_steps (
    employer_id  uuid        NOT NULL REFERENCES employers (id),
    run_id       uuid        NOT NULL,
    id           uuid        NOT NULL,
    kind         text        NOT NULL CHECK (kind IN ('draft', 'correction', 'final', 'redraft', 'approve', 'withdraw')),
    state        text        NOT NULL CHECK (state IN ('going', 'taken', 'failed')),
    workers_of   bigint      NOT NULL CHECK (workers_of >= 0),
    workers_done bigint      NOT NULL CHECK (workers_done >= 0),
    begun_at     timestamptz NOT NULL,
    told_at      timestamptz NOT NULL,
    ended_at     timestamptz,
    begun_by     uuid        NOT NULL,
    asked        text        NOT NULL,
    cause        text        NOT NULL,
    PRIMARY KEY (employer_id, run_id),
    FOREIGN KEY (employer_id, begun_by) REFERENCES accounts (employer_id, id)
);

CREATE TRIGGER keep BEFORE DELETE ON run_steps FOR EACH ROW EXECUTE FUNCTION refuse_change();
ALTER TABLE run_steps ENABLE ROW LEVEL SECURITY;
ALTER TABLE run_steps FORCE ROW LEVEL SECURITY;
CREATE POLICY own_employer ON run_steps USING (employer_id = (SELECT nullif(current_setting('palmero.employer', true), '')::uuid));
