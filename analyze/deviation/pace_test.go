package deviation

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

// The model cuts 6 in²/min, 5 % about that, and 35 % slower when its 9,000 in² are
// gone: ln 1.35 over a clock of 81, of which the straight line takes a little less.
func TestStandardIsRecovered(t *testing.T) {
	for seed := range uint64(6) {
		s := NewStandard(newModel(seed).past(12), 2)
		if s.Cuts < 5000 || math.Abs(s.SD-0.05) > 0.003 || math.Abs(s.Slow-math.Log(1.35)/81) > 0.0015 {
			t.Errorf("seed %d: %+v, want 5 %% and %v", seed, s, math.Log(1.35)/81)
		}
		for _, face := range []float64{4, 7, 12} {
			off, ok := s.Off(&Cut{Face: face, Seconds: 60 * face / 6, Grade: "A992"})
			if !ok || math.Abs(off) > 0.03 {
				t.Errorf("seed %d: a sharp cut of %v in² at 6 in²/min is off by %v (%v)", seed, face, off, ok)
			}
		}
	}
}

// What has no standard has no pace.
func TestStandardIsNotKnown(t *testing.T) {
	s := NewStandard(newModel(1).past(4), 2)
	good := Cut{Face: 7, Seconds: 70, Grade: "A992"}
	if _, ok := s.Off(&good); !ok {
		t.Fatal("a usual cut has no standard")
	}
	for name, spoil := range map[string]func(*Cut){
		"another grade":       func(c *Cut) { c.Grade = "H13" },
		"a size never cut":    func(c *Cut) { c.Face, c.Seconds = 200, 2000 },
		"a trip":              func(c *Cut) { c.Tripped = true },
		"no time":             func(c *Cut) { c.Seconds = math.NaN() },
		"a time of 0":         func(c *Cut) { c.Seconds = 0 },
		"a time without end":  func(c *Cut) { c.Seconds = math.Inf(1) },
		"a face not known":    func(c *Cut) { c.Face = math.NaN() },
		"a face of less than": func(c *Cut) { c.Face = -1 },
	} {
		c := good
		spoil(&c)
		if off, ok := s.Off(&c); ok {
			t.Errorf("%s is off by %v", name, off)
		}
	}
	for name, past := range map[string][][]Cut{"no blade": nil, "few cuts": {newModel(1).blade().Cuts[:20]}} {
		s := NewStandard(past, 2)
		if off, ok := s.Off(&good); ok || s.SD != 0 {
			t.Errorf("of %s a cut is off by %v from %+v", name, off, s)
		}
	}
}

// pacedBlade is a blade of 400 cuts, ln off the standard by of.
func pacedBlade(of func(i int) float64) []Cut {
	var cuts []Cut
	for i := range 400 {
		wobble := 0.04 * []float64{1, -1, 0.5, -0.5}[i%4]
		cuts = append(cuts, Cut{From: 10 * float64(i), Area: 10 * float64(i+1), Face: 7, Grade: "A36", Seconds: 70 / math.Exp(of(i)+wobble)})
	}
	return cuts
}

// A stretch of cuts a fifth faster is fast, less its first few and last few; a
// single one, a short one, a blade that is faster all along and the run-in are not.
func TestPushedCutsAreMarked(t *testing.T) {
	s := Standard{SD: 0.05, Power: 2, cells: map[cell]float64{cellOf(&Cut{Face: 7, Grade: "A36"}): math.Log(6)}}
	for name, c := range map[string]struct {
		of       func(i int) float64
		from, to int // within a few cuts; 0: none
	}{
		"as usual":                  {func(int) float64 { return 0 }, 0, 0},
		"a fifth faster for 100":    {func(i int) float64 { return pick(i >= 200 && i < 300, 0, 0.2) }, 200, 300},
		"a fifth faster to the end": {func(i int) float64 { return pick(i >= 350, 0, 0.2) }, 350, 400},
		"one cut":                   {func(i int) float64 { return pick(i == 200, 0, 0.5) }, 0, 0},
		"six cuts":                  {func(i int) float64 { return pick(i >= 200 && i < 206, 0, 0.2) }, 0, 0},
		"the run-in":                {func(i int) float64 { return pick(i < 12, 0, 0.3) }, 0, 0},
	} {
		f := Fitting{Cuts: pacedBlade(c.of)}
		s.mark([]Fitting{f})
		first, last, n := -1, -1, 0
		for i := range f.Cuts {
			if f.Cuts[i].fast {
				n++
				last = i
				if first < 0 {
					first = i
				}
			}
			if known := !math.IsNaN(f.Cuts[i].pace); known != (f.Cuts[i].Area > runIn) {
				t.Fatalf("%s: cut %d has a pace %v", name, i, f.Cuts[i].pace)
			}
		}
		if c.to == 0 && n > 0 || c.to > 0 && (first < c.from || first > c.from+6 || last > c.to || last < c.to-6 || n < last-first-2) {
			t.Errorf("%s: %d cuts from %d to %d are fast, want from %d to %d", name, n, first, last, c.from, c.to)
		}
	}
}

// Another unit of time, or of the standards, changes no pace.
func TestStandardProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		past := newModel(rapid.Uint64Range(0, 1<<40).Draw(t, "seed")).past(2)
		times := rapid.Float64Range(1e-3, 1e3).Draw(t, "times")
		a := NewStandard(past, 2)
		c := past[0][len(past[0])/2]
		before, known := a.Off(&c)
		for _, cuts := range past {
			for i := range cuts {
				cuts[i].Seconds *= times
			}
		}
		c.Seconds *= times
		b := NewStandard(past, 2)
		after, as := b.Off(&c)
		if known != as || math.Abs(before-after) > 1e-9 || math.Abs(a.Slow-b.Slow) > 1e-9 || math.Abs(a.SD-b.SD) > 1e-9 {
			t.Fatalf("%v and %v, of %+v and %+v", before, after, a, b)
		}
	})
}
