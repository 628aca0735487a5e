-- What deserved a message, what became of it, what people did about it, and the
-- messages on their way to the channels. Times that are not yet are NULL.

-- +goose Up
CREATE TABLE alert_condition (
    id       INTEGER PRIMARY KEY, -- given by whoever decides
    kind     TEXT    NOT NULL,
    saw      TEXT    NOT NULL,    -- '' where it is of none; it may never have sent a reading
    of_what  TEXT    NOT NULL,
    severity TEXT    NOT NULL,
    raised   INTEGER,
    cleared  INTEGER,
    closed   INTEGER NOT NULL DEFAULT 0, -- nothing more will be told of it
    body     TEXT    NOT NULL     -- the whole condition, JSON
);
CREATE INDEX alert_condition_stands ON alert_condition (id) WHERE closed = 0;

-- Only ever added to.
CREATE TABLE alert_change (
    id           INTEGER PRIMARY KEY,
    condition_id INTEGER NOT NULL REFERENCES alert_condition (id),
    what         TEXT    NOT NULL, -- raised, updated, cleared, acknowledged, snoozed
    at           INTEGER NOT NULL,
    level        REAL    NOT NULL, -- in the unit of the kind
    reason       TEXT    NOT NULL
);
CREATE INDEX alert_change_condition ON alert_change (condition_id);

-- Only ever added to.
CREATE TABLE alert_note (
    id           INTEGER PRIMARY KEY,
    condition_id INTEGER NOT NULL REFERENCES alert_condition (id),
    action       TEXT    NOT NULL, -- acknowledge, snooze
    until        INTEGER,          -- of a snooze
    who          TEXT    NOT NULL,
    why          TEXT    NOT NULL,
    at           INTEGER NOT NULL
);
CREATE INDEX alert_note_condition ON alert_note (condition_id);

CREATE TABLE outbox (
    id         INTEGER PRIMARY KEY,
    channel    TEXT    NOT NULL,
    key        TEXT    NOT NULL, -- of what must be told once
    at         INTEGER NOT NULL,
    expires    INTEGER NOT NULL,
    severity   TEXT    NOT NULL,
    test       INTEGER NOT NULL,
    body       TEXT    NOT NULL, -- the whole message, JSON
    tries      INTEGER NOT NULL DEFAULT 0, -- in vain
    tried      INTEGER,                    -- in vain, last
    next_try   INTEGER NOT NULL,
    last_error TEXT    NOT NULL DEFAULT '',
    sent       INTEGER,
    dropped    INTEGER,
    note       TEXT    NOT NULL DEFAULT '', -- why it was dropped
    UNIQUE (channel, key)
);
CREATE INDEX outbox_waits ON outbox (channel, id) WHERE sent IS NULL AND dropped IS NULL;
-- Holds all that a summary of the channels asks, so that it reads no message.
CREATE INDEX outbox_channel ON outbox (channel, at, test, sent, dropped, tries, tried);

CREATE INDEX rejected_last ON rejected (last);
