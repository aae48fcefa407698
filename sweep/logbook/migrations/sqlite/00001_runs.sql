-- +goose Up

-- One row for each run: what it was made on, and what it came to, taken from its
-- entries as they are saved, so that lists and charts need not read those.
CREATE TABLE runs (
    id                      INTEGER PRIMARY KEY,
    run                     TEXT    NOT NULL UNIQUE,
    format                  INTEGER NOT NULL,
    begun_ms                INTEGER NOT NULL, -- since 1970, UTC
    command                 TEXT    NOT NULL,
    program                 TEXT    NOT NULL,
    port                    TEXT    NOT NULL,
    virtual                 TEXT    NOT NULL,
    unit                    TEXT    NOT NULL,
    head                    TEXT    NOT NULL,
    job                     TEXT    NOT NULL,
    tape                    TEXT    NOT NULL,
    operator                TEXT    NOT NULL,
    restore_of              TEXT    NOT NULL,
    proof_of                TEXT    NOT NULL,
    batch                   TEXT    NOT NULL,
    study                   TEXT    NOT NULL,
    trial                   INTEGER NOT NULL, -- of the study's plan; 0: none
    temperature_c           REAL,
    humidity_percent        REAL,
    found                   INTEGER NOT NULL DEFAULT 0, -- 1: as found is saved
    outcome                 TEXT    NOT NULL DEFAULT '', -- '' until the run has ended
    tape_s                  REAL    NOT NULL DEFAULT 0,
    found_off_arcmin        REAL,
    found_off_sd_arcmin     REAL,
    left_off_arcmin         REAL,
    left_off_sd_arcmin      REAL,
    optimum_sd_arcmin       REAL,
    gearing_arcmin_per_turn REAL,
    backlash_deg            REAL,
    backlash_sd_deg         REAL
);
CREATE INDEX runs_by_unit ON runs (unit, begun_ms);
CREATE INDEX runs_by_job ON runs (job, begun_ms);
CREATE INDEX runs_by_batch ON runs (batch, begun_ms);
CREATE INDEX runs_by_outcome ON runs (outcome, begun_ms);
CREATE INDEX runs_by_study ON runs (study, begun_ms);
CREATE INDEX runs_by_time ON runs (begun_ms);
CREATE INDEX runs_by_proof ON runs (proof_of);

-- Entries as they are saved, one by one, as JSON.
CREATE TABLE entries (
    run  INTEGER NOT NULL REFERENCES runs (id),
    n    INTEGER NOT NULL, -- from 0
    body BLOB    NOT NULL,
    PRIMARY KEY (run, n)
) WITHOUT ROWID;

-- The entries of a run that has ended, in one piece: JSON lines, compressed by
-- Zstandard. What is added later stands in entries again.
CREATE TABLE packs (
    run     INTEGER PRIMARY KEY REFERENCES runs (id),
    entries INTEGER NOT NULL,
    body    BLOB    NOT NULL
);
