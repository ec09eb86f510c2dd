-- +goose Up
-- An employer's own rulebooks: an ordinance, a contract, an announced wage. Like rates they are superseded and never changed; a withdrawal is a record without a text that
-- takes the place of the one withdrawn.

CREATE TABLE local_books (
    seq           INTEGER  PRIMARY KEY AUTOINCREMENT,
    employer_id   TEXT     NOT NULL REFERENCES employers (id),
    id            TEXT     NOT NULL,
    content_hash  TEXT     NOT NULL,
    book_key      TEXT     NOT NULL,
    kind          TEXT     NOT NULL CHECK (kind IN ('ordinance', 'contract', 'announcement')),
    parent        TEXT     NOT NULL,
    title         TEXT     NOT NULL,
    body          TEXT     NOT NULL,
    digest        TEXT     NOT NULL,
    garden_ids    TEXT     NOT NULL,
    worker_ids    TEXT     NOT NULL,
    withdrawn     BOOLEAN  NOT NULL,
    recorded_at   DATETIME NOT NULL,
    received_at   DATETIME NOT NULL,
    recorded_by   TEXT     NOT NULL,
    reason        TEXT     NOT NULL,
    superseded_by TEXT,
    UNIQUE (employer_id, id),
    FOREIGN KEY (employer_id, recorded_by) REFERENCES accounts (employer_id, id),
    FOREIGN KEY (employer_id, superseded_by) REFERENCES local_books (employer_id, id) DEFERRABLE INITIALLY DEFERRED,
    CHECK (withdrawn = (body = ''))
);

CREATE UNIQUE INDEX local_books_employer_id_book_key_key ON local_books (employer_id, book_key) WHERE superseded_by IS NULL AND NOT withdrawn;

-- +goose StatementBegin
CREATE TRIGGER local_books_append_only BEFORE UPDATE OF seq, employer_id, id, content_hash, book_key, kind, parent, title, body, digest, garden_ids, worker_ids, withdrawn, recorded_at, received_at, recorded_by, reason ON local_books
BEGIN SELECT RAISE(ABORT, 'append-only: a record of local_books may only be superseded, once'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER local_books_superseded_once BEFORE UPDATE OF superseded_by ON local_books
WHEN OLD.superseded_by IS NOT NULL OR NEW.superseded_by IS NULL
BEGIN SELECT RAISE(ABORT, 'append-only: a record of local_books may only be superseded, once'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER local_books_keep BEFORE DELETE ON local_books
BEGIN SELECT RAISE(ABORT, 'append-only: local_books may not be changed or deleted'); END;
-- +goose StatementEnd
