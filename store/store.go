// Package store keeps every reading exactly once in a SQLite file, and beside
// the readings, in the same transaction, what follows from them: the blade
// ledger with its totals, the gaps in the running numbers, the clock skew.
//
// It knows SQL and the vocabulary of package analyze. It refuses to know where
// readings come from, what a blade's future is, and how the shop is
// configured. Readings are never altered; what is derived can always be
// derived again, and is the same whatever the order of arrival.
//
// SQL keeps to what PostgreSQL also takes, except in opening, migrations and
// maintenance.
package store

import (
	"bytes"
	"context"
	"database/sql"
	"embed"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"time"

	"github.com/gofrs/flock"
	"github.com/mattn/go-sqlite3"
	"github.com/pressly/goose/v3"
)

//go:embed migrations/*.sql
var migrationFiles embed.FS

// applicationID marks a SQLite file as Gullet's ("GuLl" in ASCII, set by the
// first migration).
const applicationID = 1198869612

// Options say where the store is.
type Options struct {
	Path string
	// Rate is the configured in²/min of a grade, for a saw that has no history
	// in it yet; it may be nil.
	Rate func(saw, grade string) (float64, bool)
}

// Store is an open database. Its methods may be called from many goroutines;
// those that write take turns.
type Store struct {
	path    string
	rate    func(saw, grade string) (float64, bool)
	lock    *flock.Flock // nil beside a daemon
	readers *sql.DB
	reader  querier // readers, or one transaction of theirs
	pool    *sql.DB // of the one writing connection, nil when reading only

	mu sync.Mutex // held while writing
	w  *writer
}

// ErrReadOnly is returned when a store opened by OpenReader is to write.
var ErrReadOnly = errors.New("the database was opened for reading only")

// Open opens the database for the daemon: it keeps a second daemon out, makes
// the file when there is none and brings its schema up to date. A file that is
// not Gullet's, newer than this program or in use by another daemon is refused
// before anything is written to it.
func Open(ctx context.Context, o Options) (_ *Store, err error) {
	if _, err := inspect(ctx, o.Path); err != nil {
		return nil, err
	}
	// The same file by another name is the same file to lock.
	if real, err := filepath.EvalSymlinks(o.Path); err == nil {
		o.Path = real
	}
	s := &Store{path: o.Path, rate: o.Rate, lock: flock.New(o.Path + ".lock")}
	defer func() {
		if err != nil {
			_ = s.Close()
		}
	}()
	locked, err := s.lock.TryLock()
	if err != nil {
		return nil, fmt.Errorf("lock database %s: %w", o.Path, err)
	}
	if !locked {
		return nil, fmt.Errorf("database %s is in use by another gullet daemon: stop that one or choose another file", o.Path)
	}
	// Another daemon may have migrated the file between the look and the lock.
	found, err := inspect(ctx, o.Path)
	if err != nil {
		return nil, err
	}
	if err := s.openWriter(ctx, "rwc"); err != nil {
		return nil, err
	}
	if found < latest() {
		if err := migrate(ctx, s.pool, latest()); err != nil {
			return nil, fmt.Errorf("database %s: %w", o.Path, err)
		}
	}
	return s, s.start(ctx)
}

// OpenWriter opens the database for a single change beside a running daemon.
// It neither makes nor migrates a file.
func OpenWriter(ctx context.Context, o Options) (_ *Store, err error) {
	if err := exactSchema(ctx, o.Path); err != nil {
		return nil, err
	}
	s := &Store{path: o.Path, rate: o.Rate}
	defer func() {
		if err != nil {
			_ = s.Close()
		}
	}()
	if err := s.openWriter(ctx, "rw"); err != nil {
		return nil, err
	}
	return s, s.start(ctx)
}

// OpenReader opens the database for reading, beside a running daemon or
// without one.
func OpenReader(ctx context.Context, path string) (*Store, error) {
	if err := exactSchema(ctx, path); err != nil {
		return nil, err
	}
	s := &Store{path: path}
	if err := s.openReader(); err != nil {
		return nil, err
	}
	return s, nil
}

// Close ends every connection and lets another daemon in.
func (s *Store) Close() error {
	s.mu.Lock()
	defer s.mu.Unlock()
	var errs []error
	if s.readers != nil {
		errs = append(errs, s.readers.Close())
	}
	if s.w != nil {
		errs = append(errs, s.w.close())
		s.w = nil
	}
	if s.pool != nil {
		errs = append(errs, s.pool.Close())
	}
	if s.lock != nil {
		errs = append(errs, s.lock.Close())
	}
	if err := errors.Join(errs...); err != nil {
		return fmt.Errorf("close database %s: %w", s.path, err)
	}
	return nil
}

