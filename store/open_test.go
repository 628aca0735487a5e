package store_test

import (
	"bytes"
	"context"
	"database/sql"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"gullet/store"
)

// TestRefusedFilesAreLeftAlone: whatever is wrong with a file, it is said in
// one line and no byte of it changes.
func TestRefusedFilesAreLeftAlone(t *testing.T) {
	sqlite := func(t *testing.T, path string, statements ...string) {
		db, err := sql.Open("sqlite3", path)
		if err != nil {
			t.Fatal(err)
		}
		defer func() { _ = db.Close() }()
		for _, s := range statements {
			if _, err := db.Exec(s); err != nil {
				t.Fatal(err)
			}
		}
	}
	gullet := func(t *testing.T, path string) {
		s := openAt(t, path)
		put(t, s, fit("s1", 0, "A"), cut("s1", 1, "A"))
		if err := s.Close(); err != nil {
			t.Fatal(err)
		}
	}
	for name, tc := range map[string]struct {
		make func(t *testing.T, path string)
		want string
	}{
		"not a database": {func(t *testing.T, path string) {
			if err := os.WriteFile(path, []byte("notes of the night shift, nothing for a program"), 0o600); err != nil {
				t.Fatal(err)
			}
		}, "is not a SQLite file"},
		"another program's database": {func(t *testing.T, path string) {
			sqlite(t, path, `CREATE TABLE song (id INTEGER PRIMARY KEY)`)
		}, "another program"},
		"newer than the program": {func(t *testing.T, path string) {
			gullet(t, path)
			sqlite(t, path, `INSERT INTO goose_db_version (version_id, is_applied) VALUES (999, 1)`)
		}, "schema 999"},
		"damaged": {func(t *testing.T, path string) {
			gullet(t, path)
			b, err := os.ReadFile(path)
			if err != nil {
				t.Fatal(err)
			}
			for i := 100; i < len(b); i++ {
				b[i] ^= 0x5a
			}
			if err := os.WriteFile(path, b, 0o600); err != nil {
				t.Fatal(err)
			}
		}, "cannot be read"},
	} {
		t.Run(name, func(t *testing.T) {
			path := filepath.Join(t.TempDir(), "gullet.db")
			tc.make(t, path)
			before, _ := os.ReadFile(path)
			s, err := store.Open(t.Context(), store.Options{Path: path})
			if err == nil {
				_ = s.Close()
				t.Fatal("opened")
			}
			if msg := err.Error(); !strings.Contains(msg, tc.want) || !strings.Contains(msg, path) || strings.Contains(msg, "\n") {
				t.Errorf("error %q, want one line with the path and %q", msg, tc.want)
			}
			if after, _ := os.ReadFile(path); !bytes.Equal(before, after) {
				t.Error("the file was written to")
			}
		})
	}
}

func TestOneDaemonAtATime(t *testing.T) {
	path := filepath.Join(t.TempDir(), "gullet.db")
	first := openAt(t, path)
	if _, err := store.Open(t.Context(), store.Options{Path: path}); err == nil || !strings.Contains(err.Error(), "in use by another gullet daemon") {
		t.Errorf("second daemon: %v", err)
	}
	if err := first.Close(); err != nil {
		t.Fatal(err)
	}
	openAt(t, path)
}

func TestReadersAndWritersNeedAFinishedFile(t *testing.T) {
	missing := filepath.Join(t.TempDir(), "none.db")
	if _, err := store.OpenReader(t.Context(), missing); err == nil {
		t.Error("reader made a file up")
	}
	if _, err := store.OpenWriter(t.Context(), store.Options{Path: missing}); err == nil {
		t.Error("writer made a file up")
	}
	empty := filepath.Join(t.TempDir(), "empty.db")
	if err := os.WriteFile(empty, nil, 0o600); err != nil {
		t.Fatal(err)
	}
	if _, err := store.OpenWriter(t.Context(), store.Options{Path: empty}); err == nil || !strings.Contains(err.Error(), "schema 0") {
		t.Errorf("writer on an older file: %v", err)
	}
}

func TestReaderCannotWrite(t *testing.T) {
	path := filepath.Join(t.TempDir(), "odd name #1 100%?.db")
	put(t, openAt(t, path), fit("s1", 0, "A"))
	r, err := store.OpenReader(t.Context(), path)
	if err != nil {
		t.Fatal(err)
	}
	defer func() { _ = r.Close() }()
	if _, err := r.Append(t.Context(), arrivals(cut("s1", 1, ""))); err == nil {
		t.Error("reader wrote")
	}
	if got := ledger(t, r); len(got) != 1 {
		t.Error(got)
	}
	if _, err := os.Stat(path); err != nil {
		t.Error("the file has another name:", err)
	}
}

