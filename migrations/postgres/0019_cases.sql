-- +goose Up
-- Which item of a list a photo is of, and the photo made small; a worker's own word, from the own account, on a training that was signed off.

ALTER TABLE photos ADD COLUMN item text NOT NULL DEFAULT '';
ALTER TABLE photos ADD COLUMN thumbnail text NOT NULL DEFAULT '';

CREATE TABLE sign_off_acknowledgements (
    employer_id     uuid        NOT NULL REFERENCES employers (id),
    id              uuid        NOT NULL,
    seq             bigint      GENERATED ALWAYS AS IDENTITY,
    content_hash    text        NOT NULL,
    sign_off_id     uuid        NOT NULL,
    worker_id       uuid        NOT NULL,
    received_at     timestamptz NOT NULL,
    acknowledged_by uuid        NOT NULL,
    PRIMARY KEY (employer_id, id),
    UNIQUE (employer_id, seq),
    UNIQUE (employer_id, sign_off_id),
    FOREIGN KEY (employer_id, sign_off_id) REFERENCES training_sign_offs (employer_id, id),
    FOREIGN KEY (employer_id, worker_id) REFERENCES workers (employer_id, id),
    FOREIGN KEY (employer_id, acknowledged_by) REFERENCES accounts (employer_id, id)
);

CREATE TRIGGER keep BEFORE UPDATE OR DELETE ON sign_off_acknowledgements FOR EACH ROW EXECUTE FUNCTION refuse_change();
ALTER TABLE sign_off_acknowledgements ENABLE ROW LEVEL SECURITY;
ALTER TABLE sign_off_acknowledgements FORCE ROW LEVEL SECURITY;
CREATE POLICY own_employer ON sign_off_acknowledgements USING (employer_id = (SELECT nullif(current_setting('palmero.employer', true), '')::uuid));
