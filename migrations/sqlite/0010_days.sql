-- +goose Up
-- A crew's day while its lead is still writing it.

-- The day of a crew as its lead keeps it on a page. It is no evidence: what is sent becomes records, and leaves the draft.
CREATE TABLE sheet_drafts (
    seq          INTEGER PRIMARY KEY AUTOINCREMENT,
    employer_id  TEXT        NOT NULL REFERENCES employers (id),
    id           TEXT        NOT NULL,
    content_hash TEXT        NOT NULL,
    crew_id      TEXT        NOT NULL,
    workday      TEXT        NOT NULL,
    draft        TEXT        NOT NULL,
    waiting      INTEGER     NOT NULL CHECK (waiting >= 0),
    version      INTEGER     NOT NULL,
    created_at   DATETIME    NOT NULL,
    updated_at   DATETIME    NOT NULL,
    UNIQUE (employer_id, id),
    FOREIGN KEY (employer_id, crew_id) REFERENCES crews (employer_id, id)
);
CREATE INDEX sheet_drafts_waiting ON sheet_drafts (employer_id, workday, crew_id) WHERE waiting > 0;

-- +goose StatementBegin
CREATE TRIGGER sheet_drafts_no_delete BEFORE DELETE ON sheet_drafts
BEGIN SELECT RAISE(ABORT, 'append-only: sheet_drafts may not be changed or deleted'); END;
-- +goose StatementEnd
