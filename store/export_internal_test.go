package store

import (
	"context"
	"database/sql"
	"errors"
)

// Latest is the newest schema.
func Latest() int64 { return latest() }

// MakeOld makes a file with an earlier schema.
func MakeOld(ctx context.Context, path string, version int64) error {
	db, err := sql.Open("sqlite3", path)
	if err != nil {
		return err
	}
	if version > 0 {
		err = migrate(ctx, db, version)
	}
	return errors.Join(err, db.Close())
}

// FailNextCommit makes the next transaction fail after everything was written,
// as a full disk does.
func (s *Store) FailNextCommit() error {
	return s.w.exec(`CREATE TEMP TRIGGER full BEFORE UPDATE ON arrivals BEGIN SELECT RAISE(ABORT, 'disk full'); END`)
}

// Mend ends FailNextCommit.
func (s *Store) Mend() error { return s.w.exec(`DROP TRIGGER full`) }

// HistoryQuery is what History asks: saw, from, until.
const HistoryQuery = historyQuery

// FailNextClose makes the last step of a decision fail.
func (s *Store) FailNextClose() error {
	return s.w.exec(`CREATE TEMP TRIGGER full BEFORE UPDATE OF closed ON alert_condition BEGIN SELECT RAISE(ABORT, 'disk full'); END`)
}
