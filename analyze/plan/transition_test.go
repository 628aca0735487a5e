package plan

import (
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

func transit(t testing.TB, survival func(float64) float64, boundaries []float64, planned, unplanned, rate float64) Transition {
	t.Helper()
	got, err := Transit(survival, boundaries, planned, unplanned, rate)
	if err != nil {
		t.Fatal(err)
	}
	return got
}

// Where chance alone ends a blade, with a rate r, J(x) has a closed form:
//
//	J(x) = planned·e + unplanned·(1-e) - g/r·(1-e),  e = exp(-r·x).
func TestTransitByChance(t *testing.T) {
	boundaries := []float64{0, 10, 500, 2500, 40000}
	for _, c := range []struct {
		name string
		rate float64 // of the blades to come
		best int
	}{
		{"the blades to come are as good", 240.0 / 5000, 4}, // on: changing early never helps
		{"they are free", 0, 0},
		{"they cost just less than a break is dearer", 179.0 / 5000, 0},
		{"they cost just more", 181.0 / 5000, 4},
	} {
		got := transit(t, weibull(1, 5000, 0), boundaries, 60, 240, c.rate)
		if got.Best != c.best {
			t.Errorf("%s: best at %d, want %d", c.name, got.Best, c.best)
		}
		for i, x := range boundaries {
			e := math.Exp(-x / 5000)
			near(t, c.name+": cost", got.Cost[i], 60*e+240*(1-e)-c.rate*5000*(1-e), 1e-6)
			near(t, c.name+": ended", got.Ended[i], 1-e, 1e-12)
		}
	}
}

// House example (domain reference 5.3): of blades at 6,000 a share of 0.1229 ends in
// the next 1,000, and the least rate is 0.01860 at an age of 5,550, so that such a
// blade is to be changed at once. One at 4,000 is to run on for 1,550.
func TestTransitHouseExample(t *testing.T) {
	boundaries := []float64{0, 500, 1000, 1400, 1700, 3000}
	worn := transit(t, weibull(2.5, 10000, 6000), boundaries, 60, 240, 0.01860)
	near(t, "ended within 1,000", worn.Ended[2], 0.1229, 1e-3)
	if worn.Best != 0 {
		t.Errorf("a blade at 6,000 runs to boundary %d, want 0", worn.Best)
	}
	fresh := transit(t, weibull(2.5, 10000, 4000), boundaries, 60, 240, 0.01860)
	if fresh.Best != 3 && fresh.Best != 4 {
		t.Errorf("a blade at 4,000 runs to boundary %d, want 3 or 4", fresh.Best)
	}
}

func TestWithinARisk(t *testing.T) {
	early := func(x float64) float64 { // a tenth of them at 5, the others by even chances until 100
		return math.Max(0, (0.9+0.1*oneUntil(5, x))*(1-x/100))
	}
	got := transit(t, early, []float64{0, 1, 4, 20, 50, 200}, 60, 240, 0)
	for _, c := range []struct {
		risk float64
		want int
	}{{0, 0}, {-1, 0}, {math.NaN(), 0}, {0.005, 0}, {0.01001, 1}, {0.2799, 2}, {0.28001, 3}, {0.9, 4}, {1, 5}, {2, 5}} {
		if at := got.Within(c.risk); at != c.want {
			t.Errorf("a risk of %v allows boundary %d, want %d", c.risk, at, c.want)
		}
	}
}

func TestTransitRefuses(t *testing.T) {
	fine := weibull(2, 9000, 0)
	inf, nan := math.Inf(1), math.NaN()
	rising := []float64{0, 1, 2}
	for _, c := range []struct {
		name                     string
		survival                 func(float64) float64
		boundaries               []float64
		planned, unplanned, rate float64
		want                     string
	}{
		{"a free change", fine, rising, 0, 240, 1, "want costs above 0"},
		{"a negative rate", fine, rising, 60, 240, -1, "want 0 or more"},
		{"a rate that is no number", fine, rising, 60, 240, nan, "want 0 or more"},
		{"an endless rate", fine, rising, 60, 240, inf, "want 0 or more"},
		{"no boundary", fine, nil, 60, 240, 1, "not 0, now"},
		{"none now", fine, []float64{1, 2}, 60, 240, 1, "not 0, now"},
		{"a boundary twice", fine, []float64{0, 1, 1}, 60, 240, 1, "want them to rise"},
		{"a boundary that is no number", fine, []float64{0, nan}, 60, 240, 1, "want them to rise"},
		{"an endless boundary", fine, []float64{0, inf}, 60, 240, 1, "want them to rise"},
		{"a blade that has ended", func(float64) float64 { return 0 }, []float64{0}, 60, 240, 1, "want 1"},
		{"a chance that rises", func(x float64) float64 { return 1 - math.Abs(math.Sin(x)) }, []float64{0, 9}, 60, 240, 1, "rises"},
	} {
		if _, err := Transit(c.survival, c.boundaries, c.planned, c.unplanned, c.rate); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: error %v, want one with %q", c.name, err, c.want)
		}
	}
}

