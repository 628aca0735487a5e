package plan

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"gonum.org/v1/gonum/stat/combin"
	"pgregory.net/rapid"
)

func covered(t testing.TB, windows []Window, outcomes []Outcome) Coverage {
	t.Helper()
	c, err := Cover(windows, outcomes)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func TestWhereOutcomesFall(t *testing.T) {
	w, open := Window{1000, 2000, 3000}, Window{1000, 2000, math.Inf(1)}
	for _, c := range []struct {
		name    string
		window  Window
		outcome Outcome
		want    Coverage // its counts
	}{
		{"below", w, Outcome{Area: 999}, Coverage{Below: 1}},
		{"at the lower end", w, Outcome{Area: 1000}, Coverage{Inside: 1}},
		{"inside", w, Outcome{Area: 1500}, Coverage{Inside: 1}},
		{"at the upper end", w, Outcome{Area: 3000}, Coverage{Inside: 1}},
		{"above", w, Outcome{Area: 3001}, Coverage{Above: 1}},
		{"beyond an area inside", w, Outcome{1500, true}, Coverage{Undecided: 1}},
		{"beyond an area below", w, Outcome{0, true}, Coverage{Undecided: 1}},
		{"beyond the upper end", w, Outcome{3000, true}, Coverage{Above: 1}},
		{"inside an open window", open, Outcome{Area: 1e9}, Coverage{Inside: 1}},
		{"below an open window", open, Outcome{Area: 9}, Coverage{Below: 1}},
		{"beyond an area inside an open window", open, Outcome{1500, true}, Coverage{Inside: 1}},
		{"beyond an area below an open window", open, Outcome{900, true}, Coverage{Undecided: 1}},
		{"in a window of one point", Window{5, 5, 5}, Outcome{Area: 5}, Coverage{Inside: 1}},
		{"beyond a window of one point", Window{5, 5, 5}, Outcome{5, true}, Coverage{Above: 1}},
	} {
		got := covered(t, []Window{c.window}, []Outcome{c.outcome})
		got = Coverage{Inside: got.Inside, Below: got.Below, Above: got.Above, Undecided: got.Undecided}
		if got != c.want {
			t.Errorf("%s: %+v, want %+v", c.name, got, c.want)
		}
	}
}

// Wanted limits: k of n inside puts 2.5 % of the binomial distribution at or beyond
// k, by its sum. 8 of 10 is the textbook's 0.4439 to 0.9748 [from memory].
func TestCoverageLimits(t *testing.T) {
	tail := func(from, to, n int, p float64) (sum float64) {
		for k := from; k <= to; k++ {
			sum += float64(combin.Binomial(n, k)) * math.Pow(p, float64(k)) * math.Pow(1-p, float64(n-k))
		}
		return sum
	}
	for _, n := range []int{1, 2, 10, 40} {
		for k := 0; k <= n; k++ {
			low, high := ShareLimits(k, n)
			if k > 0 {
				near(t, "chance of so many at the lower limit", tail(k, n, n, low), 0.025, 1e-9)
			} else if low != 0 {
				t.Errorf("the lower limit of 0 of %d is %v", n, low)
			}
			if k < n {
				near(t, "chance of so few at the upper limit", tail(0, k, n, high), 0.025, 1e-9)
			} else if high != 1 {
				t.Errorf("the upper limit of %d of %d is %v", n, n, high)
			}
		}
	}
	low, high := ShareLimits(8, 10)
	near(t, "lower limit of 8 of 10", low, 0.4439, 2e-4)
	near(t, "upper limit of 8 of 10", high, 0.9748, 2e-4)
}

func TestCoverageShares(t *testing.T) {
	var windows []Window
	var outcomes []Outcome
	add := func(n int, o Outcome) {
		for range n {
			windows, outcomes = append(windows, Window{1000, 2000, 3000}), append(outcomes, o)
		}
	}
	add(8, Outcome{Area: 2500})
	add(1, Outcome{Area: 500})
	add(1, Outcome{Area: 4000})
	add(6, Outcome{2500, true})
	got := covered(t, windows, outcomes)
	want := Coverage{8, 1, 1, 6, 0.8, 0.4439045, 0.9747893, 0.5, 14.0 / 16}
	near(t, "lower limit", got.Low, want.Low, 1e-6)
	near(t, "upper limit", got.High, want.High, 1e-6)
	if want.Low, want.High = got.Low, got.High; got != want {
		t.Errorf("got %+v, want %+v", got, want)
	}
}

// With nothing to go by the share may be any.
func TestCoverageOfNothing(t *testing.T) {
	for _, c := range []struct {
		name      string
		n         int
		best, low float64
	}{{"no forecast", 0, math.NaN(), math.NaN()}, {"none decided", 3, 1, 0}} {
		windows, outcomes := make([]Window, c.n), make([]Outcome, c.n)
		for i := range windows {
			windows[i], outcomes[i] = Window{1, 2, 3}, Outcome{2, true}
		}
		got := covered(t, windows, outcomes)
		same := func(a, b float64) bool { return a == b || math.IsNaN(a) && math.IsNaN(b) }
		if !math.IsNaN(got.Share) || got.Low != 0 || got.High != 1 || !same(got.Best, c.best) || !same(got.Worst, c.low) {
			t.Errorf("%s: %+v", c.name, got)
		}
	}
}

func TestCoverRefuses(t *testing.T) {
	inf, nan := math.Inf(1), math.NaN()
	for _, c := range []struct {
		name    string
		window  Window
		outcome Outcome
		want    string
	}{
		{"a window that falls", Window{3, 2, 4}, Outcome{}, "want them to rise"},
		{"a window below 0", Window{-1, 2, 4}, Outcome{}, "want them to rise"},
		{"a window that is no number", Window{1, nan, 4}, Outcome{}, "want them to rise"},
		{"a window of nothing", Window{inf, inf, inf}, Outcome{}, "want them to rise"},
		{"an outcome below 0", Window{1, 2, 3}, Outcome{Area: -1}, "want an area"},
		{"an outcome that is no number", Window{1, 2, 3}, Outcome{Area: nan}, "want an area"},
		{"an endless outcome", Window{1, 2, 3}, Outcome{Area: inf}, "want an area"},
	} {
		if _, err := Cover([]Window{c.window}, []Outcome{c.outcome}); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: error %v, want one with %q", c.name, err, c.want)
		}
	}
	if _, err := Cover(make([]Window, 2), nil); err == nil || !strings.Contains(err.Error(), "2 forecasts and 0 outcomes") {
		t.Errorf("windows without outcomes: error %v", err)
	}
}

func TestCoverageProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 60).Draw(t, "n")
		area := rapid.Float64Range(0, 100)
		var windows []Window
		var outcomes []Outcome
		for range n {
			q10 := area.Draw(t, "q10")
			q50 := q10 + area.Draw(t, "more")
			windows = append(windows, Window{q10, q50, q50 + area.Draw(t, "yet more")})
			outcomes = append(outcomes, Outcome{area.Draw(t, "area"), rapid.Bool().Draw(t, "beyond")})
		}
		got, err := Cover(windows, outcomes)
		if err != nil {
			t.Fatal(err)
		}
		if got.Inside+got.Below+got.Above+got.Undecided != n {
			t.Fatalf("%+v are not %d", got, n)
		}
		if !(0 <= got.Worst && got.Worst <= got.Best && got.Best <= 1) {
			t.Fatalf("worst %v, best %v", got.Worst, got.Best)
		}
		if got.Undecided < n && !(got.Worst <= got.Share && got.Low <= got.Share && got.Share <= got.High) {
			t.Fatalf("%+v contradicts itself", got)
		}
	})
}

// By hand: at 0.9, 100 above costs 90 and 100 below costs 10.
func TestPinball(t *testing.T) {
	for _, c := range []struct {
		name      string
		level     float64
		forecasts []float64
		outcomes  []Outcome
		mean      float64
		n         int
	}{
		{"above", 0.9, []float64{1000}, []Outcome{{Area: 1100}}, 90, 1},
		{"below", 0.9, []float64{1000}, []Outcome{{Area: 900}}, 10, 1},
		{"hit", 0.9, []float64{1000}, []Outcome{{Area: 1000}}, 0, 1},
		{"at the median, half the distance", 0.5, []float64{10, 20}, []Outcome{{Area: 14}, {Area: 12}}, 3, 2},
		{"those beyond are left out", 0.1, []float64{1000, 5, 1000}, []Outcome{{Area: 1100}, {9, true}, {Area: 900}}, 50, 2},
		{"none but those", 0.1, []float64{1}, []Outcome{{9, true}}, math.NaN(), 0},
		{"none", 0.1, nil, nil, math.NaN(), 0},
	} {
		mean, n, err := Pinball(c.level, c.forecasts, c.outcomes)
		if err != nil {
			t.Fatal(err)
		}
		if n != c.n || !(math.Abs(mean-c.mean) < 1e-9 || math.IsNaN(c.mean) && math.IsNaN(mean)) {
			t.Errorf("%s: %v of %d, want %v of %d", c.name, mean, n, c.mean, c.n)
		}
	}
}

