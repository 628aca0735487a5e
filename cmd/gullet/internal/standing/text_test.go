package standing

import (
	"context"
	"strings"
	"testing"
	"time"

	"gullet/analyze/shift"
	"gullet/cmd/gullet/internal/figures"
	"gullet/cmd/gullet/internal/golden"
	"gullet/cmd/gullet/internal/sim"
)

// The report of a simulated shop with every fault, as people read it.
func TestText(t *testing.T) {
	start := time.Date(2026, 1, 5, 0, 0, 0, 0, time.UTC)
	db, _ := simulated(t, sim.Options{Seed: 1, Start: start, Days: 26, Faults: true})
	cfg := twoShifts(t, "UTC")
	now := start.AddDate(0, 0, 24).Add(15 * time.Hour) // within a shift
	report := func(o Options, lines bool) string {
		data, err := Gather(t.Context(), db, cfg, now, o.Since(), o.To, true)
		if err != nil {
			t.Fatal(err)
		}
		r := Build(data, o)
		if lines {
			data.From = o.From
			if r.Lines, err = data.Lines(context.Background(), db, o.Only.Saw); err != nil {
				t.Fatal(err)
			}
		}
		var out strings.Builder
		if err := r.Write(&out, figures.Style{Zone: time.UTC}); err != nil {
			t.Fatal(err)
		}
		return out.String()
	}
	first, last := shift.DateOf(start), shift.DateOf(now)
	split := first.Add(14)
	golden.Check(t, "all.golden", report(Options{From: first, To: last, By: "saw", Split: &split}, false))
	golden.Check(t, "shift.golden", report(Options{From: last.Add(-6), To: last, By: "weekday", Only: Only{Saw: "s2", Shift: "late"}}, false))
	golden.Check(t, "lines.golden", report(Options{From: last, To: last, Only: Only{Saw: "s4"}}, true))
	golden.Check(t, "nothing.golden", report(Options{From: first.Add(-20), To: first.Add(-14), By: "grade"}, false))
}
