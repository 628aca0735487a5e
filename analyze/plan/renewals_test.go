package plan

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"gonum.org/v1/gonum/mathext"
	"gonum.org/v1/gonum/stat/distuv"
	"pgregory.net/rapid"
)

var never = math.Inf(1)

// exact is the tolerance at which numbers of blades are held against other sources.
const exact = 1e-7

func renewed(t testing.TB, area float64, running, later Run) Count {
	t.Helper()
	c, err := Renewals(area, running, later, exact)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// Wanted values: testdata/reference/renewals, the first blade new.
func TestRenewalsAgreeWithReference(t *testing.T) {
	var cases []struct {
		Shape, Scale, Area float64
		Mean               float64   `json:"mean_ends"`
		AtMost             []float64 `json:"p_at_most"`
		Q90, Q95, Q99      int
	}
	readReference(t, "renewals", &cases)
	for _, c := range cases {
		what := fmt.Sprintf("shape %v over %v: ", c.Shape, c.Area)
		run := Run{weibull(c.Shape, c.Scale, 0), never}
		got := renewed(t, c.Area, run, run)
		for k, want := range c.AtMost {
			if k < len(got.AtMost) && math.Abs(got.AtMost[k]-want) > 1e-7 {
				t.Errorf("%sat most %d with %.10f, want %.10f", what, k, got.AtMost[k], want)
			}
		}
		near(t, what+"mean", got.Mean, c.Mean, 1e-7)
		for level, want := range map[float64]int{0.9: c.Q90, 0.95: c.Q95, 0.99: c.Q99} {
			if q := got.Quantile(level); q != want {
				t.Errorf("%s%v are enough with %v, want %v", what, q, level, want)
			}
		}
	}
}

// atMost wants the chances of up to k blades, and the mean that they add up to.
func (c Count) atMost(t *testing.T, what string, tolerance float64, want func(k int) float64) {
	t.Helper()
	mean := 0.0
	for k := range 2 * len(c.AtMost) {
		got := 1.0
		if k < len(c.AtMost) {
			got = c.AtMost[k]
		}
		if math.Abs(got-want(k)) > tolerance {
			t.Errorf("%s: at most %d with %.10f, want %.10f", what, k, got, want(k))
		}
		mean += 1 - want(k)
	}
	near(t, what+": mean", c.Mean, mean, 10*tolerance)
}

// Lives of a gamma distribution add up to one, so that chances have a closed form;
// with a shape of 1/2 it has no bound at 0.
func TestRenewalsOfGammaLives(t *testing.T) {
	gamma := func(shape float64) func(float64) float64 {
		return func(x float64) float64 { return mathext.GammaIncRegComp(shape, x/1000) }
	}
	for _, c := range []struct {
		name        string
		area        float64
		first, then float64 // shapes
		tolerance   float64
	}{
		{"by chance", 7000, 1, 1, 1e-7},
		{"hardly any", 1e-3, 2, 2, 1e-7},
		{"two stages", 9000, 2, 2, 1e-7},
		{"the one on is in its last of two stages", 9000, 1, 2, 1e-7},
		{"the one on is of a better kind", 9000, 4, 1.5, 1e-7},
		{"many early ends", 4000, 0.5, 0.5, 1e-4},
		{"after many blades", 50000, 1, 1, 1e-7},
	} {
		got := renewed(t, c.area, Run{gamma(c.first), never}, Run{gamma(c.then), never})
		got.atMost(t, c.name, c.tolerance, func(k int) float64 {
			return mathext.GammaIncRegComp(c.first+float64(k)*c.then, c.area/1000)
		})
		for k, p := range got.AtMost {
			if out := math.Abs(p - mathext.GammaIncRegComp(c.first+float64(k)*c.then, c.area/1000)); out > 3*got.Doubt+1e-8 {
				t.Errorf("%s: at most %d is out by %v, more than the doubt %v", c.name, k, out, got.Doubt)
			}
		}
	}
}

// Of lives spread evenly up to 2c and cut off at c, half are even up to c, whose
// sums are the Irwin-Hall distribution.
func TestRenewalsOfEvenLivesWithAChange(t *testing.T) {
	even := func(x float64) float64 { return math.Max(0, 1-x/2) } // c = 1
	for _, area := range []float64{0.5, 0.999, 1.6, 2.7, 5.3} {
		got := renewed(t, area, Run{even, 1}, Run{even, 1})
		got.atMost(t, fmt.Sprintf("over %v", area), 1e-6, func(k int) float64 {
			more := 0.0
			for j := range k + 2 {
				more += distuv.Binomial{N: float64(k + 1), P: 0.5}.Prob(float64(j)) * irwinHall(k+1-j, area-float64(j))
			}
			return 1 - more
		})
	}
}

// An area that is no whole number of changes does not slow the grids down: chances
// are fine after some 2,000 cells, looked at once for each kind of life.
func TestRenewalsTakeFewLooks(t *testing.T) {
	looks := 0
	run := Run{func(x float64) float64 { looks++; return weibull(2.5, 10000, 0)(x) }, 7000}
	if got := renewed(t, 100000, run, run); got.Doubt > exact || looks > 7000 {
		t.Errorf("a doubt of %v after %d looks, want 1e-7 and some 6,000", got.Doubt, looks)
	}
}

// irwinHall is the chance that m lives even up to 1 add up to x or less.
func irwinHall(m int, x float64) float64 {
	switch {
	case x < 0:
		return 0
	case x >= float64(m):
		return 1
	}
	sum, sign := 0.0, 1.0
	for i := 0; float64(i) <= x; i++ {
		a, _ := math.Lgamma(float64(i + 1))
		b, _ := math.Lgamma(float64(m - i + 1))
		sum += sign * math.Pow(x-float64(i), float64(m)) * math.Exp(-a-b)
		sign = -sign
	}
	return sum
}

// A million shops that change blades in time, the one on being worn.
func TestRenewalsAreWhatShopsUse(t *testing.T) {
	const shops, area, cut, change = 1_000_000, 31000, 3000, 5550
	random := rand.New(rand.NewPCG(1, 2))
	life := func(cut float64) float64 {
		return 10000*math.Pow(math.Pow(cut/10000, 2.5)+random.ExpFloat64(), 1/2.5) - cut
	}
	var used [40]float64
	for range shops {
		n := 0
		for x := math.Min(life(cut), change-cut); x <= area; x += math.Min(life(0), change) {
			n++
		}
		used[n]++
	}
	got := renewed(t, area, Run{weibull(2.5, 10000, cut), change - cut}, Run{weibull(2.5, 10000, 0), change})
	atMost := 0.0
	for k, p := range got.AtMost {
		atMost += used[k] / shops
		if error := math.Sqrt(p * (1 - p) / shops); math.Abs(p-atMost) > 4*error+1e-9 {
			t.Errorf("at most %d with %v, %v of the shops", k, p, atMost)
		}
	}
}

// Where nothing is left to chance neither is the number.
func TestRenewalsWithoutChance(t *testing.T) {
	sound := func(float64) float64 { return 1 }
	thousand := func(x float64) float64 { return oneUntil(1000, x) }
	for _, c := range []struct {
		name           string
		area           float64
		running, later Run
		want           int
	}{
		{"no work", 0, Run{sound, never}, Run{sound, never}, 0},
		{"no work, but a change is due", 0, Run{sound, 0}, Run{sound, never}, 1},
		{"no blade ends", 1e9, Run{sound, never}, Run{sound, never}, 0},
		{"a change is due at once", 500, Run{sound, 0}, Run{sound, 1000}, 1},
		{"changes", 3500, Run{sound, 1000}, Run{sound, 1000}, 3},
		{"the last change is due at the end", 3000, Run{sound, 1000}, Run{sound, 1000}, 3},
		{"a change just before", 3500, Run{sound, 499}, Run{sound, 1000}, 4},
		{"a change of later blades only", 3500, Run{sound, never}, Run{sound, 1000}, 0},
		{"a change of the one on only", 3500, Run{sound, 700}, Run{sound, never}, 1},
		{"a change of the one on at the end", 700, Run{sound, 700}, Run{sound, never}, 1},
		{"all blades last for a thousand", 4321, Run{thousand, never}, Run{thousand, never}, 4},
		{"and are changed before", 4321, Run{thousand, 800}, Run{thousand, 800}, 5},
		{"and are changed after", 4321, Run{thousand, 1800}, Run{thousand, 1800}, 4},
	} {
		got := renewed(t, c.area, c.running, c.later)
		if q := got.Quantile(0.5); q != c.want || math.Abs(got.Mean-float64(c.want)) > 1e-9 || len(got.AtMost) < c.want+1 {
			t.Errorf("%s: %d blades, mean %v of %v, want %d", c.name, q, got.Mean, got.AtMost, c.want)
		}
	}
}

func TestCountQuantile(t *testing.T) {
	c := Count{AtMost: []float64{0.2, 0.5, 0.5, 0.9, 1 - 1e-10}}
	for _, q := range []struct {
		level float64
		want  int
	}{{-1, 0}, {0, 0}, {0.2, 0}, {0.21, 1}, {0.5, 1}, {0.51, 3}, {0.9, 3}, {0.95, 4}, {1, 4}, {2, 4}} {
		if got := c.Quantile(q.level); got != q.want {
			t.Errorf("%d are enough with %v, want %d", got, q.level, q.want)
		}
	}
}

func TestRenewalsRefuse(t *testing.T) {
	fine := Run{weibull(2, 9000, 0), never}
	at := func(change float64) Run { return Run{fine.Survival, change} }
	of := func(survival func(float64) float64) Run { return Run{survival, never} }
	for _, c := range []struct {
		name           string
		area           float64
		running, later Run
		want           string
	}{
		{"a negative area", -1, fine, fine, "want 0 or more"},
		{"an endless area", never, fine, fine, "want 0 or more"},
		{"an area that is no number", math.NaN(), fine, fine, "want 0 or more"},
		{"an overdue change", 100, at(-1), fine, "want 0 or more"},
		{"a change that is no number", 100, at(math.NaN()), fine, "want 0 or more"},
		{"changes at once", 100, fine, at(0), "want an area above 0"},
		{"changes at no number", 100, fine, at(math.NaN()), "want an area above 0"},
		{"a blade that has ended", 100, of(func(float64) float64 { return 0.5 }), fine, "want 1"},
		{"a chance that rises", 100, of(func(x float64) float64 { return 1 - math.Sin(x/50) }), fine, "rises"},
		{"later chances that rise", 100, fine, of(func(x float64) float64 { return 1 - math.Sin(x/50) }), "rises"},
		{"too many blades", 1e7, fine, fine, "more than 200"},
		{"too many changes", 1e7, fine, at(10000), "more than 200"},
		{"blades that end at once", 100, fine, of(func(x float64) float64 { return oneUntil(0, x-1e-310) }), "more than 200"},
	} {
		if _, err := Renewals(c.area, c.running, c.later, exact); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: error %v, want one with %q", c.name, err, c.want)
		}
	}
}

