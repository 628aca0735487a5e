package downtime

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"pgregory.net/rapid"
)

// repairsOf makes repairs from hours, negative ones standing for those that still run.
func repairsOf(hours ...float64) []Repair {
	list := make([]Repair, len(hours))
	for i, h := range hours {
		list[i] = Repair{Took: math.Abs(h), Running: h < 0}
	}
	return list
}

func mttrOf(t interface {
	Helper()
	Fatal(...any)
}, repairs []Repair, level float64) RepairTimes {
	t.Helper()
	r, err := MTTR(repairs, level)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// Wanted limits 2·10/χ² with χ²(0.975; 8) = 17.5345 and χ²(0.025; 8) = 2.17973 (tables),
// and with a repair that still runs χ²(0.975; 10) = 20.4832 in the lower one.
func TestMTTR(t *testing.T) {
	for _, c := range []struct {
		name             string
		repairs          []Repair
		value, low, high float64
		running          int
	}{
		{"all done", repairsOf(1, 2, 3, 4), 2.5, 20 / 17.5345461395, 20 / 2.17973074725, 0},
		{"one still runs", repairsOf(1, 2, 3, 2, -2), 2.5, 20 / 20.4831773508, 20 / 2.17973074725, 1},
	} {
		r := mttrOf(t, c.repairs, 0.95)
		nearly(t, c.name+": mean", r.Mean.Value, c.value, 1e-12)
		nearly(t, c.name+": lower limit", r.Mean.Low, c.low, 1e-10)
		nearly(t, c.name+": upper limit", r.Mean.High, c.high, 1e-10)
		if r.Mean.N != 4 || r.Running != c.running || r.Total != 10 || r.Mean.Why != "" {
			t.Errorf("%s: %+v, want 4 done and %d running in 10 h", c.name, r, c.running)
		}
	}
}

// To leave a long repair out because it still runs makes the shop look quick.
func TestMTTRCountsARepairThatRuns(t *testing.T) {
	without, with := mttrOf(t, repairsOf(1, 1, 2), 0.9), mttrOf(t, repairsOf(1, 1, 2, -30), 0.9)
	if want := 34.0 / 3; with.Mean.Value != want || with.Mean.Value <= without.Mean.Value {
		t.Errorf("mean %v with a repair of 30 h that runs, %v without, want %v", with.Mean.Value, without.Mean.Value, want)
	}
}

func TestMTTRWithoutARepairDone(t *testing.T) {
	for _, c := range []struct {
		name    string
		repairs []Repair
		low     float64
		why     string
	}{
		{"none", nil, 0, "no repair is done"},
		{"one just begun", []Repair{{Running: true}}, 0, "no repair is done"},
		{"one runs", repairsOf(-3), 3 / -math.Log(0.1), "no repair is done: only a lower limit, one-sided"},
	} {
		r := mttrOf(t, c.repairs, 0.9)
		if !math.IsNaN(r.Mean.Value) || !math.IsInf(r.Mean.High, 1) || r.Mean.Why != c.why || !math.IsNaN(r.Scatter) {
			t.Errorf("%s: %+v, want no value, no upper limit and %q", c.name, r, c.why)
		}
		nearly(t, c.name+": lower limit", r.Mean.Low, c.low, 1e-10)
	}
}

func TestMTTRWidensForScatter(t *testing.T) {
	even, uneven := mttrOf(t, repairsOf(2, 2, 2, 2, 2), 0.95), mttrOf(t, repairsOf(0.1, 0.1, 0.1, 0.1, 9.6), 0.95)
	if even.Scatter != 0 || even.Mean.Why != "" {
		t.Errorf("even repairs: %+v, want no scatter and no word", even)
	}
	// By hand: mean 2, deviations 4 of -1.9 and one of 7.6, variance 18.05.
	nearly(t, "scatter", uneven.Scatter, math.Sqrt(18.05)/2, 1e-12)
	if uneven.Mean.Low >= even.Mean.Low || uneven.Mean.High <= even.Mean.High ||
		uneven.Mean.Why != "limits widened, for the repairs scatter by 2.1 times their mean" {
		t.Errorf("uneven repairs: %+v, want limits wider than %+v, and said", uneven.Mean, even.Mean)
	}
}

// Four repairs with a scatter of √2 have the limits of half the degrees of freedom:
// Total/χ² with χ²(0.975; 4) = 11.1433 and χ²(0.025; 4) = 0.484419 (tables).
func TestMTTRDividesByTheSquareOfScatter(t *testing.T) {
	r := mttrOf(t, repairsOf(1, 1, 1, 1+4*math.Sqrt2/(2-math.Sqrt2)), 0.95)
	nearly(t, "scatter", r.Scatter, math.Sqrt2, 1e-12)
	nearly(t, "lower limit", r.Mean.Low, r.Total/11.1432867819, 1e-9)
	nearly(t, "upper limit", r.Mean.High, r.Total/0.484418557087, 1e-9)
}

// Wanted ranks from the sums of binomial chances in 40 digits (Python's decimal). For
// the median they are those of the usual table: of 6 values the least and the
// greatest, of 10 the 2nd and 9th, of 20 the 6th and 15th.
func TestQuantileRanks(t *testing.T) {
	for _, c := range []struct {
		n         int
		p, level  float64
		low, high int
	}{
		{5, 0.5, 0.95, 0, 6}, {6, 0.5, 0.95, 1, 6}, {10, 0.5, 0.95, 2, 9}, {20, 0.5, 0.95, 6, 15},
		{25, 0.5, 0.99, 6, 20}, {35, 0.9, 0.95, 28, 36}, {36, 0.9, 0.95, 29, 36}, {100, 0.9, 0.95, 84, 96},
		{12, 0.25, 0.9, 1, 7},
	} {
		if low, high := quantileRanks(c.n, c.p, c.level); low != c.low || high != c.high {
			t.Errorf("of %d values the %v quantile at %v lies between those at %d and %d, want %d and %d",
				c.n, c.p, c.level, low, high, c.low, c.high)
		}
	}
}

func TestRepairQuantile(t *testing.T) {
	inf, nan := math.Inf(1), math.NaN()
	ten := []float64{1, 2, 3, 4, 5, 6, 7, 8, 9, 10}
	for _, c := range []struct {
		name             string
		hours            []float64
		p                float64
		value, low, high float64
		why              string
	}{
		{"ten", ten, 0.5, 5.5, 2, 9, ""},
		{"the longest runs", append([]float64{-10}, ten[:9]...), 0.5, 5.5, 2, 9, ""},
		{"two long ones run", append([]float64{-9, -10}, ten[:8]...), 0.5, 5.5, 2, inf, "no upper limit while the long repairs still run"},
		// It counts as done at 1 below, as never done above: 2nd of 1 1 2 … and 9th of 1 2 … 9 ∞.
		{"one just begun", append([]float64{-1}, ten[:9]...), 0.5, 5, 1, 9, ""},
		{"five", ten[:5], 0.5, 3, 0, inf, "limits on both sides take 6 repairs"},
		{"90 % of ten", ten, 0.9, 9.5, 7, inf, "limits on both sides take 36 repairs"},
		{"90 % with most of them running", []float64{1, -2, -3, -4}, 0.9, nan, 2, inf, "too few repairs are done"},
		{"none done", []float64{-1, -2}, 0.5, nan, 0, inf, "too few repairs are done"},
		{"none", nil, 0.5, nan, 0, inf, "no repair"},
	} {
		e, err := RepairQuantile(repairsOf(c.hours...), c.p, 0.95)
		if err != nil {
			t.Fatal(err)
		}
		if got, want := fmt.Sprint(e.Value, e.Low, e.High, e.Why), fmt.Sprint(c.value, c.low, c.high, c.why); got != want {
			t.Errorf("%s: %s, want %s", c.name, got, want)
		}
	}
}

func TestMTTRHasItsQuantiles(t *testing.T) {
	repairs := repairsOf(1, 2, 3, 4, 5, 6, 7, 8, 9, 10)
	r := mttrOf(t, repairs, 0.95)
	half, _ := RepairQuantile(repairs, 0.5, 0.95)
	most, _ := RepairQuantile(repairs, 0.9, 0.95)
	if r.Half != half || r.Most != most {
		t.Errorf("%+v and %+v, want %+v and %+v", r.Half, r.Most, half, most)
	}
}

func TestRepairsRefused(t *testing.T) {
	for _, c := range []struct {
		name    string
		repairs []Repair
		p       float64
		level   float64
		want    string
	}{
		{"below 0", []Repair{{Took: 1}, {Took: -1}}, 0.5, 0.9, "repair 2 took -1: want a number above 0, up to 1e+100"},
		{"no number", []Repair{{Took: math.NaN()}}, 0.5, 0.9, "repair 1 took NaN: want a number above 0, up to 1e+100"},
		{"endless", []Repair{{Took: math.Inf(1), Running: true}}, 0.5, 0.9, "repair 1 took +Inf: want a number above 0, up to 1e+100"},
		{"no time", []Repair{{}}, 0.5, 0.9, "repair 1 took 0: want a number above 0, up to 1e+100"},
		{"level", repairsOf(1), 0.5, 1.5, "a level of 1.5: want one from 0.5 to 0.9999"},
		{"share", repairsOf(1), 1, 0.9, "a share of 1: want one between 0 and 1"},
	} {
		if e, err := RepairQuantile(c.repairs, c.p, c.level); err == nil || err.Error() != "quantile of repair times: "+c.want {
			t.Errorf("%s: quantile %+v, %v, want %s", c.name, e, err, c.want)
		}
		if r, err := MTTR(c.repairs, c.level); c.name != "share" && (err == nil || err.Error() != "MTTR: "+c.want) {
			t.Errorf("%s: %+v, %v, want %s", c.name, r, err, c.want)
		}
	}
}

func drawRepairs(t *rapid.T) []Repair {
	return rapid.SliceOfN(rapid.Custom(func(t *rapid.T) Repair {
		return Repair{float64(rapid.IntRange(1, 40).Draw(t, "took")) / 4, rapid.IntRange(0, 5).Draw(t, "running") == 0}
	}), 1, 60).Draw(t, "repairs")
}

func TestRepairProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		repairs, level := drawRepairs(t), rapid.Float64Range(0.5, 0.99).Draw(t, "level")
		r := mttrOf(t, repairs, level)
		for what, e := range map[string]Estimate{"mean": r.Mean, "half": r.Half, "most": r.Most} {
			if !math.IsNaN(e.Value) && !(e.Low <= e.Value && e.Value <= e.High) {
				t.Fatalf("%s: the limits of %+v do not hold it", what, e)
			}
			if (math.IsNaN(e.Value) || math.IsInf(e.High, 1)) && e.Why == "" {
				t.Fatalf("%s: %+v does not say why it is not known", what, e)
			}
		}
		turned := slices.Clone(repairs)
		slices.Reverse(turned)
		if again := mttrOf(t, turned, level); fmt.Sprintf("%.9v", again) != fmt.Sprintf("%.9v", r) {
			t.Fatalf("in another order %+v, want %+v", again, r)
		}
		minutes := slices.Clone(repairs)
		for i := range minutes {
			minutes[i].Took *= 60
		}
		m := mttrOf(t, minutes, level)
		for _, pair := range [][2]Estimate{{m.Mean, r.Mean}, {m.Half, r.Half}, {m.Most, r.Most}} {
			got, want := pair[0], pair[1]
			if !math.IsNaN(want.Value) {
				nearly(t, "in minutes the value", got.Value, 60*want.Value, 1e-9)
			}
			nearly(t, "in minutes the lower limit", got.Low, 60*want.Low, 1e-9)
			nearly(t, "in minutes the upper limit", got.High, 60*want.High, 1e-9)
		}
	})
}

