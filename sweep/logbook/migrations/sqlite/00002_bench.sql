-- +goose Up

-- bench is the board behind the port, or its place at the machine; imported is 1 for a
-- run that was recorded elsewhere. Rows are numbered in the order in which they are
-- written: the clock may have been set back.
ALTER TABLE runs ADD COLUMN bench TEXT NOT NULL DEFAULT '';
ALTER TABLE runs ADD COLUMN imported INTEGER NOT NULL DEFAULT 0;
CREATE INDEX runs_by_bench ON runs (bench, id);