// By hand: two that are 0 or 1 with even odds are 0, 1, 2 with 1/4, 1/2, 1/4; a third
// that is 2 for sure moves that by 2.
func TestCountsAddUp(t *testing.T) {
	coin := Count{AtMost: []float64{0.5, 1}, Mean: 0.5, Doubt: 0.01}
	two := coin.And(coin)
	if !slices.Equal(two.AtMost, []float64{0.25, 0.75, 1}) || two.Mean != 1 || two.Doubt != 0.02 {
		t.Errorf("two coins are %+v", two)
	}
	for level, want := range map[float64]int{0.2: 0, 0.25: 0, 0.5: 1, 0.75: 1, 0.9: 2} {
		if q := two.Quantile(level); q != want {
			t.Errorf("of two coins %v %% are within %d, want %d", 100*level, q, want)
		}
	}
	sure := Count{AtMost: []float64{0, 0, 1}, Mean: 2}
	for _, sum := range []Count{two.And(sure), sure.And(two)} {
		if !slices.Equal(sum.AtMost, []float64{0, 0, 0.25, 0.75, 1}) || sum.Mean != 3 {
			t.Errorf("and two for sure are %+v", sum)
		}
	}
}

// A coarse tolerance is kept, and takes fewer cells.
func TestRenewalsAreAsGoodAsAskedFor(t *testing.T) {
	run := Run{func(x float64) float64 { return math.Exp(-math.Pow(x/9000, 2.5)) }, 7000}
	good, err := Renewals(60000, run, run, exact)
	if err != nil {
		t.Fatal(err)
	}
	for _, tolerance := range []float64{1e-3, 1e-4, 1e-5} {
		c, err := Renewals(60000, run, run, tolerance)
		if err != nil || c.Doubt > tolerance {
			t.Fatalf("to within %v the doubt is %v (%v)", tolerance, c.Doubt, err)
		}
		for k := range min(len(c.AtMost), len(good.AtMost)) {
			if math.Abs(c.AtMost[k]-good.AtMost[k]) > tolerance {
				t.Errorf("to within %v the chance of %d or fewer is %v, want %v", tolerance, k, c.AtMost[k], good.AtMost[k])
			}
		}
	}
	for _, tolerance := range []float64{0, -1, math.NaN()} {
		if _, err := Renewals(60000, run, run, tolerance); err == nil || !strings.Contains(err.Error(), "tolerance") {
			t.Errorf("to within %v: error %v, want one that says so", tolerance, err)
		}
	}
}

