-- +goose Up
-- The last day on which there is work in a block, or at an operation; nothing, while it goes on.
ALTER TABLE blocks ADD COLUMN ended_on date;
ALTER TABLE operations ADD COLUMN ended_on date;