// busyTimeout is how long a connection waits for another process's commit.
const busyTimeout = 10 * time.Second

func dsn(path, mode string, pragmas url.Values) string {
	pragmas.Set("mode", mode)
	pragmas.Set("_busy_timeout", fmt.Sprint(busyTimeout.Milliseconds()))
	u := url.URL{Scheme: "file", Opaque: (&url.URL{Path: path}).EscapedPath(), RawQuery: pragmas.Encode()}
	return u.String()
}

func (s *Store) openWriter(ctx context.Context, mode string) error {
	pool, err := sql.Open("sqlite3", dsn(s.path, mode, url.Values{
		"_txlock":       {"immediate"},
		"_journal_mode": {"WAL"},
		"_synchronous":  {"FULL"}, // the driver's default is NORMAL
		"_foreign_keys": {"on"},
		"_cache_size":   {"-16000"}, // KiB
	}))
	if err != nil {
		return fmt.Errorf("open database %s: %w", s.path, err)
	}
	pool.SetMaxOpenConns(1)
	pool.SetConnMaxIdleTime(0)
	s.pool = pool
	if err := pool.PingContext(ctx); err != nil {
		return fmt.Errorf("open database %s: %w", s.path, err)
	}
	return nil
}

func (s *Store) openReader() error {
	pool, err := sql.Open("sqlite3", dsn(s.path, "ro", url.Values{
		"_query_only": {"on"},
		"_cache_size": {"-8000"},
	}))
	if err != nil {
		return fmt.Errorf("open database %s for reading: %w", s.path, err)
	}
	pool.SetMaxOpenConns(4)
	pool.SetMaxIdleConns(2)
	s.readers, s.reader = pool, pool
	return nil
}

func (s *Store) start(ctx context.Context) error {
	if err := s.openReader(); err != nil {
		return err
	}
	conn, err := s.pool.Conn(ctx)
	if err != nil {
		return fmt.Errorf("open database %s: %w", s.path, err)
	}
	s.w = newWriter(conn, s.rate)
	return nil
}

var sqliteMagic = []byte("SQLite format 3\x00")

// inspect looks at a file without writing to it and returns its schema
// version, 0 when there is no file yet.
func inspect(ctx context.Context, path string) (version int64, err error) {
	f, err := os.Open(path)
	if errors.Is(err, fs.ErrNotExist) {
		return 0, nil
	}
	if err != nil {
		return 0, fmt.Errorf("open database: %w", err)
	}
	head := make([]byte, len(sqliteMagic))
	n, err := io.ReadFull(f, head)
	_ = f.Close()
	if n == 0 && errors.Is(err, io.EOF) {
		return 0, nil // made by touch, or by a start that died at once
	}
	if !bytes.Equal(head, sqliteMagic) {
		return 0, fmt.Errorf("database %s is not a SQLite file: it was left alone", path)
	}
	db, err := sql.Open("sqlite3", dsn(path, "ro", url.Values{"_query_only": {"on"}}))
	if err != nil {
		return 0, fmt.Errorf("open database %s: %w", path, err)
	}
	defer func() { _ = db.Close() }()
	version, err = schemaVersion(ctx, db)
	if err != nil {
		var code sqlite3.Error
		if errors.As(err, &code) && code.Code == sqlite3.ErrCantOpen {
			err = fmt.Errorf("%w: its directory must be writable, for SQLite keeps files beside it", err)
		}
		return 0, fmt.Errorf("database %s cannot be read and was left alone: %w", path, err)
	}
	if version > latest() {
		return 0, fmt.Errorf("database %s has schema %d, this gullet knows schemas up to %d: use the newer gullet that wrote it", path, version, latest())
	}
	return version, nil
}

func schemaVersion(ctx context.Context, db *sql.DB) (int64, error) {
	var id, tables, version int64
	// Counting the tables reads the schema, which finds a damaged first page.
	if err := db.QueryRowContext(ctx, `SELECT COUNT(*) FROM sqlite_master WHERE type = 'table'`).Scan(&tables); err != nil {
		return 0, err
	}
	if tables == 0 {
		return 0, nil
	}
	if err := db.QueryRowContext(ctx, `PRAGMA application_id`).Scan(&id); err != nil {
		return 0, err
	}
	var goose int64
	err := db.QueryRowContext(ctx, `SELECT COUNT(*) FROM sqlite_master WHERE name = 'goose_db_version'`).Scan(&goose)
	if err != nil {
		return 0, err
	}
	// A start that died between goose's own table and the first migration
	// leaves a file without the mark.
	if goose == 0 || id != applicationID && tables > 2 {
		return 0, errors.New("it is a SQLite file of another program")
	}
	err = db.QueryRowContext(ctx, `SELECT COALESCE(MAX(version_id), 0) FROM goose_db_version`).Scan(&version)
	if err != nil || version == 0 {
		return 0, err
	}
	// The rightmost pages are those a crash of the disk hits first.
	var last sql.NullInt64
	return version, db.QueryRowContext(ctx, `SELECT MAX(id) FROM pass`).Scan(&last)
}

