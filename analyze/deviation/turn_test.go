package deviation

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"pgregory.net/rapid"
)

// swung are stretches of readings every so many seconds within a cut, on a band of
// 240 ft/min, with a swing that comes back with every turn of 16 ft: every 4 s.
func swung(seed uint64, stretches, n int, every, swing float64) (cuts []Cut) {
	random := rand.New(rand.NewPCG(seed, 11))
	at := time.Date(2026, 3, 2, 6, 0, 0, 0, time.UTC)
	area := 0.0
	for range stretches {
		phase := 2 * math.Pi * random.Float64()
		for i := range n {
			s := every * float64(i)
			area += 0.1
			cuts = append(cuts, Cut{
				At: at.Add(time.Duration(s * float64(time.Second))), Area: area, Height: 10, Speed: 240,
				Deviation: 0.4 + 0.002*float64(i) + swing*math.Sin(2*math.Pi*s/4+phase) + 0.27*random.NormFloat64(),
			})
		}
		at = at.Add(10 * time.Minute)
	}
	return cuts
}

// A swing of 0.3 is found with its size, whatever its phase in each stretch; one of
// a wheel that turns in 2.9 s is not, nor one of readings too far apart to tell.
func TestTurnsAreFound(t *testing.T) {
	p := usualPool
	cuts := swung(1, 6, 60, 1, 0.3)
	band := p.Turns(cuts, 16)
	if band.Chance < 0.95 || math.Abs(band.Size-0.3) > 0.08 || band.Readings != 360 || band.Runs != 6 {
		t.Errorf("with the band: %+v, want 0.3 in 6 stretches", band)
	}
	if wheel := p.Turns(cuts, 11.6); wheel.Chance > 0.1 {
		t.Errorf("with a wheel: %+v", wheel)
	}
	for name, c := range map[string]struct {
		cuts  []Cut
		round float64
	}{
		"a reading in two turns":     {swung(1, 6, 60, 8, 0.3), 16},
		"short stretches":            {swung(1, 20, minRun-1, 1, 0.3), 16},
		"no length of the band":      {cuts, math.NaN()},
		"a length of 0":              {cuts, 0},
		"no cut":                     {nil, 16},
		"equal readings, no scatter": {make([]Cut, 40), 16},
	} {
		if turn := p.Turns(c.cuts, c.round); turn.Runs != 0 || turn.Chance != 0 {
			t.Errorf("%s: %+v, want nothing", name, turn)
		}
	}
}

// Simulated, seeds 0 to 399: where nothing turns P is even (3 standard errors: 3.3
// and 7.5 points) and nothing is told.
func TestTurnsOfNothing(t *testing.T) {
	p := usualPool
	few, half, tells := 0, 0, 0
	for seed := range uint64(400) {
		turn := p.Turns(swung(seed, 3, 40, 1, 0), 16)
		few += int(pick(turn.P <= 0.05, 0, 1))
		half += int(pick(turn.P <= 0.5, 0, 1))
		tells += int(pick(turn.Chance >= told, 0, 1))
	}
	if math.Abs(float64(few)/400-0.05) > 0.033 || math.Abs(float64(half)/400-0.5) > 0.075 || tells > 1 {
		t.Errorf("of 400 P is at most 0.05 in %d and at most 0.5 in %d, and %d are told", few, half, tells)
	}
}

// A level, a unit and a later hour do not matter.
func TestTurnsProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := usualPool
		cuts := swung(rapid.Uint64Range(0, 1<<40).Draw(t, "seed"), 2, 30, 1, 0.2)
		a := p.Turns(cuts, 16)
		move, unit := rapid.Float64Range(-5, 5).Draw(t, "move"), rapid.Float64Range(0.01, 100).Draw(t, "unit")
		hours := time.Duration(rapid.IntRange(0, 1000).Draw(t, "hours")) * time.Hour
		for i := range cuts {
			cuts[i].At = cuts[i].At.Add(hours)
			cuts[i].Deviation = unit * (cuts[i].Deviation + move)
		}
		b := p.Turns(cuts, 16)
		if a.Runs != b.Runs || math.Abs(a.P-b.P) > 1e-9 || math.Abs(b.Size-unit*a.Size) > 1e-9*unit {
			t.Fatalf("%+v, moved %+v", a, b)
		}
	})
}