// Times that no repair has do no harm, and leave no mean without its limits.
func TestRepairExtremes(t *testing.T) {
	const least = math.SmallestNonzeroFloat64
	for _, repairs := range [][]Repair{
		repairsOf(greatestMeasure, greatestMeasure), repairsOf(least, -greatestMeasure), repairsOf(least, greatestMeasure, least),
	} {
		for _, level := range []float64{0.5, 0.9999} {
			if e := mttrOf(t, repairs, level).Mean; !(0 <= e.Low && e.Low <= e.Value && e.Value <= e.High) {
				t.Errorf("%v at %v: %+v", repairs, level, e)
			}
		}
	}
}

// A repair that runs on for longer never lowers a figure.
func TestRepairThatRunsOn(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		repairs := append(drawRepairs(t), Repair{Took: 2, Running: true})
		longer := slices.Clone(repairs)
		longer[len(longer)-1].Took = rapid.Float64Range(2, 50).Draw(t, "longer")
		before, after := mttrOf(t, repairs, 0.9), mttrOf(t, longer, 0.9)
		if after.Mean.Value < before.Mean.Value || after.Half.Low < before.Half.Low || after.Half.High < before.Half.High {
			t.Fatalf("after it ran on: %+v, before: %+v", after, before)
		}
	})
}

