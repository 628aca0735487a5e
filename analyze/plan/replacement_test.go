package plan

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

func replaced(t testing.TB, survival func(float64) float64, horizon, planned, unplanned float64) Replacement {
	t.Helper()
	r, err := Replace(survival, horizon, planned, unplanned)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// Wanted values: testdata/reference/replacement (first-order condition solved to
// 1e-12), at the scale and from the horizons of a shop and of no shop.
func TestReplaceAgreesWithReference(t *testing.T) {
	var cases []struct {
		Shape float64
		Ratio float64  `json:"cost_ratio"`
		Age   *float64 `json:"best_age_over_scale"`
		Rate  float64  `json:"cost_rate_times_scale"`
		ToEnd float64  `json:"run_to_end_rate_times_scale"`
	}
	readReference(t, "replacement", &cases)
	for _, c := range cases {
		for _, scale := range []float64{1e-6, 1, 9000, 1e9} {
			for _, horizon := range []float64{1e-9, 0.1, 1, 30, 1e9} {
				r := replaced(t, weibull(c.Shape, scale, 0), scale*horizon, 60, 60*c.Ratio)
				what := fmt.Sprintf("shape %v, ratio %v, scale %v, horizon %v: ", c.Shape, c.Ratio, scale, horizon)
				age := math.Inf(1)
				if c.Age != nil {
					age = *c.Age
				}
				near(t, what+"age", r.Age/scale, age, 1e-6)
				near(t, what+"rate", r.Rate*scale/60, c.Rate, 1e-8)
				near(t, what+"rate to the end", r.RunToEnd*scale/60, c.ToEnd, 1e-8)
				if r.Helps != (c.Age != nil) {
					t.Errorf("%shelps: %v", what, r.Helps)
				}
			}
		}
	}
}

// House examples (domain reference 5.3).
func TestReplaceHouseExamples(t *testing.T) {
	for _, c := range []struct {
		name               string
		shape, scale       float64
		planned, unplanned float64
		age, rate, toEnd   float64
	}{
		{"a break costs four changes", 2.5, 10000, 60, 240, 5550, 0.01860, 0.02705},
		{"a break costs ten changes", 2.5, 10000, 60, 600, 3550, 0.02850, 0.06762},
		{"a small blade", 3, 1000, 1, 5, 503, 0.003031, 0.005599},
		{"chance alone", 1, 1000, 1, 5, math.Inf(1), 0.005, 0.005},
	} {
		r := replaced(t, weibull(c.shape, c.scale, 0), 2*c.scale, c.planned, c.unplanned)
		near(t, c.name+": age", r.Age, c.age, 2e-3) // ages are given to 50
		near(t, c.name+": rate", r.Rate, c.rate, 3e-4)
		near(t, c.name+": rate to the end", r.RunToEnd, c.toEnd, 3e-4)
	}
}

// Lives that are no smooth curve have their best age just before a jump.
func TestReplaceAtJumps(t *testing.T) {
	steps := func(x float64) float64 { // Kaplan-Meier of the seven blades of domain reference 5.3
		switch {
		case x < 4100:
			return 1
		case x < 6400:
			return 6.0 / 7
		case x < 7100:
			return 24.0 / 35
		case x < 8800:
			return 18.0 / 35
		}
		return 9.0 / 35
	}
	before := 4100 + 2300*6.0/7 + 700*24.0/35 + 1700*18.0/35
	toEnd := before + 9.0/35*8800/-math.Log(9.0/35)
	for _, c := range []struct {
		name     string
		survival func(float64) float64
		planned  float64 // with an unplanned change at 100
		want     Replacement
	}{
		{"all blades last for 1,000", func(x float64) float64 { return oneUntil(1000, x) }, 60,
			Replacement{1000, 0.06, 0.1, true}},
		{"and a planned change costs more", func(x float64) float64 { return oneUntil(1000, x) }, 101,
			Replacement{math.Inf(1), 0.1, 0.1, false}},
		{"steps, and a tail that never ends", steps, 1,
			Replacement{4100, 1 / 4100.0, 100 / toEnd, true}},
		{"steps, and a planned change dear", steps, 70,
			Replacement{math.Inf(1), 100 / toEnd, 100 / toEnd, false}},
		{"half of them end at 10, the others at 1,000", func(x float64) float64 { return (oneUntil(10, x) + oneUntil(1000, x)) / 2 }, 20,
			Replacement{1000, (10 + 50) / 505.0, 100 / 505.0, true}},
		{"evenly until 1,000", func(x float64) float64 { return math.Max(0, 1-x/1000) }, 50,
			// (50 + 50·t/T)/(t - t²/2T) is least where (t/T)² + 2·t/T = 2.
			Replacement{1000 * (math.Sqrt(3) - 1), 0.05 * math.Sqrt(3) / (math.Sqrt(3) - 1 - math.Pow(math.Sqrt(3)-1, 2)/2), 0.2, true}},
	} {
		for _, horizon := range []float64{1, 4321, 1e7} {
			got := replaced(t, c.survival, horizon, c.planned, 100)
			what := fmt.Sprintf("%s, from %v: ", c.name, horizon)
			near(t, what+"age", got.Age, c.want.Age, 1e-6)
			// What lies beyond the level is guessed from where it begins, known to 1e-3.
			near(t, what+"rate to the end", got.RunToEnd, c.want.RunToEnd, 5e-4)
			if c.want.Helps {
				near(t, what+"rate", got.Rate, c.want.Rate, 1e-6)
			} else {
				near(t, what+"rate", got.Rate, got.RunToEnd, 0)
			}
			if got.Helps != c.want.Helps {
				t.Errorf("%shelps: %v", what, got.Helps)
			}
		}
	}
}

func oneUntil(end, x float64) float64 {
	if x < end {
		return 1
	}
	return 0
}

// Where no blade ends there is nothing to change and nothing to pay.
func TestReplaceWithoutEnds(t *testing.T) {
	got := replaced(t, func(float64) float64 { return 1 }, 1000, 60, 240)
	if want := (Replacement{Age: math.Inf(1)}); got != want {
		t.Errorf("got %+v, want %+v", got, want)
	}
}

// A plan reads what is left of a blade from a table that is level beyond its end.
func TestReplaceReadsACombinedLife(t *testing.T) {
	c := combined(t, Way{"wear", weibull(2.5, 10000, 0)}, Way{"strip", weibull(1, 60000, 0)})
	got := replaced(t, c.Left, 60000, 60, 240)
	want := replaced(t, func(x float64) float64 { return weibull(2.5, 10000, 0)(x) * weibull(1, 60000, 0)(x) }, 60000, 60, 240)
	near(t, "age", got.Age, want.Age, 0.05) // hazards of the table go by pieces
	near(t, "rate", got.Rate, want.Rate, 2e-3)
	near(t, "rate to the end", got.RunToEnd, want.RunToEnd, 2e-3)
}

func TestReplaceRefuses(t *testing.T) {
	fine := weibull(2, 9000, 0)
	inf, nan := math.Inf(1), math.NaN()
	for _, c := range []struct {
		name                        string
		survival                    func(float64) float64
		horizon, planned, unplanned float64
		want                        string
	}{
		{"a free change", fine, 100, 0, 240, "want costs above 0"},
		{"a negative cost", fine, 100, 60, -1, "want costs above 0"},
		{"an endless cost", fine, 100, 60, inf, "want costs above 0"},
		{"a cost that is no number", fine, 100, nan, 240, "want costs above 0"},
		{"no horizon", fine, 0, 60, 240, "want an area above 0"},
		{"a horizon that is no number", fine, nan, 60, 240, "want an area above 0"},
		{"an endless horizon", fine, inf, 60, 240, "want an area above 0"},
		{"ends at once", func(x float64) float64 { return oneUntil(0, x-1e-310) }, 100, 60, 240, "end at once"},
		{"no number", func(float64) float64 { return nan }, 100, 60, 240, "want 0 to 1"},
		{"no number for a while", func(x float64) float64 { return fine(x) + math.Sqrt(x-10) - math.Sqrt(x-10) }, 100, 60, 240, "want 0 to 1"},
		{"a chance above 1", func(x float64) float64 { return 2 * fine(x) }, 100, 60, 240, "want 0 to 1"},
		{"a chance that rises", func(x float64) float64 { return fine(x) * (0.9 + 0.1*math.Sin(x/300)) }, 100, 60, 240, "rises"},
	} {
		if _, err := Replace(c.survival, c.horizon, c.planned, c.unplanned); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: error %v, want one with %q", c.name, err, c.want)
		}
	}
}

