package store_test

import (
	"database/sql"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"gullet/store"
)

// BenchmarkHistory compares History with a bare loop over the rows of the same
// query, in turns on the same file. GULLET_BENCH_HISTORY_DB keeps that file
// from one run to the next.
func BenchmarkHistory(b *testing.B) {
	const rows = 100_000
	path := os.Getenv("GULLET_BENCH_HISTORY_DB")
	if path == "" {
		path = filepath.Join(b.TempDir(), "gullet.db")
	}
	s := openAt(b, path)
	if must(s.Cursor(b.Context())) == 0 {
		f := &flow{}
		f.fill(b, s, (rows+rows/200)*flowSaws)
	}
	bare, err := sql.Open("sqlite3", "file:"+path+"?mode=ro&_query_only=on&_cache_size=-8000")
	if err != nil {
		b.Fatal(err)
	}
	b.Cleanup(func() { _ = bare.Close() })
	until := minute(20 * 365 * 24 * 60)
	ours, loop := make([]float64, b.N), make([]float64, b.N)
	for i := range b.N {
		ours[i] = perRow(b, func() (n int, err error) {
			err = s.History(b.Context(), "s1", t0, until, func(store.HistoryRow) error { n++; return nil })
			return n, err
		})
		loop[i] = perRow(b, func() (int, error) { return step(b, bare, "s1", t0.UnixMicro(), until.UnixMicro()) })
	}
	slices.Sort(ours)
	slices.Sort(loop)
	took, limit := ours[b.N/2], loop[b.N/2]
	b.ReportMetric(1/took, "rows/s")
	b.ReportMetric(took*100_000*1000, "ms/100k")
	b.ReportMetric(took/limit, "of-bare")
	b.ReportMetric(0, "ns/op")
}

// perRow is how many seconds f takes for each row it counts.
func perRow(b *testing.B, f func() (int, error)) float64 {
	start := time.Now()
	n, err := f()
	if err == nil && n == 0 {
		err = fmt.Errorf("no rows")
	}
	if err != nil {
		b.Fatal(err)
	}
	return time.Since(start).Seconds() / float64(n)
}

// step counts the rows of HistoryQuery and looks at none.
func step(b *testing.B, db *sql.DB, args ...any) (n int, err error) {
	rows, err := db.QueryContext(b.Context(), store.HistoryQuery, args...)
	if err != nil {
		return 0, err
	}
	for rows.Next() {
		n++
	}
	if err := rows.Err(); err != nil {
		return 0, err
	}
	return n, rows.Close()
}