// TestMigrations brings files of every earlier schema up to date and compares
// them with a new one.
func TestMigrations(t *testing.T) {
	schema := func(path string) string {
		db, err := sql.Open("sqlite3", path)
		if err != nil {
			t.Fatal(err)
		}
		defer func() { _ = db.Close() }()
		rows, err := db.Query(`SELECT COALESCE(sql, name) FROM sqlite_master ORDER BY name`)
		if err != nil {
			t.Fatal(err)
		}
		defer func() { _ = rows.Close() }()
		var all strings.Builder
		for rows.Next() {
			var s string
			if err := rows.Scan(&s); err != nil {
				t.Fatal(err)
			}
			all.WriteString(s + "\n")
		}
		return all.String()
	}
	fresh := filepath.Join(t.TempDir(), "fresh.db")
	_ = openAt(t, fresh)
	for v := int64(0); v < store.Latest(); v++ {
		path := filepath.Join(t.TempDir(), "old.db")
		if err := store.MakeOld(context.Background(), path, v); err != nil {
			t.Fatal(err)
		}
		s := openAt(t, path)
		put(t, s, fit("s1", 0, "A"), cut("s1", 1, "A"))
		if diff := cmp.Diff(schema(fresh), schema(path)); diff != "" {
			t.Errorf("from schema %d (-new +migrated):\n%s", v, diff)
		}
	}
}

// TestMigrationsKeepWhatIsThere: a file of the first schema with a blade, a cut and
// its totals, written as that schema had them, goes on where it was.
func TestMigrationsKeepWhatIsThere(t *testing.T) {
	path := filepath.Join(t.TempDir(), "old.db")
	if err := store.MakeOld(t.Context(), path, 1); err != nil {
		t.Fatal(err)
	}
	db, err := sql.Open("sqlite3", path)
	if err != nil {
		t.Fatal(err)
	}
	at := func(m int) int64 { return minute(m).UnixMicro() }
	for _, insert := range []struct {
		query string
		args  []any
	}{
		{`INSERT INTO saw (name) VALUES ('s1')`, nil},
		{`INSERT INTO blade_event (saw_id, at, seq, msg, received, action, serial, type, reason)
			VALUES (1, ?1, -1, 'fit', ?1, 'fit', 'A', 'thin', '')`, []any{at(0)}},
		{`INSERT INTO pass (saw_id, kind, at, seq, msg, received, seconds, section, square, height, bars, mitre, from_axis, grade, band_speed,
			serial, job, piece, purpose, from_share, place, area)
			VALUES (1, 'cut', ?1, -1, 'cut', ?1, 240, 'RD4', 12, 4, 1, 0, 0, 'A36', 250, 'A', '', '', 'part', 0, '', 12)`, []any{at(1)}},
		{`INSERT INTO fitting (saw_id, start_at, serial, type, reason, basis, note, stale, firm_at, last_pass)
			VALUES (1, ?1, 'A', 'thin', '', 'message', '', '', ?1, ?2)`, []any{at(0), at(1)}},
		{`INSERT INTO fitting_total (fitting_id, grade, area, cuts, seconds, travel, area_unknown, travel_unknown)
			VALUES (1, 'A36', 12, 1, 240, 1000, 0, 0)`, nil},
	} {
		if _, err := db.Exec(insert.query, insert.args...); err != nil {
			t.Fatal(err)
		}
	}
	if err := db.Close(); err != nil {
		t.Fatal(err)
	}
	if _, err := store.OpenReader(t.Context(), path); err == nil || !strings.Contains(err.Error(), "has schema 1, this gullet needs") {
		t.Errorf("a reader on the file as it was: %v", err)
	}
	s := openAt(t, path)
	put(t, s, cut("s1", 2, "A"))
	if diff := cmp.Diff([]string{"s1 A 0-on message cuts=2 area=24"}, ledger(t, s)); diff != "" {
		t.Errorf("ledger (-want +got):\n%s", diff)
	}
}

func TestCheckAndCheckpoint(t *testing.T) {
	path := filepath.Join(t.TempDir(), "gullet.db")
	s := openAt(t, path)
	put(t, s, fit("s1", 0, "A"))
	if err := s.Check(t.Context()); err != nil {
		t.Error(err)
	}
	if n, err := s.WALSize(); err != nil || n == 0 {
		t.Errorf("log of %d bytes, %v", n, err)
	}
	if err := s.Checkpoint(t.Context()); err != nil {
		t.Error(err)
	}
	if err := os.Remove(path); err != nil {
		t.Fatal(err)
	}
	if err := s.Check(t.Context()); err == nil {
		t.Error("a database that was deleted passes its check")
	}
}