// Limits of quantiles are to hold the truth at 90 % or more whatever the distribution,
// those of the mean where times are exponential; of 3,000 runs the share is off by 0.0055
// by chance, and 0.016 are allowed. Each repair is watched for 3 at most, so that
// some still run.
func TestRepairLimitsHoldTheTruth(t *testing.T) {
	const runs, n, least = 3000, 40, 0.9 - 0.016
	r := rand.New(rand.NewPCG(7, 8))
	for _, c := range []struct {
		name             string
		draw             func() float64
		mean, half, most float64
	}{
		{"exponential", r.ExpFloat64, 1, math.Ln2, math.Log(10)},
		{"even", func() float64 { return 2 * r.Float64() }, 1, 1, 1.8},
		{"lognormal with a scatter of 0.5", func() float64 { return math.Exp(0.4723807 * r.NormFloat64()) },
			math.Exp(0.4723807 * 0.4723807 / 2), 1, math.Exp(0.4723807 * 1.2815516)},
	} {
		held := map[string]int{}
		for range runs {
			repairs := make([]Repair, n)
			for i := range repairs {
				took := c.draw()
				repairs[i] = Repair{math.Min(took, 3), took > 3}
			}
			times := mttrOf(t, repairs, 0.9)
			for what, e := range map[string]struct {
				Estimate
				truth float64
			}{"mean": {times.Mean, c.mean}, "half": {times.Half, c.half}, "90 %": {times.Most, c.most}} {
				if e.Low <= e.truth && e.truth <= e.High {
					held[what]++
				}
			}
		}
		for _, what := range []string{"mean", "half", "90 %"} {
			if share := float64(held[what]) / runs; share < least {
				t.Errorf("%s: the limits of %s hold the truth in %.3f of the runs, want 0.9", c.name, what, share)
			}
		}
	}
}
