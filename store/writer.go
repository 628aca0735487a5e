package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"time"

	"gullet/analyze"
)

// writer is the one connection that writes, and what it remembers between
// transactions so that a reading in its usual order costs one insert. Whatever
// it remembers can be read again: it forgets everything after an error, and
// when another process has written.
type writer struct {
	conn  *sql.Conn
	rate  func(saw, grade string) (float64, bool)
	stmts map[string]*sql.Stmt

	version int64 // of the data, as PRAGMA data_version tells other processes' commits
	saws    map[string]*sawState
}

// sawState is what the writer remembers of one saw.
type sawState struct {
	id           int64
	name         string
	lastPass     int64 // at of the latest pass
	lastUntold   int64 // at of the latest pass whose share is estimated
	lastReceived int64
	fitting      *fittingState // the one that took the last pass
	runs         []analyze.SeqRun
	minutes      map[int64]int64 // smallest delay by minute of receipt
}

func newWriter(conn *sql.Conn, rate func(saw, grade string) (float64, bool)) *writer {
	return &writer{conn: conn, rate: rate, stmts: map[string]*sql.Stmt{}, saws: map[string]*sawState{}}
}

func (w *writer) close() error {
	var errs []error
	for _, s := range w.stmts {
		errs = append(errs, s.Close())
	}
	return errors.Join(append(errs, w.conn.Close())...)
}

// transaction runs f with everything it writes, or nothing. The driver starts
// a goroutine for each statement that could be cancelled, so statements run
// under the background context and ctx is asked only between transactions.
func (w *writer) transaction(ctx context.Context, f func() error) (err error) {
	if err := ctx.Err(); err != nil {
		return err
	}
	if err := w.exec(`BEGIN IMMEDIATE`); err != nil {
		return fmt.Errorf("begin: %w", err)
	}
	defer func() {
		if err != nil {
			w.saws = map[string]*sawState{}
			if rollback := w.exec(`ROLLBACK`); rollback != nil && !isNoTransaction(w) {
				err = errors.Join(err, rollback)
			}
		}
	}()
	var version int64
	if err := w.row(`PRAGMA data_version`).Scan(&version); err != nil {
		return fmt.Errorf("data version: %w", err)
	}
	if version != w.version {
		w.saws, w.version = map[string]*sawState{}, version
	}
	if err := f(); err != nil {
		return err
	}
	if err := w.exec(`COMMIT`); err != nil {
		return fmt.Errorf("commit: %w", err)
	}
	return nil
}

// isNoTransaction reports whether SQLite has already rolled back by itself, as
// it does when the disk is full: then a new transaction can begin.
func isNoTransaction(w *writer) bool {
	if w.exec(`BEGIN IMMEDIATE`) != nil {
		return false
	}
	return w.exec(`ROLLBACK`) == nil
}

func (w *writer) prepare(query string) (*sql.Stmt, error) {
	if s, ok := w.stmts[query]; ok {
		return s, nil
	}
	s, err := w.conn.PrepareContext(context.Background(), query)
	if err != nil {
		return nil, err
	}
	w.stmts[query] = s
	return s, nil
}

func (w *writer) exec(query string, args ...any) error {
	_, err := w.change(query, args...)
	return err
}

// change runs a statement and returns how many rows it changed.
func (w *writer) change(query string, args ...any) (int64, error) {
	s, err := w.prepare(query)
	if err != nil {
		return 0, err
	}
	r, err := s.ExecContext(context.Background(), args...)
	if err != nil {
		return 0, err
	}
	return r.RowsAffected()
}

// scanner is a row, or the error that came instead of one.
type scanner interface{ Scan(dest ...any) error }

type failed struct{ error }

func (f failed) Scan(...any) error { return f.error }

func (w *writer) row(query string, args ...any) scanner {
	s, err := w.prepare(query)
	if err != nil {
		return failed{err}
	}
	return s.QueryRowContext(context.Background(), args...)
}

// each calls f for every row. f must not use the connection.
func (w *writer) each(f func(scanner) error, query string, args ...any) (err error) {
	s, err := w.prepare(query)
	if err != nil {
		return err
	}
	rows, err := s.QueryContext(context.Background(), args...)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, rows.Close()) }()
	for rows.Next() {
		if err := f(rows); err != nil {
			return err
		}
	}
	return rows.Err()
}

// saw finds or makes a saw and remembers it.
func (w *writer) saw(name string) (*sawState, error) {
	if s, ok := w.saws[name]; ok {
		return s, nil
	}
	s := &sawState{name: name, minutes: map[int64]int64{}}
	err := w.row(`SELECT id, last_received FROM saw WHERE name = $1`, name).Scan(&s.id, &s.lastReceived)
	if errors.Is(err, sql.ErrNoRows) {
		err = w.row(`INSERT INTO saw (name) VALUES ($1) RETURNING id`, name).Scan(&s.id)
	}
	if err != nil {
		return nil, fmt.Errorf("saw %s: %w", name, err)
	}
	if err := w.remember(s); err != nil {
		return nil, fmt.Errorf("saw %s: %w", name, err)
	}
	w.saws[name] = s
	return s, nil
}

func (w *writer) remember(s *sawState) error {
	err := w.row(`SELECT COALESCE(MAX(at), $1) FROM pass WHERE saw_id = $2`, never, s.id).Scan(&s.lastPass)
	if err != nil {
		return err
	}
	err = w.row(`SELECT COALESCE(MAX(at), $1) FROM pass WHERE saw_id = $2 AND done IS NULL AND kind <> 'cut'`,
		never, s.id).Scan(&s.lastUntold)
	if err != nil {
		return err
	}
	if s.runs, err = w.loadRuns(s.id); err != nil {
		return err
	}
	return w.each(func(r scanner) error {
		var minute, delay int64
		err := r.Scan(&minute, &delay)
		s.minutes[minute] = delay
		return err
	}, `SELECT minute, delay FROM skew WHERE saw_id = $1`, s.id)
}

// never is before every time a reading can have.
const never = -1 << 62

func micros(t time.Time) int64 { return t.UnixMicro() }

func fromMicros(us int64) time.Time { return time.UnixMicro(us).UTC() }

// bound is an end of a range of time, never for the zero time.
func bound(t time.Time) int64 {
	if t.IsZero() {
		return never
	}
	return micros(t)
}

// number is a pointer as an argument: NULL for nil.
func number(p *float64) any {
	if p == nil {
		return nil
	}
	return *p
}