// Where it makes no difference the blade is changed at the first occasion.
func TestTransitOfATie(t *testing.T) {
	got := transit(t, func(float64) float64 { return 1 }, []float64{0, 10, 20}, 60, 240, 0)
	if got.Best != 0 || got.Within(0) != 2 {
		t.Errorf("best at %d, without risk to %d, want 0 and 2", got.Best, got.Within(0))
	}
}

// With no other boundary there is nothing to decide.
func TestTransitOnlyNow(t *testing.T) {
	got := transit(t, weibull(2, 9000, 0), []float64{0}, 60, 240, 1)
	if len(got.Cost) != 1 || got.Cost[0] != 60 || got.Best != 0 || got.Within(1) != 0 {
		t.Errorf("got %+v, want a cost of 60 at boundary 0", got)
	}
}

// A new blade, weighed against blades like it that are changed at the best age,
// is best changed at that age too; the older it is the sooner, by as much; and J
// is then next to 0: a new blade is worth what its change has cost.
func TestTransitOfANewBladeIsReplace(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		shape := rapid.Float64Range(1.2, 8).Draw(t, "shape")
		scale := math.Exp(rapid.Float64Range(-10, 20).Draw(t, "ln scale"))
		ratio := math.Exp(rapid.Float64Range(1.2, 4).Draw(t, "ln ratio"))
		best, err := Replace(weibull(shape, scale, 0), scale, 60, 60*ratio)
		if err != nil {
			t.Fatal(err)
		}
		cut := best.Age * rapid.Float64Range(0, 0.9).Draw(t, "share of the best age")
		var boundaries []float64
		const steps = 400
		for i := range steps {
			boundaries = append(boundaries, 2*best.Age*float64(i)/steps)
		}
		got, err := Transit(weibull(shape, scale, cut), boundaries, 60, 60*ratio, best.Rate)
		if err != nil {
			t.Fatal(err)
		}
		if at, want := boundaries[got.Best], best.Age-cut; math.Abs(at-want) > 2*best.Age/steps {
			t.Fatalf("best changed after %v more, want %v", at, want)
		}
		if cut == 0 && math.Abs(got.Cost[got.Best]) > 60*1e-2 {
			t.Fatalf("a new blade is %v short of what its change has cost", got.Cost[got.Best])
		}
		for i := range boundaries[1:] {
			if got.Ended[i+1] < got.Ended[i] {
				t.Fatalf("fewer have ended at boundary %d than before", i+1)
			}
		}
	})
}

func TestCostsBesides(t *testing.T) {
	tr := Transition{Cost: []float64{50, 40, 45}, Best: 1}
	tr.Add([]float64{0, 20, 0})
	if tr.Best != 2 || tr.Cost[1] != 60 {
		t.Errorf("with 20 more at the best %+v, want the last to be best", tr)
	}
}
