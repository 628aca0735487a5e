-- What each saw did with its time, summed up by shop day. Derived: anything here
-- can be summed anew from the readings.

-- +goose Up
CREATE TABLE saw_day (
    saw_id   INTEGER NOT NULL REFERENCES saw (id),
    day      TEXT    NOT NULL, -- the date on which the day's shifts begin, 2026-03-02
    start_at INTEGER NOT NULL,
    end_at   INTEGER NOT NULL,
    sums     BLOB    NOT NULL, -- packed by analyze/downtime
    PRIMARY KEY (saw_id, day)
);

-- Beside the sums, so that whoever wants those of a year reads no events.
CREATE TABLE saw_day_events (
    saw_id INTEGER NOT NULL REFERENCES saw (id),
    day    TEXT    NOT NULL,
    events BLOB    NOT NULL,
    PRIMARY KEY (saw_id, day)
);

-- Days that end by summed_until are summed up, under the rules whose digest is
-- summed_rules. A reading or a person's word about an earlier time lowers it.
ALTER TABLE saw ADD COLUMN summed_until INTEGER NOT NULL DEFAULT -4611686018427387904;
ALTER TABLE saw ADD COLUMN summed_rules TEXT NOT NULL DEFAULT '';
