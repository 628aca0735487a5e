package standing

import (
	"math"
	"path/filepath"
	"testing"
	"time"

	"gullet/analyze"
	"gullet/analyze/downtime"
	"gullet/analyze/shift"
	"gullet/cmd/gullet/internal/sim"
	"gullet/config"
	"gullet/ingest"
	"gullet/store"
)

// simulated stores some days of the simulated shop and returns what really happened.
func simulated(t *testing.T, o sim.Options) (*store.Store, sim.Truth) {
	t.Helper()
	db, err := store.Open(t.Context(), store.Options{Path: filepath.Join(t.TempDir(), "gullet.db")})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = db.Close() })
	decoder, shop := ingest.NewDecoder(ingest.Options{}), sim.New(o)
	var batch []analyze.Arrival
	flush := func() {
		if _, err := db.Append(t.Context(), batch); err != nil {
			t.Fatal(err)
		}
		batch = batch[:0]
	}
	for line, ok := shop.Next(); ok; line, ok = shop.Next() {
		a := decoder.Decode(line.Topic, line.Payload, line.Retain, line.At.Add(200*time.Millisecond))
		a.Topic, a.Payload = line.Topic, line.Payload
		if batch = append(batch, a); len(batch) == 211 {
			flush()
		}
	}
	flush()
	return db, shop.Truth()
}

// twoShifts is a configuration with the shifts that the simulated shop works.
func twoShifts(t testing.TB, zone string) *config.Config {
	t.Helper()
	loaded, err := config.Load(config.Options{})
	if err != nil {
		t.Fatal(err)
	}
	c := &loaded.Config
	c.Shop.Zone = zone
	days := [7]bool{time.Monday: true, time.Tuesday: true, time.Wednesday: true, time.Thursday: true, time.Friday: true}
	c.Shifts = []shift.Rule{{Name: "early", Start: 6 * 60, End: 14 * 60, Days: days}, {Name: "late", Start: 14 * 60, End: 22 * 60, Days: days}}
	return c
}

// What the saws stood for is what they really stood for, to the second: in the
// generative model (domain reference, section 10), which shares no code with this.
// Causes that merge into a broken or pulled blade are held together.
func TestStandingIsWhatHappened(t *testing.T) {
	const zone = "America/Chicago"
	place, err := time.LoadLocation(zone)
	if err != nil {
		t.Fatal(err)
	}
	start := time.Date(2026, 2, 23, 0, 0, 0, 0, place) // the clock is changed on 8 March
	db, truth := simulated(t, sim.Options{Seed: 3, Start: start, Days: 21, Zone: place})
	cfg := twoShifts(t, zone)
	cfg.Downtime.Minor, cfg.Downtime.Restart = 0, 0
	now := start.AddDate(0, 0, 21)
	from, to := shift.DateOf(start), shift.DateOf(now).Add(-1)
	data, err := Gather(t.Context(), db, cfg, now, from, to, true)
	if err != nil {
		t.Fatal(err)
	}
	merged := map[analyze.Cause]bool{"blade-break": true, downtime.BladePull: true, "blade-change": true, "deviation-trip": true}
	for i, saw := range truth.Saws {
		r := Build(data, Options{From: from, To: to, Only: Only{Saw: saw.Name}})
		if got, want := r.Saws[0].Calendar, now.Sub(start).Minutes(); i >= 0 && !(got > want-7*60 && got <= want) {
			t.Errorf("%s: %v min in all, want %v from its first reading on", saw.Name, got, want)
		}
		// What a saw stood for past the end of a shift is unscheduled, and happened.
		got, want := map[string]float64{}, map[string]float64{}
		for _, day := range data.Saws[i].Days {
			for _, e := range day.Times {
				switch {
				case e.Cause == "" || e.Cause == downtime.BetweenCuts, e.Cause == downtime.Unexplained && e.Element == downtime.Unscheduled:
				case merged[e.Cause]:
					got["blade"] += e.Took.Minutes()
				default:
					got[string(e.Cause)] += e.Took.Minutes()
				}
			}
		}
		for cause, stood := range saw.Down {
			if merged[analyze.Cause(cause)] {
				cause = "blade"
			}
			want[cause] += stood.Minutes()
		}
		for cause, minutes := range want {
			if math.Abs(got[cause]-minutes) > 1.0/60 {
				t.Errorf("%s stood %.2f min for %s, really %.2f", saw.Name, got[cause], cause, minutes)
			}
			delete(got, cause)
		}
		if len(got) > 0 {
			t.Errorf("%s stood for what did not happen: %v", saw.Name, got)
		}
		if produced := r.Saws[0].Minutes.Production; math.Abs(produced-saw.InCut.Minutes()) > 1.0/60 {
			t.Errorf("%s produced %.2f min, really %.2f", saw.Name, produced, saw.InCut.Minutes())
		}
	}
}
