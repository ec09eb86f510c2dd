-- +goose Up
-- The number by which an agency knows what was reported to it; empty where it gave none.
ALTER TABLE incident_events ADD COLUMN agency_reference text NOT NULL DEFAULT '';
