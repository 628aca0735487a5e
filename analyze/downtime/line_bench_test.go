package downtime

import (
	"math"
	"testing"
	"time"

	"gullet/analyze"
	"gullet/analyze/shift"
)

// BenchmarkBuild is a year of one saw in three shifts: 70,000 cuts and 30,000 states.
// Limit 20 ms per 100,000 readings, so that two million are laid out in 0.4 s.
func BenchmarkBuild(b *testing.B) {
	r := Readings{TellsCuts: true, Online: []Online{{At: MomentOf(day0), Online: true}}}
	at := MomentOf(day0)
	states := []State{
		{State: analyze.StateStopped, Cause: "waiting-crane"}, {State: analyze.StateIdle, Cause: "count-done"},
		{State: analyze.StateIdle}, {State: analyze.StateStopped, Cause: "chips"},
	}
	for i := range 70_000 {
		at = at.add(7*time.Minute + 30*time.Second)
		p := Pass{From: at.add(-4 * time.Minute), To: at, Kind: analyze.KindCut, Grade: "A36", Piece: true, Area: 7.3, Standard: math.NaN()}
		if i%500 == 499 {
			p.Kind = analyze.KindTrip
		}
		r.Passes = append(r.Passes, p)
		if i%14 < 3 {
			s := states[i%len(states)]
			s.At = at.add(time.Duration(i%14) * time.Second)
			r.States = append(r.States, s, State{At: at.add(3 * time.Minute), State: analyze.StateCutting})
		}
	}
	until := at.add(time.Hour)
	cal := NewCalendar(shift.Default(time.UTC), "s1", day0, until.Time())
	rules := someRules()
	b.ReportAllocs()
	for b.Loop() {
		if l := Build(r, cal, rules, nil, MomentOf(day0), until); len(l.Stretches) < 140_000 || len(l.Stops) < 10_000 {
			b.Fatal(len(l.Stretches), len(l.Stops))
		}
	}
	readings := len(r.Passes) + len(r.States)
	b.ReportMetric(float64(b.Elapsed().Microseconds())/1000/float64(b.N)/float64(readings)*100_000, "ms/100k(limit:20)")
}
