-- +goose Up
-- An employer's own rulebooks: an ordinance, a contract, an announced wage. Like rates they are superseded and never changed; a withdrawal is a record without a text that
-- takes the place of the one withdrawn.

CREATE TABLE local_books (
    employer_id   uuid        NOT NULL REFERENCES employers (id),
    id            uuid        NOT NULL,
    seq           bigint      GENERATED ALWAYS AS IDENTITY,
    content_hash  text        NOT NULL,
    book_key      text        NOT NULL,
    kind          text        NOT NULL CHECK (kind IN ('ordinance', 'contract', 'announcement')),
    parent        text        NOT NULL,
    title         text        NOT NULL,
    body          text        NOT NULL,
    digest        text        NOT NULL,
    garden_ids    text        NOT NULL,
    worker_ids    text        NOT NULL,
    withdrawn     boolean     NOT NULL,
    recorded_at   timestamptz NOT NULL,
    received_at   timestamptz NOT NULL,
    recorded_by   uuid        NOT NULL,
    reason        text        NOT NULL,
    superseded_by uuid,
    PRIMARY KEY (employer_id, id),
    UNIQUE (employer_id, seq),
    FOREIGN KEY (employer_id, recorded_by) REFERENCES accounts (employer_id, id),
    FOREIGN KEY (employer_id, superseded_by) REFERENCES local_books (employer_id, id) DEFERRABLE INITIALLY DEFERRED,
    CHECK (withdrawn = (body = ''))
);

CREATE UNIQUE INDEX local_books_employer_id_book_key_key ON local_books (employer_id, book_key) WHERE superseded_by IS NULL AND NOT withdrawn;

CREATE TRIGGER append_only BEFORE UPDATE ON local_books FOR EACH ROW EXECUTE FUNCTION allow_superseding_once();
CREATE TRIGGER keep BEFORE DELETE ON local_books FOR EACH ROW EXECUTE FUNCTION refuse_change();
ALTER TABLE local_books ENABLE ROW LEVEL SECURITY;
ALTER TABLE local_books FORCE ROW LEVEL SECURITY;
CREATE POLICY own_employer ON local_books USING (employer_id = (SELECT nullif(current_setting('palmero.employer', true), '')::uuid));