func exactSchema(ctx context.Context, path string) error {
	if _, err := os.Stat(path); err != nil {
		return fmt.Errorf("open database: %w", err)
	}
	version, err := inspect(ctx, path)
	if err != nil {
		return err
	}
	if version != latest() {
		return fmt.Errorf("database %s has schema %d, this gullet needs %d: start the daemon (gullet run) once to bring it up to date", path, version, latest())
	}
	return nil
}

func provider(db *sql.DB) (*goose.Provider, error) {
	files, err := fs.Sub(migrationFiles, "migrations")
	if err != nil {
		return nil, err
	}
	return goose.NewProvider(goose.DialectSQLite3, db, files)
}

// latest is the schema this program works with: one file, one version.
func latest() int64 {
	files, _ := fs.ReadDir(migrationFiles, "migrations")
	return int64(len(files))
}

func migrate(ctx context.Context, db *sql.DB, to int64) error {
	p, err := provider(db)
	if err != nil {
		return fmt.Errorf("read migrations: %w", err)
	}
	if _, err := p.UpTo(ctx, to); err != nil {
		return fmt.Errorf("bring the schema up to date: %w", err)
	}
	return nil
}

// Check reads a little, and reports whether the database answers and is still
// the one this program works with.
func (s *Store) Check(ctx context.Context) error {
	if _, err := os.Stat(s.path); err != nil {
		return fmt.Errorf("check database: %w", err)
	}
	version, err := schemaVersion(ctx, s.readers)
	if err != nil {
		return fmt.Errorf("check database %s: %w", s.path, err)
	}
	if version != latest() {
		return fmt.Errorf("database %s has schema %d, this gullet works with %d", s.path, version, latest())
	}
	return nil
}

// querier is what a query needs of a pool or a transaction.
type querier interface {
	QueryContext(ctx context.Context, query string, args ...any) (*sql.Rows, error)
	QueryRowContext(ctx context.Context, query string, args ...any) *sql.Row
}

// View runs f on the store as it stands now, whatever is written meanwhile, so
// that figures from several queries agree. It holds the write-ahead log: f must
// be quick and must not keep what it gets.
func (s *Store) View(ctx context.Context, f func(*Store) error) error {
	tx, err := s.readers.BeginTx(ctx, nil)
	if err != nil {
		return fmt.Errorf("begin to read database %s: %w", s.path, err)
	}
	defer func() { _ = tx.Rollback() }()
	return f(&Store{path: s.path, reader: tx})
}

// Inspect reads the whole file and reports the first damage found. It takes
// about a second for each few hundred megabytes, beside everything else.
func (s *Store) Inspect(ctx context.Context) error {
	var found string
	err := s.reader.QueryRowContext(ctx, `PRAGMA quick_check(1)`).Scan(&found)
	if err == nil && found != "ok" {
		err = errors.New(strings.Join(strings.Fields(found), " "))
	}
	if err != nil {
		return fmt.Errorf("database %s is damaged, keep a copy and restore it: %w", s.path, err)
	}
	return nil
}

// WALSize is the size of the write-ahead log in bytes. It grows while a reader
// holds on to an old state.
func (s *Store) WALSize() (int64, error) {
	info, err := os.Stat(s.path + "-wal")
	if errors.Is(err, fs.ErrNotExist) {
		return 0, nil
	}
	if err != nil {
		return 0, fmt.Errorf("size of the write-ahead log: %w", err)
	}
	return info.Size(), nil
}

// Checkpoint moves what no reader needs any more from the write-ahead log into
// the database file. It waits for nobody; the log's space is used again.
func (s *Store) Checkpoint(ctx context.Context) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.w == nil {
		return ErrReadOnly
	}
	var busy, frames, moved int64
	err := s.w.conn.QueryRowContext(ctx, `PRAGMA wal_checkpoint(PASSIVE)`).Scan(&busy, &frames, &moved)
	if err != nil {
		return fmt.Errorf("checkpoint database %s: %w", s.path, err)
	}
	return nil
}
