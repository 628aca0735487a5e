-- Times are integer microseconds since 1970 UTC. Lengths in inches, areas in
-- square inches, speeds in ft/min. An unknown number is NULL; an absent message
-- id is '' and an absent running number -1, so that identities can be unique.

-- +goose Up
PRAGMA application_id = 1198869612;

CREATE TABLE saw (
    id            INTEGER PRIMARY KEY,
    name          TEXT    NOT NULL UNIQUE,
    last_received INTEGER NOT NULL DEFAULT 0
);

-- How many readings of each kind are stored.
CREATE TABLE saw_count (
    saw_id INTEGER NOT NULL REFERENCES saw (id),
    kind   TEXT    NOT NULL,
    n      INTEGER NOT NULL,
    PRIMARY KEY (saw_id, kind)
) WITHOUT ROWID;

-- Every pass of a blade through metal: cuts, trips and breaks. The id is the
-- order of arrival. The unique index serves the time queries too.
CREATE TABLE pass (
    id         INTEGER PRIMARY KEY,
    saw_id     INTEGER NOT NULL REFERENCES saw (id),
    kind       TEXT    NOT NULL,
    at         INTEGER NOT NULL,
    seq        INTEGER NOT NULL,
    msg        TEXT    NOT NULL,
    received   INTEGER NOT NULL,
    seconds    REAL,
    section    TEXT    NOT NULL,
    square     REAL,
    height     REAL,
    bars       INTEGER NOT NULL,
    mitre      REAL    NOT NULL,
    from_axis  INTEGER NOT NULL,
    grade      TEXT    NOT NULL,
    band_speed REAL,
    feed       REAL,
    pressure   REAL,
    deviation  REAL,
    trip_limit REAL,
    serial     TEXT    NOT NULL,
    job        TEXT    NOT NULL,
    piece      TEXT    NOT NULL,
    purpose    TEXT    NOT NULL,
    from_share REAL    NOT NULL,
    done       REAL,              -- as the saw told it
    place      TEXT    NOT NULL,
    extra      TEXT,
    area       REAL,              -- what the pass cut; derived
    estimate   REAL,              -- of done, where the saw did not tell it; derived
    UNIQUE (saw_id, at, seq, msg)
);
CREATE INDEX pass_break ON pass (saw_id, at) WHERE kind = 'break';
CREATE INDEX pass_trip ON pass (saw_id, at) WHERE kind = 'trip';
-- Passes whose share depends on the cuts before them.
CREATE INDEX pass_untold ON pass (saw_id, at) WHERE done IS NULL AND kind <> 'cut';

CREATE TABLE blade_event (
    id       INTEGER PRIMARY KEY,
    saw_id   INTEGER NOT NULL REFERENCES saw (id),
    at       INTEGER NOT NULL,
    seq      INTEGER NOT NULL,
    msg      TEXT    NOT NULL,
    received INTEGER NOT NULL,
    action   TEXT    NOT NULL,
    serial   TEXT    NOT NULL,
    type     TEXT    NOT NULL,
    reason   TEXT    NOT NULL,
    extra    TEXT,
    remark   TEXT    NOT NULL DEFAULT '', -- why it did not do what it says; derived
    UNIQUE (saw_id, at, seq, msg)
);
CREATE INDEX blade_event_serial ON blade_event (serial, at);

CREATE TABLE state_event (
    id       INTEGER PRIMARY KEY,
    saw_id   INTEGER NOT NULL REFERENCES saw (id),
    at       INTEGER NOT NULL,
    seq      INTEGER NOT NULL,
    msg      TEXT    NOT NULL,
    received INTEGER NOT NULL,
    state    TEXT    NOT NULL,
    cause    TEXT    NOT NULL,
    extra    TEXT,
    UNIQUE (saw_id, at, seq, msg)
);

CREATE TABLE alive_event (
    id       INTEGER PRIMARY KEY,
    saw_id   INTEGER NOT NULL REFERENCES saw (id),
    at       INTEGER NOT NULL,
    seq      INTEGER NOT NULL,
    msg      TEXT    NOT NULL,
    received INTEGER NOT NULL,
    online   INTEGER NOT NULL,
    extra    TEXT,
    UNIQUE (saw_id, at, seq, msg)
);

