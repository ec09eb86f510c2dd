-- +goose Up
-- What was asked of a crew's draft, once each: a phone without a signal may send the same again after hours, however many came in between. Commands from before this
-- were remembered in the draft itself, which no longer reads them.

CREATE TABLE draft_commands (
    seq          INTEGER PRIMARY KEY AUTOINCREMENT,
    employer_id  TEXT     NOT NULL REFERENCES employers (id),
    id           TEXT     NOT NULL,
    content_hash TEXT     NOT NULL,
    draft_id     TEXT     NOT NULL,
    outcome      TEXT     NOT NULL,
    received_at  DATETIME NOT NULL,
    recorded_by  TEXT     NOT NULL,
    UNIQUE (employer_id, id),
    FOREIGN KEY (employer_id, draft_id) REFERENCES sheet_drafts (employer_id, id),
    FOREIGN KEY (employer_id, recorded_by) REFERENCES accounts (employer_id, id)
);

-- +goose StatementBegin
CREATE TRIGGER draft_commands_no_update BEFORE UPDATE ON draft_commands
BEGIN SELECT RAISE(ABORT, 'append-only: draft_commands may not be changed or deleted'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER draft_commands_keep BEFORE DELETE ON draft_commands
BEGIN SELECT RAISE(ABORT, 'append-only: draft_commands may not be changed or deleted'); END;
-- +goose StatementEnd
