-- What people say that stops were for. It never alters a reading, and outranks the
-- cause that the saw sent.

-- +goose Up
CREATE TABLE explanation (
    id          INTEGER PRIMARY KEY,
    saw_id      INTEGER NOT NULL REFERENCES saw (id),
    at          INTEGER NOT NULL, -- any moment of the stop
    cause       TEXT    NOT NULL, -- '' of a void
    void_record INTEGER REFERENCES explanation (id), -- the one a void strikes out
    who         TEXT    NOT NULL,
    why         TEXT    NOT NULL,
    recorded    INTEGER NOT NULL
);
CREATE INDEX explanation_saw ON explanation (saw_id, at);
CREATE INDEX explanation_void ON explanation (void_record) WHERE void_record IS NOT NULL;
