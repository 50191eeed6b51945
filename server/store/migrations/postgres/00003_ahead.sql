-- +goose Up
-- Who decides chunks while they are uploaded, and by what: empty for nobody. Until the
-- batch is started, results are such.
ALTER TABLE batch ADD COLUMN ahead TEXT NOT NULL DEFAULT '';