// mixture is a life of two kinds of blades, the one perhaps far shorter: its cost
// curve may have two minima.
func mixture(t *rapid.T) func(float64) float64 {
	share := rapid.Float64Range(0, 1).Draw(t, "share")
	draw := func(name string) func(float64) float64 {
		return weibull(rapid.Float64Range(0.6, 12).Draw(t, name+" shape"), math.Exp(rapid.Float64Range(3, 10).Draw(t, name+" scale")), 0)
	}
	one, other := draw("one"), draw("other")
	return func(x float64) float64 { return share*one(x) + (1-share)*other(x) }
}

// No age on a fine grid does better than the answer, the answer costs what it says,
// and it does not depend on the horizon.
func TestReplaceFindsTheLowestMinimum(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		survival := mixture(t)
		ratio := math.Exp(rapid.Float64Range(-0.5, 5).Draw(t, "ln cost ratio"))
		got, err := Replace(survival, math.Exp(rapid.Float64Range(-5, 20).Draw(t, "ln horizon")), 1, ratio)
		if err != nil {
			t.Fatal(err)
		}
		if !(got.Rate <= got.RunToEnd) || got.Helps == math.IsInf(got.Age, 1) {
			t.Fatalf("%+v contradicts itself", got)
		}
		under, last, before := 0.0, 0.0, 1.0
		cost := func(left float64) float64 { return left + ratio*(1-left) }
		for x := 1e-4; x < 1e8; x *= 1.004 {
			left := survival(x)
			under += (x - last) * (left + 4*survival((x+last)/2) + before) / 6
			last, before = x, left
			if rate := cost(left) / under; rate < got.Rate*(1-1e-7) {
				t.Fatalf("changing at %v costs %v, less than %+v", x, rate, got)
			}
		}
		near(t, "run to the end", got.RunToEnd, ratio/under, 1e-6)
	})
}

