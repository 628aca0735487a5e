-- What the change plan stands on. People hand in coming work and count the
-- shelf; forecasts are kept as they were made, to be held against what came.

-- +goose Up
CREATE TABLE job (
    id         INTEGER PRIMARY KEY,
    name       TEXT    NOT NULL, -- the shop's
    saw_name   TEXT    NOT NULL, -- '' is any; it may not have sent a reading yet
    grade      TEXT    NOT NULL,
    section    TEXT    NOT NULL, -- a designation, or a JSON object with lengths in inches
    mitre      REAL    NOT NULL, -- degrees from a square cut
    bars       INTEGER NOT NULL, -- cut at once
    pieces     INTEGER NOT NULL, -- of the whole job
    due        INTEGER,
    priority   INTEGER NOT NULL, -- among jobs due at the same time
    imported   INTEGER NOT NULL, -- first: cuts from then on count for it
    after_pass INTEGER NOT NULL, -- the last pass that was stored then
    updated    INTEGER NOT NULL, -- by the latest list that had it
    who        TEXT    NOT NULL, -- handed in that list
    ended      INTEGER,
    ending     TEXT    NOT NULL DEFAULT '', -- done, dropped
    ended_who  TEXT    NOT NULL DEFAULT '',
    ended_why  TEXT    NOT NULL DEFAULT ''
);
CREATE UNIQUE INDEX job_open ON job (name) WHERE ended IS NULL;

-- Blades on the shelf. Those taken to a saw are told by the ledger.
CREATE TABLE stock_event (
    id          INTEGER PRIMARY KEY,
    action      TEXT    NOT NULL, -- received, scrapped, counted, void
    type        TEXT    NOT NULL,
    n           INTEGER NOT NULL,
    at          INTEGER NOT NULL,
    void_record INTEGER REFERENCES stock_event (id), -- the one a void strikes out
    who         TEXT    NOT NULL,
    why         TEXT    NOT NULL,
    recorded    INTEGER NOT NULL
);
CREATE INDEX stock_event_void ON stock_event (void_record) WHERE void_record IS NOT NULL;

-- Forecasts of the blades on the saws. Areas are in² to come, weighted as lives
-- are; an unknown or unbounded one is NULL. A fitting is no reference: the ledger
-- may be derived anew without it.
CREATE TABLE forecast (
    id            INTEGER PRIMARY KEY,
    saw_id        INTEGER NOT NULL REFERENCES saw (id),
    fitting_id    INTEGER NOT NULL,
    serial        TEXT    NOT NULL,
    type          TEXT    NOT NULL,
    made_at       INTEGER NOT NULL,
    method        TEXT    NOT NULL,
    area          REAL    NOT NULL, -- cut so far
    weighted_area REAL    NOT NULL,
    q10           REAL,
    q50           REAL,
    q90           REAL,
    shift_start   INTEGER NOT NULL, -- the next shift
    shift_end     INTEGER NOT NULL,
    horizon       REAL,             -- what the saw is likely to cut in it
    odds          REAL,             -- chance that the blade needs a change in it
    drivers       TEXT    NOT NULL, -- JSON
    forced        INTEGER NOT NULL  -- beside the one of its shift
);
CREATE UNIQUE INDEX forecast_shift ON forecast (saw_id, fitting_id, shift_start) WHERE forced = 0;
CREATE INDEX forecast_made ON forecast (made_at);
