-- +goose Up
-- The audit trail is read from its end back: all of it, what one account did, or what was done with one kind of record; and a
-- seal is found by the entries that it covers.

CREATE INDEX audit_entries_by_time ON audit_entries (employer_id, at, seq);
CREATE INDEX audit_entries_by_account ON audit_entries (employer_id, account_id, at, seq);
CREATE INDEX audit_entries_by_kind ON audit_entries (employer_id, subject_kind, at, seq);
CREATE INDEX audit_seals_by_reach ON audit_seals (employer_id, last_tx, last_seq);