// Two minima, the lower of which looks the higher at the ages first looked at
// (found by search). Wanted values: the least of C on a grid of steps of 1e-3.
func TestReplaceWeighsMinimaThatLookAlike(t *testing.T) {
	short, long := weibull(2.176786, 56.98005, 0), weibull(4.475811, 1232.193, 0)
	survival := func(x float64) float64 { return 0.935704*short(x) + 0.064296*long(x) }
	under, age, rate := 0.0, 0.0, math.Inf(1)
	for x := 1e-3; x < 2000; x += 1e-3 {
		left := survival(x)
		under += 1e-3 * survival(x-5e-4)
		if r := (left + 12.545874*(1-left)) / under; r < rate {
			age, rate = x, r
		}
	}
	got := replaced(t, survival, 1000, 1, 12.545874)
	near(t, "age", got.Age, age, 1e-3)
	near(t, "rate", got.Rate, rate, 1e-8)
}

// Of a survival by steps, one for each of some blades, the best age is just before
// an end, and all there is can be summed. Even steps look like a straight line.
func TestReplaceBySteps(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		ends := rapid.SliceOfN(rapid.Float64Range(100, 20000), 1, 60).Draw(t, "ends")
		if rapid.Bool().Draw(t, "even") {
			for i := range ends {
				ends[i] = ends[0] * float64(i+1)
			}
		}
		slices.Sort(ends)
		n := float64(len(ends))
		survival := func(x float64) float64 {
			gone, _ := slices.BinarySearchFunc(ends, x, func(end, x float64) int {
				if end <= x {
					return -1
				}
				return 1
			})
			return 1 - float64(gone)/n
		}
		unplanned := math.Exp(rapid.Float64Range(0, 4).Draw(t, "ln cost ratio"))
		best, under, last := math.Inf(1), 0.0, 0.0
		for i, end := range ends {
			left := 1 - float64(i)/n
			under += (end - last) * left
			last = end
			best = math.Min(best, (left+unplanned*(1-left))/under)
		}
		got, err := Replace(survival, 10000, 1, unplanned)
		if err != nil {
			t.Fatal(err)
		}
		tolerance := 2e-5
		if len(ends) <= 20 {
			tolerance = 1e-6
		}
		near(t, "rate", got.Rate, math.Min(best, unplanned/under), tolerance)
		near(t, "rate to the end", got.RunToEnd, unplanned/under, tolerance)
	})
}
