-- +goose Up
-- How an employer's spreadsheets are read is changed from a version, like everything that is kept: two people do not overwrite each other.

ALTER TABLE import_mappings ADD COLUMN version bigint NOT NULL DEFAULT 1 CHECK (version >= 1);
