package backtest

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"gullet/analyze"
	"gullet/cmd/gullet/internal/planning"
	"gullet/config"
	"gullet/store"
)

// opened is when the invented shop opens.
var opened = time.Date(2024, 1, 1, 6, 0, 0, 0, time.UTC)

func ptr[T any](x T) *T { return &x }

// made is an invented shop. Each blade ends in one of two ways, whichever comes first:
// worn, by a Weibull of shape 3, or stripped, by chance at any age. Pulls are at random
// and have nothing to do with the blade.
type made struct {
	seed         uint64
	blades, saws int
	types        []string
	grades       []string
	scale        float64 // in² of the worn
	strips       float64 // mean in² of the stripped
	pulls        float64 // mean in² to a pull beyond a third of scale; 0: none
	pace         float64 // in² a day
}

// input is the history of the shop, seen at the end of its last blade. What a fitting had
// done by a time goes evenly.
func (m made) input(t testing.TB) *Input {
	t.Helper()
	loaded, err := config.Load(config.Options{})
	if err != nil {
		t.Fatal(err)
	}
	cfg := loaded.Config
	cfg.Saws = nil
	random := rand.New(rand.NewPCG(m.seed, 0))
	in := &Input{Config: &cfg, Costs: planning.Costs{SawHour: 120, Planned: 15, Unplanned: 45, Scrap: 60}}
	for i, name := range m.types {
		cfg.BladeTypes = append(cfg.BladeTypes, analyze.BladeType{Name: name, Price: ptr(40 + 30*float64(i))})
	}
	free := make([]time.Time, m.saws)
	for i := range m.saws {
		cfg.Saws = append(cfg.Saws, analyze.Saw{Name: fmt.Sprintf("s%d", i+1), BandLength: ptr(16.0)})
		free[i] = opened.Add(time.Duration(i) * time.Minute)
	}
	for n := range m.blades {
		saw := n % m.saws
		f := m.hang(random, n, free[saw])
		f.ID, f.Saw = int64(n+1), cfg.Saws[saw].Name
		free[saw] = f.End.Add(time.Minute)
		in.Fittings = append(in.Fittings, f)
		in.Now = latest(in.Now, f.End)
	}
	in.Totals = evenly(in)
	in.Passes, in.Most = func(string, time.Time, time.Time, func(store.HistoryRow) error) error { return nil }, MostFollowed
	return in
}

func latest(a, b time.Time) time.Time {
	if a.After(b) {
		return a
	}
	return b
}

// hang is the n-th blade from its first to its last.
func (m made) hang(random *rand.Rand, n int, start time.Time) store.FittingRow {
	kind := random.IntN(len(m.types))
	scale := m.scale * (1 + 0.5*float64(kind))
	area, reason := scale*math.Pow(random.ExpFloat64(), 1.0/3), analyze.ReasonDull
	if strip := m.strips * random.ExpFloat64(); strip < area {
		area, reason = strip, analyze.ReasonStripped
	}
	if pull := scale/3 + m.pulls*random.ExpFloat64(); m.pulls > 0 && pull < area {
		area, reason = pull, analyze.ReasonPlanned
	}
	grade := m.grades[random.IntN(len(m.grades))]
	f := store.FittingRow{
		Fitting: analyze.Fitting{Serial: fmt.Sprintf("B%05d", n+1), Type: m.types[kind], Start: start, Reason: reason},
		Totals:  []analyze.GradeTotal{{Grade: grade, Area: area, Cuts: 100, Seconds: 10 * area, Travel: 10 * area}},
		Area:    area, Cuts: 100,
	}
	f.End = start.Add(time.Duration(area / m.pace * 24 * float64(time.Hour)))
	f.LastPass = f.End.Add(-time.Second)
	if reason.Ends() {
		f.LastGrade = grade
	}
	return f
}

// evenly tells the totals of the fittings of an input as if they went evenly with time.
func evenly(in *Input) func(string, time.Time, time.Time) ([]analyze.GradeTotal, error) {
	type place struct {
		saw  string
		from time.Time
	}
	at := map[place]*store.FittingRow{}
	for i := range in.Fittings {
		at[place{in.Fittings[i].Saw, in.Fittings[i].Start}] = &in.Fittings[i]
	}
	return func(saw string, from, until time.Time) ([]analyze.GradeTotal, error) {
		f := at[place{saw, from}]
		if f == nil {
			return nil, fmt.Errorf("no fitting of %s begins at %s", saw, from)
		}
		share := math.Min(1, float64(until.Sub(from))/float64(f.LastPass.Sub(from)))
		totals := slices.Clone(f.Totals)
		for i := range totals {
			g := &totals[i]
			g.Area, g.Seconds, g.Travel = share*g.Area, share*g.Seconds, share*g.Travel
		}
		return totals, nil
	}
}

// clean is a shop of one type that cuts carbon steel and pulls blades at random.
func clean(seed uint64, blades int) made {
	return made{seed: seed, blades: blades, saws: 3, types: []string{"T"}, grades: []string{"1018"}, scale: 9000, strips: 30000, pulls: 8000, pace: 3000}
}

func build(t testing.TB, in *Input) *Report {
	t.Helper()
	r, err := Build(in)
	if err != nil {
		t.Fatal(err)
	}
	return r
}
