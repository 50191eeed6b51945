-- +goose Up
-- A chunk that is sent again is compared with the one that is kept, byte by byte.
ALTER TABLE chunk DROP COLUMN sha256;
