-- +goose Up
-- What workers say of their tallies, statements voided, payments that failed, final and correction runs, and what is owed for weeks already paid.

CREATE TABLE tally_answers (
    employer_id  uuid        NOT NULL REFERENCES employers (id),
    id           uuid        NOT NULL,
    seq          bigint      GENERATED ALWAYS AS IDENTITY,
    content_hash text        NOT NULL,
    tally_id     uuid        NOT NULL,
    answer       text        NOT NULL CHECK (answer IN ('confirmed', 'disputed')),
    note         text        NOT NULL,
    answered_at  timestamptz NOT NULL,
    answered_by  uuid        NOT NULL,
    PRIMARY KEY (employer_id, id),
    UNIQUE (employer_id, seq),
    FOREIGN KEY (employer_id, tally_id) REFERENCES tallies (employer_id, id),
    FOREIGN KEY (employer_id, answered_by) REFERENCES accounts (employer_id, id)
);
CREATE INDEX tally_answers_by_tally ON tally_answers (employer_id, tally_id, seq);

ALTER TABLE pay_runs ADD COLUMN ending text NOT NULL DEFAULT '' CHECK (ending IN ('', 'discharge', 'quit', 'quit_with_notice'));
ALTER TABLE pay_runs ADD COLUMN through_date date;

-- Whom a final or a correction run is for; a regular run is for everybody.
CREATE TABLE pay_run_workers (
    employer_id uuid NOT NULL REFERENCES employers (id),
    run_id      uuid NOT NULL,
    worker_id   uuid NOT NULL,
    PRIMARY KEY (employer_id, run_id, worker_id),
    FOREIGN KEY (employer_id, run_id) REFERENCES pay_runs (employer_id, id),
    FOREIGN KEY (employer_id, worker_id) REFERENCES workers (employer_id, id)
);

ALTER TABLE statements ADD COLUMN voided_at timestamptz;
ALTER TABLE statements ADD COLUMN voided_by uuid;
ALTER TABLE statements ADD COLUMN void_reason text NOT NULL DEFAULT '';
ALTER TABLE statements ADD COLUMN reissue_of uuid;

CREATE TABLE payment_events (
    employer_id  uuid        NOT NULL REFERENCES employers (id),
    id           uuid        NOT NULL,
    seq          bigint      GENERATED ALWAYS AS IDENTITY,
    statement_id uuid        NOT NULL,
    outcome      text        NOT NULL CHECK (outcome IN ('paid', 'failed', 'unclaimed')),
    happened_on  date        NOT NULL,
    method       text        NOT NULL,
    reference    text        NOT NULL,
    reason       text        NOT NULL,
    recorded_at  timestamptz NOT NULL,
    recorded_by  uuid        NOT NULL,
    PRIMARY KEY (employer_id, id),
    UNIQUE (employer_id, seq),
    FOREIGN KEY (employer_id, statement_id) REFERENCES statements (employer_id, id),
    FOREIGN KEY (employer_id, recorded_by) REFERENCES accounts (employer_id, id)
);
CREATE INDEX payment_events_by_statement ON payment_events (employer_id, statement_id, seq);

-- The difference between a week as it is known now and what was paid for it, in the parts that it comes from.
CREATE TABLE adjustments (
    employer_id  uuid        NOT NULL REFERENCES employers (id),
    id           uuid        NOT NULL,
    seq          bigint      GENERATED ALWAYS AS IDENTITY,
    worker_id    uuid        NOT NULL,
    for_week     date        NOT NULL,
    records_part bigint      NOT NULL,
    rules_part   bigint      NOT NULL,
    engine_part  bigint      NOT NULL,
    lines        text        NOT NULL,
    digest       text        NOT NULL,
    state        text        NOT NULL CHECK (state IN ('proposed', 'accepted', 'carried', 'overtaken')),
    parts        text        NOT NULL,
    amount       bigint      NOT NULL CHECK (amount >= 0),
    reason       text        NOT NULL,
    proposed_at  timestamptz NOT NULL,
    proposed_by  uuid        NOT NULL,
    decided_at   timestamptz,
    decided_by   uuid,
    version      bigint      NOT NULL,
    PRIMARY KEY (employer_id, id),
    UNIQUE (employer_id, seq),
    FOREIGN KEY (employer_id, worker_id) REFERENCES workers (employer_id, id),
    FOREIGN KEY (employer_id, proposed_by) REFERENCES accounts (employer_id, id),
    FOREIGN KEY (employer_id, decided_by) REFERENCES accounts (employer_id, id)
);
CREATE INDEX adjustments_by_worker ON adjustments (employer_id, worker_id, for_week);

