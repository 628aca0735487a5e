package standing

import (
	"fmt"
	"os"
	"path/filepath"
	"testing"
	"time"

	"gullet/analyze"
	"gullet/analyze/shift"
	"gullet/config"
	"gullet/store"
)

const (
	benchSaws = 20
	benchDays = 365
	// A cut every 5.8 minutes and a stop every 40 of two shifts: two million readings.
	benchCuts, benchStops = 204, 35
)

var benchStart = time.Date(2025, 1, 1, 6, 0, 0, 0, time.UTC)

// benchStore has a year of 20 saws: GULLET_BENCH_YEAR_DB keeps the file.
func benchStore(b *testing.B) *store.Store {
	b.Helper()
	path := os.Getenv("GULLET_BENCH_YEAR_DB")
	if path == "" {
		path = filepath.Join(b.TempDir(), "gullet.db")
	}
	db, err := store.Open(b.Context(), store.Options{Path: path})
	if err != nil {
		b.Fatal(err)
	}
	b.Cleanup(func() { _ = db.Close() })
	if n, err := db.Cursor(b.Context()); err != nil || n > 0 {
		return db
	}
	for day := range benchDays {
		var batch []analyze.Arrival
		for saw := range benchSaws {
			batch = append(batch, benchDay(fmt.Sprintf("s%02d", saw), day)...)
		}
		if _, err := db.Append(b.Context(), batch); err != nil {
			b.Fatal(err)
		}
	}
	return db
}

// benchDay is a day of one saw: 204 cuts of 2 to 4 minutes and 35 stops.
func benchDay(saw string, day int) (batch []analyze.Arrival) {
	start := benchStart.AddDate(0, 0, day)
	seq := int64(day * 1000)
	add := func(at time.Time, kind analyze.Kind, fill func(*analyze.Reading)) {
		seq++
		n := seq
		r := &analyze.Reading{Saw: saw, Kind: kind, Seq: &n, ID: fmt.Sprint(saw, n), At: at, Received: at}
		fill(r)
		batch = append(batch, analyze.Arrival{Reading: r})
	}
	causes := []analyze.Cause{"waiting-crane", "", "out-of-stock", "setup", "chips", "fault", "count-done"}
	grades := []string{"A36", "1018", "4140"}
	state := func(at time.Time, s analyze.State, c analyze.Cause) {
		add(at, analyze.KindState, func(r *analyze.Reading) { r.State = &analyze.StateChange{State: s, Cause: c} })
	}
	at := start
	for i := range benchCuts {
		at = at.Add(time.Minute)
		if i%6 == 5 {
			state(at, analyze.StateStopped, causes[(i/6+day)%len(causes)])
			at = at.Add(time.Duration(1+(i+day)%9) * time.Minute)
			state(at, analyze.StateCutting, "")
		}
		seconds := float64(150 + 13*(i%7))
		at = at.Add(time.Duration(seconds * float64(time.Second)))
		add(at, analyze.KindCut, func(r *analyze.Reading) {
			area := 12.5
			r.Cut = &analyze.Cut{Seconds: &seconds, Section: "W12x26", Square: &area, Count: 1, Grade: grades[i/70], Purpose: analyze.PurposePart}
		})
	}
	state(at, analyze.StateOff, "")
	return batch
}

// BenchmarkYear makes the sums of 20 saws over a year of two million readings, from
// the readings (limit 1 s) and from the days that are kept (limit 50 ms).
func BenchmarkYear(b *testing.B) {
	db := benchStore(b)
	loaded, err := config.Load(config.Options{})
	if err != nil {
		b.Fatal(err)
	}
	cfg := &loaded.Config
	now := benchStart.AddDate(0, 0, benchDays+1)
	from, to := shift.DateOf(benchStart), shift.DateOf(now)
	gather := func(b *testing.B, cfg *config.Config, limit time.Duration) {
		for b.Loop() {
			d, err := Gather(b.Context(), db, cfg, now, from, to, false)
			if err != nil || len(d.Saws) != benchSaws || len(d.Saws[0].Days) < benchDays {
				b.Fatal(len(d.Saws), err)
			}
		}
		b.ReportMetric(b.Elapsed().Seconds()/float64(b.N)/limit.Seconds(), "of-limit")
	}
	other := *cfg
	other.Downtime.Minor++ // other rules: nothing that is kept serves
	b.Run("cold", func(b *testing.B) { gather(b, &other, time.Second) })
	if err := Maintain(b.Context(), db, cfg, now); err != nil {
		b.Fatal(err)
	}
	b.Run("kept", func(b *testing.B) { gather(b, cfg, 50*time.Millisecond) })
}
