-- +goose Up
-- Who decides chunks while they are uploaded, and by what: empty for nobody.
ALTER TABLE batch ADD COLUMN ahead TEXT NOT NULL DEFAULT '';