-- Which statement pays an adjustment.
CREATE TABLE statement_adjustments (
    employer_id   uuid NOT NULL REFERENCES employers (id),
    statement_id  uuid NOT NULL,
    adjustment_id uuid NOT NULL,
    PRIMARY KEY (employer_id, statement_id, adjustment_id),
    FOREIGN KEY (employer_id, statement_id) REFERENCES statements (employer_id, id),
    FOREIGN KEY (employer_id, adjustment_id) REFERENCES adjustments (employer_id, id)
);
CREATE INDEX statement_adjustments_by_adjustment ON statement_adjustments (employer_id, adjustment_id);

-- +goose StatementBegin
DO $$
DECLARE t text;
BEGIN
    FOREACH t IN ARRAY ARRAY['tally_answers', 'payment_events'] LOOP
        EXECUTE format('CREATE TRIGGER keep BEFORE UPDATE OR DELETE ON %I FOR EACH ROW EXECUTE FUNCTION refuse_change()', t);
    END LOOP;
    FOREACH t IN ARRAY ARRAY['tally_answers', 'pay_run_workers', 'payment_events', 'adjustments', 'statement_adjustments'] LOOP
        EXECUTE format('ALTER TABLE %I ENABLE ROW LEVEL SECURITY', t);
        EXECUTE format('ALTER TABLE %I FORCE ROW LEVEL SECURITY', t);
        EXECUTE format('CREATE POLICY own_employer ON %I USING (employer_id = (SELECT nullif(current_setting(''palmero.employer'', true), '''')::uuid))', t);
    END LOOP;
END $$;
-- +goose StatementEnd

-- A statement is what it was when it was made: its figures never change, and only a draft's is taken away, to be made anew.

-- +goose StatementBegin
CREATE FUNCTION keep_statement() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    IF EXISTS (SELECT 1 FROM pay_runs r WHERE r.employer_id = OLD.employer_id AND r.id = OLD.run_id AND r.state <> 'draft') THEN
        RAISE EXCEPTION 'append-only: a statement of an approved run may not be deleted' USING ERRCODE = 'integrity_constraint_violation';
    END IF;
    RETURN OLD;
END $$;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE FUNCTION keep_statement_line() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    IF EXISTS (SELECT 1 FROM statements s JOIN pay_runs r ON r.employer_id = s.employer_id AND r.id = s.run_id
               WHERE s.employer_id = OLD.employer_id AND s.id = OLD.statement_id AND r.state <> 'draft') THEN
        RAISE EXCEPTION 'append-only: a line of an approved statement may not be deleted' USING ERRCODE = 'integrity_constraint_violation';
    END IF;
    RETURN OLD;
END $$;
-- +goose StatementEnd

CREATE TRIGGER keep BEFORE DELETE ON statements FOR EACH ROW EXECUTE FUNCTION keep_statement();
CREATE TRIGGER keep_figures BEFORE UPDATE OF run_id, worker_id, week_start, heading, detail, figures, week, straight_time, premiums, other, gross, taxes, deductions,
    reimbursements, net, worked_minutes, reissue_of ON statements FOR EACH ROW EXECUTE FUNCTION refuse_change();
CREATE TRIGGER keep BEFORE DELETE ON statement_lines FOR EACH ROW EXECUTE FUNCTION keep_statement_line();
CREATE TRIGGER keep_line BEFORE UPDATE ON statement_lines FOR EACH ROW EXECUTE FUNCTION refuse_change();
