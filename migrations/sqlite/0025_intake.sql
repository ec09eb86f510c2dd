-- +goose Up
-- Files on their way in: how far each has come, for whoever asks any of several servers, and what became of it.

-- A file that is taken in, or only tried. It is no evidence: what it brings becomes records, each with its audit entry. The file itself is kept only while somebody
-- is still at it on the pages.
CREATE TABLE imports (
    seq          INTEGER PRIMARY KEY AUTOINCREMENT,
    employer_id  TEXT     NOT NULL REFERENCES employers (id),
    id           TEXT     NOT NULL,
    content_hash TEXT     NOT NULL,
    kind         TEXT     NOT NULL CHECK (kind IN ('crew-sheets', 'workers', 'blocks', 'piece-rates', 'hourly-rates')),
    reference    TEXT     NOT NULL,
    state        TEXT     NOT NULL CHECK (state IN ('kept', 'checking', 'storing', 'checked', 'stored', 'refused', 'failed', 'dropped')),
    rows_read    INTEGER  NOT NULL CHECK (rows_read >= 0),
    rows_done    INTEGER  NOT NULL CHECK (rows_done >= 0),
    begun_at     DATETIME NOT NULL,
    told_at      DATETIME NOT NULL,
    ended_at     DATETIME,
    begun_by     TEXT     NOT NULL,
    answers      TEXT     NOT NULL,
    report       TEXT     NOT NULL,
    file         TEXT     NOT NULL,
    version      INTEGER  NOT NULL CHECK (version >= 1),
    UNIQUE (employer_id, id),
    FOREIGN KEY (employer_id, begun_by) REFERENCES accounts (employer_id, id)
);
CREATE INDEX imports_with_file ON imports (employer_id, begun_at) WHERE file <> '';

-- +goose StatementBegin
CREATE TRIGGER imports_no_delete BEFORE DELETE ON imports
BEGIN SELECT RAISE(ABORT, 'append-only: imports may not be deleted'); END;
-- +goose StatementEnd