// A grid of a round number of cells may end a rounding error below 0, where a survival
// need not be one.
func TestRenewalsLookAtNoAreaBelowZero(t *testing.T) {
	scale := math.Exp(-0.0003136042505502701)
	run := Run{func(x float64) float64 {
		if x < 0 {
			t.Fatalf("looked at %v", x)
		}
		return math.Exp(-math.Pow(x/scale, 1.5))
	}, scale}
	for n := range 50 {
		if _, err := Renewals(scale*(1+float64(n)/7), run, run, exact); err != nil {
			t.Fatal(err)
		}
	}
}

func TestRenewalsProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		shape := rapid.Float64Range(1, 6).Draw(t, "shape")
		scale := math.Exp(rapid.Float64Range(-10, 20).Draw(t, "ln scale"))
		area := scale * rapid.Float64Range(0, 6).Draw(t, "area")
		cut := scale * rapid.Float64Range(0, 1).Draw(t, "cut")
		change := cut + scale*rapid.Float64Range(0.3, 3).Draw(t, "change")
		running, later := Run{weibull(shape, scale, cut), change - cut}, Run{weibull(shape, scale, 0), change}
		got, err := Renewals(area, running, later, exact)
		if err != nil {
			t.Fatal(err)
		}
		for k := range got.AtMost[1:] {
			if got.AtMost[k+1] < got.AtMost[k] {
				t.Fatalf("%v fall", got.AtMost)
			}
		}
		if last := got.AtMost[len(got.AtMost)-1]; !(last >= 1-1e-9 && last <= 1) {
			t.Fatalf("they end with %v", last)
		}
		none := running.Survival(area) // only a blade that has neither ended nor is changed
		if area >= running.Change {
			none = 0
		}
		if math.Abs(got.AtMost[0]-none) > 1e-7 {
			t.Fatalf("no blade is used with %v, want %v", got.AtMost[0], none)
		}
		if run, err := Renewals(area, Run{running.Survival, never}, Run{later.Survival, never}, exact); err != nil || run.Mean > got.Mean+1e-6 {
			t.Fatalf("%v blades run to their end, more than the %v changed in time (%v)", run.Mean, got.Mean, err)
		}
		// Of new blades no fewer are used than the area holds mean lives, less one (Wald).
		fresh, err := Renewals(area, later, later, exact)
		if err != nil {
			t.Fatal(err)
		}
		c, err := tabulate(later.Survival, []float64{0, change / 3, change})
		if err != nil {
			t.Fatal(err)
		}
		if least := area/c.total() - 1; fresh.Mean < least-1e-6 {
			t.Fatalf("a mean of %v new blades, want at least %v", fresh.Mean, least)
		}
	})
}