// Of all forecasts that stay the same the sample's own quantile does best.
func TestPinballIsLeastAtTheQuantile(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		areas := rapid.SliceOfN(rapid.Float64Range(0, 1000), 1, 30).Draw(t, "areas")
		level := rapid.Float64Range(0.05, 0.95).Draw(t, "level")
		loss := func(q float64) float64 {
			forecasts, outcomes := make([]float64, len(areas)), make([]Outcome, len(areas))
			for i, a := range areas {
				forecasts[i], outcomes[i] = q, Outcome{Area: a}
			}
			mean, _, err := Pinball(level, forecasts, outcomes)
			if err != nil {
				t.Fatal(err)
			}
			return mean
		}
		least := math.Inf(1)
		for _, a := range areas {
			below, to := 0, 0
			for _, b := range areas {
				if b < a {
					below++
				}
				if b <= a {
					to++
				}
			}
			if n := float64(len(areas)); float64(below) <= level*n && level*n <= float64(to) {
				least = math.Min(least, loss(a))
			}
		}
		if other := loss(rapid.Float64Range(0, 1000).Draw(t, "other")); other < least-1e-9 {
			t.Fatalf("another forecast loses %v, the quantile %v", other, least)
		}
	})
}

func TestPinballRefuses(t *testing.T) {
	inf, nan := math.Inf(1), math.NaN()
	for _, c := range []struct {
		name     string
		level    float64
		forecast float64
		outcome  Outcome
		want     string
	}{
		{"a level of 0", 0, 1, Outcome{}, "between 0 and 1"},
		{"a level of 1", 1, 1, Outcome{}, "between 0 and 1"},
		{"a level that is no number", nan, 1, Outcome{}, "between 0 and 1"},
		{"a forecast below 0", 0.5, -1, Outcome{}, "forecast 1 is -1"},
		{"an endless forecast", 0.5, inf, Outcome{}, "forecast 1 is +Inf"},
		{"a forecast that is no number", 0.5, nan, Outcome{}, "forecast 1 is NaN"},
		{"an outcome that is no number", 0.5, 1, Outcome{Area: nan}, "outcome 1 is NaN"},
	} {
		if _, _, err := Pinball(c.level, []float64{c.forecast}, []Outcome{c.outcome}); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: error %v, want one with %q", c.name, err, c.want)
		}
	}
	if _, _, err := Pinball(0.5, nil, make([]Outcome, 3)); err == nil || !strings.Contains(err.Error(), "0 forecasts and 3 outcomes") {
		t.Errorf("outcomes without forecasts: error %v", err)
	}
}

func TestBrier(t *testing.T) {
	for _, c := range []struct {
		name     string
		chances  []float64
		happened []bool
		want     Chances
	}{
		{"sure and right", []float64{1, 0}, []bool{true, false}, Chances{2, 0, 0.5, 0.25}},
		{"sure and wrong", []float64{1, 0}, []bool{false, true}, Chances{2, 1, 0.5, 0.25}},
		{"the base rate", []float64{0.25, 0.25, 0.25, 0.25}, []bool{false, true, false, false}, Chances{4, 0.1875, 0.25, 0.1875}},
		{"one", []float64{0.75}, []bool{true}, Chances{1, 0.0625, 1, 0}},
	} {
		if got, err := Brier(c.chances, c.happened); err != nil || got != c.want {
			t.Errorf("%s: %+v (%v), want %+v", c.name, got, err, c.want)
		}
	}
}

// Who knows the chances scores p·(1-p), who is off by d the square of that more.
func TestBrierIsLeastForWhoKnows(t *testing.T) {
	const n = 200_000
	random := rand.New(rand.NewPCG(3, 4))
	knows, off, happened := make([]float64, n), make([]float64, n), make([]bool, n)
	expected := 0.0
	for i := range n {
		p := 0.1 + 0.8*random.Float64()
		knows[i], off[i], happened[i] = p, p+0.1, random.Float64() < p
		expected += p * (1 - p) / n
	}
	score := func(chances []float64) float64 {
		c, err := Brier(chances, happened)
		if err != nil {
			t.Fatal(err)
		}
		if c.Reference < expected {
			t.Errorf("always the base rate scores %v, less than who knows", c.Reference)
		}
		return c.Brier
	}
	near(t, "score of who knows", score(knows), expected, 0.01)
	near(t, "score of who is off by 0.1", score(off), expected+0.01, 0.01)
}

func TestBrierRefuses(t *testing.T) {
	for _, c := range []struct {
		name     string
		chances  []float64
		happened []bool
		want     string
	}{
		{"nothing", nil, nil, "no forecast"},
		{"an outcome too many", []float64{1}, []bool{true, true}, "1 forecasts and 2 outcomes"},
		{"a chance above 1", []float64{1.1}, []bool{true}, "want 0 to 1"},
		{"a chance below 0", []float64{-0.1}, []bool{true}, "want 0 to 1"},
		{"a chance that is no number", []float64{math.NaN()}, []bool{true}, "want 0 to 1"},
	} {
		if _, err := Brier(c.chances, c.happened); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: error %v, want one with %q", c.name, err, c.want)
		}
	}
}