-- A person's records. They never alter a reading.
CREATE TABLE correction (
    id          INTEGER PRIMARY KEY,
    saw_id      INTEGER NOT NULL REFERENCES saw (id),
    action      TEXT    NOT NULL, -- fit, remove, name, void
    at          INTEGER NOT NULL,
    serial      TEXT    NOT NULL,
    type        TEXT    NOT NULL,
    reason      TEXT    NOT NULL,
    void_event  INTEGER REFERENCES blade_event (id), -- the one a void strikes out, a message
    void_record INTEGER REFERENCES correction (id),  -- or an earlier correction
    who         TEXT    NOT NULL,
    why         TEXT    NOT NULL,
    recorded    INTEGER NOT NULL,
    remark      TEXT    NOT NULL DEFAULT ''
);
CREATE INDEX correction_saw ON correction (saw_id, at);
CREATE INDEX correction_serial ON correction (serial, at);
CREATE INDEX correction_void_event ON correction (void_event) WHERE void_event IS NOT NULL;
CREATE INDEX correction_void_record ON correction (void_record) WHERE void_record IS NOT NULL;

-- The blade ledger: derived from the tables above and kept up in the same
-- transaction as the readings.
CREATE TABLE fitting (
    id        INTEGER PRIMARY KEY,
    saw_id    INTEGER NOT NULL REFERENCES saw (id),
    start_at  INTEGER NOT NULL,
    end_at    INTEGER,
    serial    TEXT    NOT NULL,
    type      TEXT    NOT NULL,
    reason    TEXT    NOT NULL,
    basis     TEXT    NOT NULL,
    note      TEXT    NOT NULL,
    stale     TEXT    NOT NULL,
    firm_at   INTEGER,
    trips     INTEGER NOT NULL DEFAULT 0,
    breaks    INTEGER NOT NULL DEFAULT 0,
    disagree  INTEGER NOT NULL DEFAULT 0, -- passes that carry another serial
    last_pass INTEGER
);
CREATE INDEX fitting_saw ON fitting (saw_id, start_at);
CREATE INDEX fitting_open ON fitting (saw_id) WHERE end_at IS NULL;
CREATE INDEX fitting_serial ON fitting (serial, start_at);

CREATE TABLE fitting_total (
    fitting_id     INTEGER NOT NULL REFERENCES fitting (id),
    grade          TEXT    NOT NULL,
    area           REAL    NOT NULL,
    cuts           INTEGER NOT NULL,
    seconds        REAL    NOT NULL,
    travel         REAL    NOT NULL,
    area_unknown   INTEGER NOT NULL,
    travel_unknown INTEGER NOT NULL,
    PRIMARY KEY (fitting_id, grade)
) WITHOUT ROWID;

-- Stretches of running numbers that are all there; run_at is when the saw's
-- controller began the run.
CREATE TABLE seq_span (
    saw_id   INTEGER NOT NULL REFERENCES saw (id),
    run_at   INTEGER NOT NULL,
    first    INTEGER NOT NULL,
    last     INTEGER NOT NULL,
    first_at INTEGER NOT NULL,
    last_at  INTEGER NOT NULL,
    run_last INTEGER NOT NULL, -- latest reading of the run
    PRIMARY KEY (saw_id, run_at, first)
) WITHOUT ROWID;

-- The smallest delay from event to receipt of each minute of receipt.
CREATE TABLE skew (
    saw_id INTEGER NOT NULL REFERENCES saw (id),
    minute INTEGER NOT NULL,
    delay  INTEGER NOT NULL,
    PRIMARY KEY (saw_id, minute)
) WITHOUT ROWID;

CREATE TABLE rejected (
    id       INTEGER PRIMARY KEY,
    topic    TEXT    NOT NULL,
    code     TEXT    NOT NULL,
    digest   BLOB    NOT NULL, -- SHA-256 of payload, to know it again
    payload  BLOB    NOT NULL,
    size     INTEGER NOT NULL, -- bytes the message had; more than payload when only its head is kept
    retained INTEGER NOT NULL,
    reason   TEXT    NOT NULL,
    first    INTEGER NOT NULL,
    last     INTEGER NOT NULL,
    times    INTEGER NOT NULL,
    retried  INTEGER,          -- when a retry stored it
    UNIQUE (topic, code, digest, size)
);

-- Counts whatever was stored, so that a reader sees whether anything is new.
CREATE TABLE arrivals (
    id INTEGER PRIMARY KEY,
    n  INTEGER NOT NULL
);
INSERT INTO arrivals (id, n) VALUES (1, 0);
