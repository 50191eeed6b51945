-- +goose Up
-- A batch that is being uploaded (state 1) has no results. What is decided ahead lies in a
-- revision, or a pass, that is nobody's; where it lay before, older servers take it for theirs.
DELETE FROM result WHERE batch IN (SELECT id FROM batch WHERE state = 1);
DELETE FROM result_data WHERE batch IN (SELECT id FROM batch WHERE state = 1);
