package deviation

import (
	"math"
	"math/rand/v2"
	"testing"

	"pgregory.net/rapid"
)

// still is a clock that stands: the break is then sought in the level alone.
func still(n int) []float64 { return make([]float64, n) }

// even is a clock that goes by one unit with each value.
func even(n int) []float64 {
	clock := make([]float64, n)
	for i := range clock {
		clock[i] = float64(i)
	}
	return clock
}

// Wanted values from R 4.2.2 with strucchange 1.5-3,
// testdata/reference/breakpoint/SOURCE.
func TestBreakAgreesWithReference(t *testing.T) {
	var want struct {
		Level int     `json:"level_break"`
		RSS   float64 `json:"level_rss"`
	}
	readReference(t, "breakpoint", &want)
	values := readColumns(t, "breakpoint")["level"]
	b, err := LevelBreak(still(len(values)), values, 0, nil)
	if err != nil {
		t.Fatal(err)
	}
	if b.Last+1 != want.Level || !math.IsNaN(b.P) {
		t.Errorf("the level breaks after %d values with P %v, want %d and none", b.Last+1, b.P, want.Level)
	}
	close(t, "sum of squares", b.RSS, want.RSS, 1e-9)
}

// By hand: steps in series that hold nothing else leave nothing.
func TestBreaksByHand(t *testing.T) {
	for name, c := range map[string]struct {
		clock []float64
		of    func(i int) float64
		last  int
		size  float64
	}{
		"a level of 1, 4 from the 11th value": {still(25), func(i int) float64 { return pick(i >= 10, 1, 4) }, 9, 3},
		"down by a little":                    {still(40), func(i int) float64 { return pick(i >= 30, 2, 1.75) }, 29, -0.25},
		"a line that drops by 5":              {even(25), func(i int) float64 { return float64(i) - pick(i >= 12, 0, 5) }, 11, -5},
		"a falling line that rises by 2":      {even(30), func(i int) float64 { return 7 - 0.5*float64(i) + pick(i >= 20, 0, 2) }, 19, 2},
	} {
		values := make([]float64, len(c.clock))
		for i := range values {
			values[i] = c.of(i)
		}
		b, err := LevelBreak(c.clock, values, 199, rand.New(rand.NewPCG(1, 0)))
		if err != nil || b.Last != c.last || math.Abs(b.Size-c.size) > 1e-9 || math.Abs(b.RSS) > 1e-9 || b.P != 1.0/200 {
			t.Errorf("%s: %+v (%v), want after %d values by %v, with a chance of 1 in 200", name, b, err, c.last+1, c.size)
		}
	}
}

func pick(late bool, before, after float64) float64 {
	if late {
		return after
	}
	return before
}

// Simulated, seed 3: a wear line hides a step from a fit of the level alone; fitted
// together the place is found and the size to 3 standard errors.
func TestBreakBesideWear(t *testing.T) {
	random := rand.New(rand.NewPCG(3, 0))
	clock, values := even(200), make([]float64, 200)
	for i := range values {
		values[i] = 0.02*clock[i] + pick(i >= 120, 0, -0.9) + 0.2*random.NormFloat64()
	}
	b, err := LevelBreak(clock, values, 99, random)
	if err != nil || b.Last < 116 || b.Last > 122 || math.Abs(b.Size+0.9) > 0.17 || b.P > 0.01 {
		t.Errorf("the break is %+v (%v), want -0.9 after 120 values", b, err)
	}
	alone, _ := LevelBreak(still(200), values, 0, nil)
	if alone.Size < 0 {
		t.Errorf("without the line the break is %+v: the case shows nothing", alone)
	}
	// A line alone is no change.
	for i := range values {
		values[i] = 0.02*clock[i] + 0.2*random.NormFloat64()
	}
	if b, _ := LevelBreak(clock, values, 99, random); b.P < 0.05 {
		t.Errorf("in a line without a step the break is %+v", b)
	}
}

// Simulated, seed 2: without a break P is even, beside wear and without, so that a
// twentieth of the series have one of 0.05 at most, and half one of 0.5 (3 standard
// errors of 600 series: 2.7 and 6.1 points).
func TestBreakIsNotSeenWhereNoneIs(t *testing.T) {
	random := rand.New(rand.NewPCG(2, 0))
	const series, n = 600, 40
	for name, clock := range map[string][]float64{"level": still(n), "line": even(n)} {
		few, half := 0, 0
		for range series {
			values := make([]float64, n)
			for i := range values {
				values[i] = 0.1*clock[i] + random.NormFloat64()
			}
			b, err := LevelBreak(clock, values, 99, random)
			if err != nil {
				t.Fatal(err)
			}
			if b.P <= 0.05 {
				few++
			}
			if b.P <= 0.5 {
				half++
			}
		}
		if a, b := float64(few)/series, float64(half)/series; math.Abs(a-0.05) > 0.027 || math.Abs(b-0.5) > 0.061 {
			t.Errorf("%s: P is at most 0.05 in %.3f and at most 0.5 in %.3f of the series without a break", name, a, b)
		}
	}
}

func TestBreakRefuses(t *testing.T) {
	endless, nan := make([]float64, MinBreak), make([]float64, MinBreak)
	endless[3], nan[5] = math.Inf(1), math.NaN()
	for name, c := range map[string]struct{ clock, values []float64 }{
		"too few":                  {still(MinBreak - 1), still(MinBreak - 1)},
		"a clock of other length":  {still(MinBreak + 1), still(MinBreak)},
		"a value without end":      {still(MinBreak), endless},
		"a moment that is no time": {nan, still(MinBreak)},
	} {
		if b, err := LevelBreak(c.clock, c.values, 0, nil); err == nil {
			t.Errorf("with %s the break is %+v", name, b)
		}
	}
	if b, err := LevelBreak(even(MinBreak), still(MinBreak), 19, rand.New(rand.NewPCG(1, 0))); err != nil || b.P != 1 {
		t.Errorf("of values that are all equal the break %+v (%v) has P %v, want 1", b, err, b.P)
	}
}

// A level, a line, a unit and turning the series round do not matter; with the
// clock all equal and with one the break leaves no more than the line alone.
func TestBreakProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		values := rapid.SliceOfN(rapid.Float64Range(-5, 5), MinBreak, 60).Draw(t, "values")
		clock := even(len(values))
		move, unit := rapid.Float64Range(-100, 100).Draw(t, "move"), rapid.Float64Range(0.01, 50).Draw(t, "unit")
		tilt := rapid.Float64Range(-2, 2).Draw(t, "tilt")
		moved, turned := make([]float64, len(values)), make([]float64, len(values))
		for i, v := range values {
			moved[i] = move + unit*(v+tilt*clock[i])
			turned[len(values)-1-i] = v
		}
		a, _ := LevelBreak(clock, values, 0, nil)
		b, _ := LevelBreak(clock, moved, 0, nil)
		c, _ := LevelBreak(clock, turned, 0, nil)
		left := newLine(clock).left(clock, values)
		if squares := dot(left, left); a.RSS > squares*(1+1e-9)+1e-9 || a.RSS < -1e-9*(1+squares) {
			t.Fatalf("%+v of %v", a, squares)
		}
		if math.Abs(b.RSS/(unit*unit)-a.RSS) > 1e-6*(1+a.RSS) {
			t.Fatalf("%+v, beside another line and in another unit %+v", a, b)
		}
		if math.Abs(c.RSS-a.RSS) > 1e-9*(1+a.RSS) {
			t.Fatalf("%+v, turned round %+v", a, c)
		}
	})
}
