-- +goose Up
-- Which item of a list a photo is of, and the photo made small; a worker's own word, from the own account, on a training that was signed off.

ALTER TABLE photos ADD COLUMN item TEXT NOT NULL DEFAULT '';
ALTER TABLE photos ADD COLUMN thumbnail TEXT NOT NULL DEFAULT '';

CREATE TABLE sign_off_acknowledgements (
    seq             INTEGER PRIMARY KEY AUTOINCREMENT,
    employer_id     TEXT     NOT NULL REFERENCES employers (id),
    id              TEXT     NOT NULL,
    content_hash    TEXT     NOT NULL,
    sign_off_id     TEXT     NOT NULL,
    worker_id       TEXT     NOT NULL,
    received_at     DATETIME NOT NULL,
    acknowledged_by TEXT     NOT NULL,
    UNIQUE (employer_id, id),
    UNIQUE (employer_id, sign_off_id),
    FOREIGN KEY (employer_id, sign_off_id) REFERENCES training_sign_offs (employer_id, id),
    FOREIGN KEY (employer_id, worker_id) REFERENCES workers (employer_id, id),
    FOREIGN KEY (employer_id, acknowledged_by) REFERENCES accounts (employer_id, id)
);

-- +goose StatementBegin
CREATE TRIGGER sign_off_acknowledgements_no_update BEFORE UPDATE ON sign_off_acknowledgements
BEGIN SELECT RAISE(ABORT, 'append-only: sign_off_acknowledgements may not be changed or deleted'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER sign_off_acknowledgements_no_delete BEFORE DELETE ON sign_off_acknowledgements
BEGIN SELECT RAISE(ABORT, 'append-only: sign_off_acknowledgements may not be changed or deleted'); END;
-- +goose StatementEnd
