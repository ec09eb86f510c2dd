-- +goose Up
-- What the clerk answers where the records of a day speak of a break that was not given as it is owed.

ALTER TABLE pay_run_problems ADD COLUMN question TEXT NOT NULL DEFAULT '';

CREATE TABLE break_answers (
    seq INTEGER PRIMARY KEY AUTOINCREMENT,
    employer_id  TEXT     NOT NULL REFERENCES employers (id),
    id           TEXT     NOT NULL,
    content_hash TEXT     NOT NULL,
    outcome      TEXT     NOT NULL CHECK (outcome IN ('owed', 'not_owed')),
    reason       TEXT     NOT NULL CHECK ((outcome = 'owed') = (reason = '')),
    note         TEXT     NOT NULL CHECK (outcome = 'owed' OR note <> ''),
    answered_at  DATETIME NOT NULL,
    answered_by  TEXT     NOT NULL,
    UNIQUE (employer_id, id),
    FOREIGN KEY (employer_id, answered_by) REFERENCES accounts (employer_id, id)
);

-- The questions to which it is an answer: whose day, which breaks of it, and what the records showed then.
CREATE TABLE answered_breaks (
    seq INTEGER PRIMARY KEY AUTOINCREMENT,
    employer_id   TEXT NOT NULL REFERENCES employers (id),
    id            TEXT NOT NULL,
    answer_id     TEXT NOT NULL,
    worker_id     TEXT NOT NULL,
    workday       TEXT NOT NULL,
    about         TEXT NOT NULL CHECK (about IN ('meal', 'rest')),
    question      TEXT NOT NULL,
    superseded_by TEXT,
    UNIQUE (employer_id, id),
    FOREIGN KEY (employer_id, answer_id) REFERENCES break_answers (employer_id, id),
    FOREIGN KEY (employer_id, worker_id) REFERENCES workers (employer_id, id),
    FOREIGN KEY (employer_id, superseded_by) REFERENCES break_answers (employer_id, id)
);
CREATE UNIQUE INDEX answered_breaks_standing ON answered_breaks (employer_id, worker_id, workday, about) WHERE superseded_by IS NULL;
CREATE INDEX answered_breaks_by_day ON answered_breaks (employer_id, workday, seq);
CREATE INDEX answered_breaks_by_answer ON answered_breaks (employer_id, answer_id);
CREATE INDEX answered_breaks_by_question ON answered_breaks (employer_id, question) WHERE superseded_by IS NULL;

-- +goose StatementBegin
CREATE TRIGGER break_answers_no_update BEFORE UPDATE ON break_answers
BEGIN SELECT RAISE(ABORT, 'append-only: break_answers may not be changed or deleted'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER break_answers_no_delete BEFORE DELETE ON break_answers
BEGIN SELECT RAISE(ABORT, 'append-only: break_answers may not be changed or deleted'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER answered_breaks_append_only BEFORE UPDATE OF seq, employer_id, id, answer_id, worker_id, workday, about, question ON answered_breaks
BEGIN SELECT RAISE(ABORT, 'append-only: a record of answered_breaks may only be superseded, once'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER answered_breaks_superseded_once BEFORE UPDATE OF superseded_by ON answered_breaks
WHEN OLD.superseded_by IS NOT NULL OR NEW.superseded_by IS NULL
BEGIN SELECT RAISE(ABORT, 'append-only: a record of answered_breaks may only be superseded, once'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER answered_breaks_keep BEFORE DELETE ON answered_breaks
BEGIN SELECT RAISE(ABORT, 'append-only: answered_breaks may not be changed or deleted'); END;
-- +goose StatementEnd
