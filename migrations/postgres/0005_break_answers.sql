-- +goose Up
-- What the clerk answers where the records of a day speak of a break that was not given as it is owed.

ALTER TABLE pay_run_problems ADD COLUMN question text NOT NULL DEFAULT '';

CREATE TABLE break_answers (
    employer_id  uuid        NOT NULL REFERENCES employers (id),
    id           uuid        NOT NULL,
    seq          bigint      GENERATED ALWAYS AS IDENTITY,
    content_hash text        NOT NULL,
    outcome      text        NOT NULL CHECK (outcome IN ('owed', 'not_owed')),
    reason       text        NOT NULL CHECK ((outcome = 'owed') = (reason = '')),
    note         text        NOT NULL CHECK (outcome = 'owed' OR note <> ''),
    answered_at  timestamptz NOT NULL,
    answered_by  uuid        NOT NULL,
    PRIMARY KEY (employer_id, id),
    UNIQUE (employer_id, seq),
    FOREIGN KEY (employer_id, answered_by) REFERENCES accounts (employer_id, id)
);

-- The questions to which it is an answer: whose day, which breaks of it, and what the records showed then.
CREATE TABLE answered_breaks (
    employer_id   uuid   NOT NULL REFERENCES employers (id),
    id            uuid   NOT NULL,
    seq           bigint GENERATED ALWAYS AS IDENTITY,
    answer_id     uuid   NOT NULL,
    worker_id     uuid   NOT NULL,
    workday       date   NOT NULL,
    about         text   NOT NULL CHECK (about IN ('meal', 'rest')),
    question      text   NOT NULL,
    superseded_by uuid,
    PRIMARY KEY (employer_id, id),
    UNIQUE (employer_id, seq),
    FOREIGN KEY (employer_id, answer_id) REFERENCES break_answers (employer_id, id),
    FOREIGN KEY (employer_id, worker_id) REFERENCES workers (employer_id, id),
    FOREIGN KEY (employer_id, superseded_by) REFERENCES break_answers (employer_id, id)
);
CREATE UNIQUE INDEX answered_breaks_standing ON answered_breaks (employer_id, worker_id, workday, about) WHERE superseded_by IS NULL;
CREATE INDEX answered_breaks_by_day ON answered_breaks (employer_id, workday, seq);
CREATE INDEX answered_breaks_by_answer ON answered_breaks (employer_id, answer_id);
CREATE INDEX answered_breaks_by_question ON answered_breaks (employer_id, question) WHERE superseded_by IS NULL;

CREATE TRIGGER keep BEFORE UPDATE OR DELETE ON break_answers FOR EACH ROW EXECUTE FUNCTION refuse_change();
CREATE TRIGGER append_only BEFORE UPDATE ON answered_breaks FOR EACH ROW EXECUTE FUNCTION allow_superseding_once();
CREATE TRIGGER keep BEFORE DELETE ON answered_breaks FOR EACH ROW EXECUTE FUNCTION refuse_change();

-- +goose StatementBegin
DO $$
DECLARE t text;
BEGIN
    FOREACH t IN ARRAY ARRAY['break_answers', 'answered_breaks'] LOOP
        EXECUTE format('ALTER TABLE %I ENABLE ROW LEVEL SECURITY', t);
        EXECUTE format('ALTER TABLE %I FORCE ROW LEVEL SECURITY', t);
        EXECUTE format('CREATE POLICY own_employer ON %I USING (employer_id = (SELECT nullif(current_setting(''palmero.employer'', true), '''')::uuid))', t);
    END LOOP;
END $$;
-- +goose StatementEnd
