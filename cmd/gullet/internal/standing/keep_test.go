package standing

import (
	"fmt"
	"path/filepath"
	"reflect"
	"testing"
	"time"

	"gullet/analyze"
	"gullet/analyze/shift"
	"gullet/cmd/gullet/internal/sim"
	"gullet/ingest"
	"gullet/store"
)

// Days that are kept while readings come, late and out of order and replayed after an
// outage, with persons explaining stops between them, are those that all of the
// readings give at once.
func TestKeptDaysAreThoseOfAllReadings(t *testing.T) {
	start := time.Date(2026, 2, 23, 0, 0, 0, 0, time.UTC)
	const days = 40
	db, err := store.Open(t.Context(), store.Options{Path: filepath.Join(t.TempDir(), "gullet.db")})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = db.Close() })
	cfg := twoShifts(t, "UTC")
	decoder := ingest.NewDecoder(ingest.Options{})
	shop := sim.New(sim.Options{Seed: 5, Start: start, Days: days, Faults: true, Saws: []string{"s2", "s5"}})
	var batch, late []analyze.Arrival
	flush := func(list []analyze.Arrival) {
		if _, err := db.Append(t.Context(), list); err != nil {
			t.Fatal(err)
		}
	}
	from, to := shift.DateOf(start), shift.DateOf(start).Add(days-1)
	for n := 0; ; n++ {
		line, ok := shop.Next()
		if !ok {
			break
		}
		a := decoder.Decode(line.Topic, line.Payload, line.Retain, line.At.Add(200*time.Millisecond))
		a.Topic, a.Payload = line.Topic, line.Payload
		if n%401 == 400 {
			late = append(late, a) // it comes with the next lot but one
			continue
		}
		if batch = append(batch, a); len(batch) < 997 {
			continue
		}
		flush(batch)
		batch = batch[:0]
		if err := Maintain(t.Context(), db, cfg, line.At); err != nil {
			t.Fatal(err)
		}
		if len(late) > 5 {
			flush(late)
			late = late[:0]
		}
		if n%5 == 0 {
			explainSome(t, db, line.At)
		}
	}
	flush(append(batch, late...))
	now := start.AddDate(0, 0, days)
	gather := func() []Saw {
		d, err := Gather(t.Context(), db, cfg, now, from, to, true)
		if err != nil {
			t.Fatal(err)
		}
		return d.Saws
	}
	kept := gather()
	known, err := db.Days(t.Context(), NewData(cfg, now, from, to).digest(), from, to, false)
	if err != nil || len(known) != 2 || len(known[0].Days) < days/2 {
		t.Fatalf("few days are kept: %v", err)
	}
	if err := Maintain(t.Context(), db, cfg, now); err != nil {
		t.Fatal(err)
	}
	all := gather()
	cfg.Downtime.Minor++ // a microsecond's part: other rules, nothing kept serves
	cold := gather()
	for i := range cold {
		compare(t, "kept", kept[i], cold[i])
		compare(t, "all kept", all[i], cold[i])
	}
}

// compare holds each day of a saw to that of another way to it.
func compare(t *testing.T, what string, got, want Saw) {
	t.Helper()
	if len(got.Days) != len(want.Days) {
		t.Fatalf("%s: %s has %d days, want %d", what, got.Name, len(got.Days), len(want.Days))
	}
	for i := range got.Days {
		g, w := got.Days[i], want.Days[i]
		for name, pair := range map[string][2]any{"times": {g.Times, w.Times}, "work": {g.Work, w.Work}, "stops": {g.Stops, w.Stops}, "marks": {g.Marks, w.Marks}} {
			if fmt.Sprintf("%+v", pair[0]) != fmt.Sprintf("%+v", pair[1]) && !reflect.DeepEqual(pair[0], pair[1]) {
				t.Fatalf("%s: %s of %s on %s\n got %+v\nwant %+v", what, name, got.Name, g.Date, pair[0], pair[1])
			}
		}
	}
}

// explainSome gives a stop of some hours ago a cause.
func explainSome(t *testing.T, db *store.Store, now time.Time) {
	t.Helper()
	_, err := db.Explain(t.Context(), store.Explanation{
		Saw: "s2", At: now.Add(-50 * time.Hour), Cause: "waiting-crane", Who: "a supervisor", Why: "it was so", Recorded: now,
	})
	if err != nil {
		t.Fatal(err)
	}
}
