package deviation

import (
	"math"
	"math/rand/v2"
	"testing"

	"pgregory.net/rapid"
)

// Wanted values from R 4.2.2 with strucchange 1.5-3,
// testdata/reference/breakpoint/SOURCE.
func TestBreaksAgreeWithReference(t *testing.T) {
	var want struct {
		LevelBreak int     `json:"level_break"`
		LevelRSS   float64 `json:"level_rss"`
		SlopeBreak int     `json:"slope_break"`
	}
	readReference(t, "breakpoint", &want)
	columns := readColumns(t, "breakpoint")
	level, err := LevelBreak(columns["level"], 0, nil)
	if err != nil {
		t.Fatal(err)
	}
	if level.Last+1 != want.LevelBreak || !math.IsNaN(level.P) {
		t.Errorf("level breaks after %d values with P %v, want %d and none", level.Last+1, level.P, want.LevelBreak)
	}
	close(t, "sum of squares", level.RSS, want.LevelRSS, 1e-9)
	slope, err := LineBreak(columns["slope_series"])
	if err != nil {
		t.Fatal(err)
	}
	if slope.Last+1 != want.SlopeBreak {
		t.Errorf("the line breaks after %d values, want %d", slope.Last+1, want.SlopeBreak)
	}
}

// By hand: 10 times 1, then 15 times 4: nothing is left, and the level rises by 3.
func TestBreaksAsWritten(t *testing.T) {
	values := make([]float64, 25)
	for i := range values {
		values[i] = 1
		if i >= 10 {
			values[i] = 4
		}
	}
	b, err := LevelBreak(values, 199, rand.New(rand.NewPCG(1, 0)))
	if err != nil || b.Last != 9 || b.Size != 3 || b.RSS > 1e-12 || b.P != 1.0/200 {
		t.Errorf("break %+v (%v), want after 10 values by 3, with a chance of 1 in 200", b, err)
	}
	for i := range values { // a line of slope 1 that drops by 5 after the 12th
		values[i] = float64(i)
		if i >= 12 {
			values[i] -= 5
		}
	}
	if b, err = LineBreak(values); err != nil || b.Last != 11 || math.Abs(b.Size+5) > 1e-9 {
		t.Errorf("break %+v (%v), want a drop of 5 after 12 values", b, err)
	}
}

func TestBreaksRefuse(t *testing.T) {
	endless := make([]float64, MinBreak)
	endless[3] = math.Inf(1)
	for name, values := range map[string][]float64{"too few": make([]float64, MinBreak-1), "endless": endless} {
		if _, err := LevelBreak(values, 0, nil); err == nil {
			t.Errorf("a level with %s was taken", name)
		}
		if _, err := LineBreak(values); err == nil {
			t.Errorf("a line with %s was taken", name)
		}
	}
	if b, err := LevelBreak(make([]float64, MinBreak), 19, rand.New(rand.NewPCG(1, 0))); err != nil || b.P != 1 {
		t.Errorf("of values that are all equal the break %+v (%v) has P %v, want 1", b, err, b.P)
	}
}

// Simulated, seed 2: without a break P is even, so that a twentieth of the series
// have one below 0.05 (3 standard errors: 3.3 points).
func TestLevelBreakIsNotSeenWhereNoneIs(t *testing.T) {
	random := rand.New(rand.NewPCG(2, 0))
	const series = 400
	found := 0
	for range series {
		values := make([]float64, 40)
		for i := range values {
			values[i] = random.NormFloat64()
		}
		b, err := LevelBreak(values, 99, random)
		if err != nil {
			t.Fatal(err)
		}
		if b.P <= 0.05 {
			found++
		}
	}
	if share := float64(found) / series; math.Abs(share-0.05) > 0.033 {
		t.Errorf("breaks seen in %.3f of the series without one, want 0.05", share)
	}
}

// A level, a unit and turning the series round do not matter.
func TestBreakProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		values := rapid.SliceOfN(rapid.Float64Range(-5, 5), MinBreak, 60).Draw(t, "values")
		move, unit := rapid.Float64Range(-1e4, 1e4).Draw(t, "move"), rapid.Float64Range(0.01, 50).Draw(t, "unit")
		moved, turned := make([]float64, len(values)), make([]float64, len(values))
		for i, v := range values {
			moved[i] = move + unit*v
			turned[len(values)-1-i] = v
		}
		for name, find := range map[string]func([]float64) (Break, error){
			"level": func(x []float64) (Break, error) { return LevelBreak(x, 0, nil) },
			"line":  LineBreak,
		} {
			a, _ := find(values)
			b, _ := find(moved)
			c, _ := find(turned)
			if math.Abs(b.RSS/(unit*unit)-a.RSS) > 1e-6*(1+a.RSS) {
				t.Fatalf("%s: %+v, at another level and unit %+v", name, a, b)
			}
			if math.Abs(c.RSS-a.RSS) > 1e-9*(1+a.RSS) {
				t.Fatalf("%s: %+v, turned round %+v", name, a, c)
			}
		}
	})
}

func BenchmarkLevelBreak(b *testing.B) {
	random := rand.New(rand.NewPCG(1, 0))
	values := make([]float64, 2000)
	for i := range values {
		values[i] = random.NormFloat64()
	}
	for b.Loop() {
		if _, err := LevelBreak(values, 0, nil); err != nil {
			b.Fatal(err)
		}
	}
}
