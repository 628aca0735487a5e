package downtime

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

func trendOf(t interface {
	Helper()
	Fatal(...any)
}, level float64, saws ...Watched) Trend {
	t.Helper()
	trend, err := TrendOf(level, saws...)
	if err != nil {
		t.Fatal(err)
	}
	return trend
}

func growthOf(t interface {
	Helper()
	Fatal(...any)
}, w Watched, level float64) Growth {
	t.Helper()
	g, err := GrowthOf(w, level)
	if err != nil {
		t.Fatal(err)
	}
	return g
}

// referenceWatch is the example of MIL-HDBK-189C, testdata/reference/repairable.
func referenceWatch(t *testing.T) Watched {
	w := Watched{Until: 300}
	for _, row := range readColumns(t, "repairable") {
		w.At = append(w.At, row[0])
	}
	return w
}

// Wanted values from R 4.2.2, testdata/reference/repairable/SOURCE; ShapeP from sums of
// Poisson chances in 40 digits (Python's decimal).
func TestGrowthAgreesWithReference(t *testing.T) {
	var want struct {
		N        int
		Laplace  float64
		LaplaceP float64 `json:"laplace_p"`
		Law      struct {
			Shape, Lambda float64
			Unbiased      float64 `json:"shape_unbiased"`
			Low           float64 `json:"shape_low"`
			High          float64 `json:"shape_high"`
			Rate          float64 `json:"rate_at_end"`
			MTBF          float64 `json:"mtbf_at_end"`
		} `json:"power_law"`
	}
	readExpected(t, "repairable", &want)
	g := growthOf(t, referenceWatch(t), 0.95)
	law := want.Law
	for what, pair := range map[string][2]float64{
		"Laplace": {g.Laplace, want.Laplace}, "chance of Laplace": {g.LaplaceP, want.LaplaceP},
		"shape": {g.Shape.Value, law.Shape}, "unbiased shape": {g.ShapeUnbiased, law.Unbiased},
		"lower limit of shape": {g.Shape.Low, law.Low}, "upper limit of shape": {g.Shape.High, law.High},
		"lambda": {g.Lambda, law.Lambda}, "rate": {g.RateAtEnd.Value, law.Rate}, "MTBF": {g.MTBFAtEnd.Value, law.MTBF},
		"chance of shape": {g.ShapeP, 0.0577293852293}, "events": {float64(g.N), float64(want.N)},
	} {
		nearly(t, what, pair[0], pair[1], 1e-9)
	}
	if g.Verdict != LessFrequent || g.Why != "the power law does not bear it out" {
		t.Errorf("%s (%s), want it less frequent by Laplace, and that the shape's limits hold 1", g.Verdict, g.Why)
	}
}

// The power law example of the NIST/SEMATECH e-Handbook (domain reference, section 5.2:
// shape 0.537, with one less 0.4835); the other values from sums in 40 digits (Python's
// decimal).
func TestTrendPublished(t *testing.T) {
	nist := Watched{[]float64{5, 40, 43, 175, 389, 712, 747, 795, 1299, 1478}, 1500}
	g := growthOf(t, nist, 0.95)
	for what, pair := range map[string][2]float64{
		"Laplace": {g.Laplace, -1.32694918265}, "shape": {g.Shape.Value, 0.537228866034}, "unbiased": {g.ShapeUnbiased, 0.483505979431},
		"lower limit": {g.Shape.Low, 0.257622123142}, "upper limit": {g.Shape.High, 0.917844958462}, "chance": {g.ShapeP, 0.0219727142316},
	} {
		nearly(t, what, pair[0], pair[1], 1e-9)
	}
	want := "the power law shows one, which the first few events can make by themselves; a rate that doubles shows 4 times in 5 from 95 events on"
	if g.Verdict != NoTrend || g.Why != want {
		t.Errorf("%s (%s), want no trend shown, and %s", g.Verdict, g.Why, want)
	}
}

func TestTrendVerdicts(t *testing.T) {
	even := func(n int) (at []float64) {
		for i := range n {
			at = append(at, 100*(float64(i)+0.5)/float64(n))
		}
		return at
	}
	const few = "events at fewer than 4 different times; a rate that doubles shows 4 times in 5 from 95 events on"
	for _, c := range []struct {
		name    string
		at      []float64
		verdict TrendVerdict
		why     string
	}{
		{"none", nil, TooFewEvents, few},
		{"one", []float64{90}, TooFewEvents, few},
		{"two", []float64{80, 90}, TooFewEvents, few},
		{"a bunch", []float64{90, 90, 90, 90, 90, 90}, TooFewEvents, few},
		{"all at the end", []float64{100, 100, 100, 100, 100}, TooFewEvents, few},
		{"all at the start", []float64{0, 0, 0, 0, 0}, TooFewEvents, few},
		{"steady", even(20), NoTrend, "the second half may have 0.54 to 1.8 times the events of the first; a rate that doubles shows 4 times in 5 from 95 events on"},
		{"steady and many", even(200), NoTrend, "the second half may have 0.82 to 1.2 times the events of the first"},
		{"late", []float64{60, 70, 75, 80, 85, 90, 95, 99}, MoreFrequent, ""},
		{"early", []float64{1, 5, 10, 15, 20, 25, 30, 40}, LessFrequent, ""},
	} {
		trend := trendOf(t, 0.95, Watched{c.at, 100})
		if trend.Verdict != c.verdict || !strings.HasPrefix(trend.Why, c.why) || (c.why == "") != (trend.Why == "") {
			t.Errorf("%s: %s (%s), want %s (%s)", c.name, trend.Verdict, trend.Why, c.verdict, c.why)
		}
		if !slices.Contains(TrendVerdicts(), trend.Verdict) {
			t.Errorf("%s: %q is none of the verdicts", c.name, trend.Verdict)
		}
	}
}

// Trouble on the first day, and a steady rate after it, is no cure.
func TestTrendIsNotMadeByTheFirstEvents(t *testing.T) {
	w := Watched{[]float64{0.001, 0.002, 8, 17, 30, 39, 52, 61, 74, 83, 95}, 100}
	if trend := trendOf(t, 0.95, w); trend.Verdict != NoTrend || !(trend.ShapeP < 0.01) || !strings.HasPrefix(trend.Why, "the power law shows one") {
		t.Errorf("%s (%s) with a chance of %v by the power law, want no trend though that one shows it", trend.Verdict, trend.Why, trend.ShapeP)
	}
}

// Where the two tests point in opposite ways the verdict is Laplace's, and says so.
func TestTrendWithTestsThatContradict(t *testing.T) {
	w := Watched{[]float64{1e-9, 1e-9, 1e-9}, 100}
	for i := range 30 {
		w.At = append(w.At, 90+float64(i)/10)
	}
	trend := trendOf(t, 0.95, w)
	if trend.Verdict != MoreFrequent || !(trend.Shape.High < 1) || trend.Why != "the power law does not bear it out" {
		t.Errorf("%s (%s) with a shape of %+v, want more frequent though the shape is below 1", trend.Verdict, trend.Why, trend.Shape)
	}
}

// What cannot be known is unknown, and no figure is 0 or 1 in its place.
func TestTrendOfFew(t *testing.T) {
	for _, c := range []struct {
		name              string
		at                []float64
		n, moments, start int
		laplace, unbiased bool    // known
		shape, low, high  float64 // limits from tables of chi-square over 2·S
		why               string
	}{
		{name: "none", low: 0, high: math.Inf(1), shape: math.NaN(), why: "no event"},
		{name: "at 0 only", at: []float64{0, 0}, start: 2, high: math.Inf(1), shape: math.NaN(), why: "no event"},
		{name: "at the end only", at: []float64{100}, n: 1, moments: 1, high: math.Inf(1), shape: math.NaN(), laplace: true, why: "every event is at the end"},
		{name: "one", at: []float64{50}, n: 1, moments: 1, laplace: true, shape: 1.44269504089, low: 0.0365258760251, high: 5.32192809489},
		{name: "two", at: []float64{50, 0, 50}, n: 2, moments: 1, start: 1, laplace: true, unbiased: true, shape: 1.44269504089, low: 0.174723, high: 4.0191},
	} {
		g := growthOf(t, Watched{c.at, 100}, 0.95)
		if g.N != c.n || g.Moments != c.moments || g.AtStart != c.start || math.IsNaN(g.Laplace) == c.laplace ||
			math.IsNaN(g.ShapeUnbiased) == c.unbiased || g.Shape.Why != c.why || g.Change.Why != c.why {
			t.Errorf("%s: %+v", c.name, g)
		}
		if math.IsNaN(g.Shape.Value) != math.IsNaN(c.shape) {
			t.Errorf("%s: shape %v, want %v", c.name, g.Shape.Value, c.shape)
		} else if !math.IsNaN(c.shape) {
			nearly(t, c.name+": shape", g.Shape.Value, c.shape, 1e-10)
		}
		nearly(t, c.name+": lower limit", g.Shape.Low, c.low, 1e-4)
		nearly(t, c.name+": upper limit", g.Shape.High, c.high, 1e-4)
		if !math.IsNaN(g.RateAtEnd.Value) || !math.IsNaN(g.MTBFAtEnd.Value) || !math.IsNaN(g.Lambda) || g.RateAtEnd.Why != g.Trend.Why {
			t.Errorf("%s: rate %+v with lambda %v, want none and why", c.name, g.RateAtEnd, g.Lambda)
		}
	}
}

// Times that no saw has do no harm, and leave no figure without its limits.
func TestGrowthOfExtremes(t *testing.T) {
	const least = math.SmallestNonzeroFloat64
	for _, w := range []Watched{
		{[]float64{least, greatestMeasure / 3, greatestMeasure / 2, greatestMeasure}, greatestMeasure},
		{[]float64{1, 2, 3, 4}, greatestMeasure},
		{[]float64{least, 2 * least, 3 * least, 4 * least}, 4 * least},
		{[]float64{least, 2 * least, 3 * least, 4 * least}, 1},
	} {
		for _, level := range []float64{0.5, 0.9999} {
			g := growthOf(t, w, level)
			for _, e := range []Estimate{g.Shape, g.Change, g.RateAtEnd, g.MTBFAtEnd} {
				if !(e.Low <= e.High) || !math.IsNaN(e.Value) && !(e.Low <= e.Value && e.Value <= e.High) {
					t.Errorf("%v at %v: %+v", w, level, e)
				}
			}
		}
	}
}

// By hand: saw 1 has 60 and 90 of 100, saw 2 has 5 and 20 of 40;
// U = (150 - 100 + 25 - 40)/√(2·10000/12 + 2·1600/12) and
// S = ln(100/60) + ln(100/90) + ln(40/5) + ln(40/20).
func TestTrendOfSeveralSaws(t *testing.T) {
	trend := trendOf(t, 0.9, Watched{[]float64{60, 90}, 100}, Watched{[]float64{20, 5}, 40}, Watched{nil, 500})
	nearly(t, "Laplace", trend.Laplace, 35/math.Sqrt(23200.0/12), 1e-12)
	nearly(t, "shape", trend.Shape.Value, 4/(math.Log(5.0/3)+math.Log(10.0/9)+math.Log(16)), 1e-12)
	if trend.N != 4 || trend.Moments != 4 {
		t.Errorf("%d events at %d times, want 4 at 4", trend.N, trend.Moments)
	}
}

// Four saws that each fail at 50 have failed at four times, not in one bunch.
func TestTrendKeepsTheTimesOfSawsApart(t *testing.T) {
	w := Watched{[]float64{50}, 100}
	if trend := trendOf(t, 0.9, w, w, w, w); trend.Moments != 4 || trend.Verdict != NoTrend {
		t.Errorf("%+v, want four times and no trend", trend)
	}
}

// Steady saws with rates that differ show no trend pooled, where their events in one
// list would: the busy saw was watched for a shorter time.
func TestTrendOfSawsWithDifferentRates(t *testing.T) {
	busy, calm := Watched{Until: 100}, Watched{Until: 1000}
	for i := range 50 {
		busy.At, calm.At = append(busy.At, 2*float64(i)+1), append(calm.At, 20*float64(i)+10)
	}
	if trend := trendOf(t, 0.95, busy, calm); trend.Verdict != NoTrend || math.Abs(trend.Laplace) > 1e-9 {
		t.Errorf("%s with U = %v, want no trend and 0", trend.Verdict, trend.Laplace)
	}
	if mixed := trendOf(t, 0.95, Watched{append(busy.At, calm.At...), 1000}); mixed.Verdict != LessFrequent {
		t.Errorf("in one list %s, want this check to tell the two apart", mixed.Verdict)
	}
}

func TestTrendRefuses(t *testing.T) {
	for _, c := range []struct {
		name  string
		level float64
		saws  []Watched
		want  string
	}{
		{"level", 1, nil, "trend: a level of 1: want one from 0.5 to 0.9999"},
		{"time", 0.9, []Watched{{Until: 1}, {Until: -1}}, "trend: saw 2: -1 watched: want a number from 0 to 1e+100"},
		{"beyond", 0.9, []Watched{{[]float64{1, 11}, 10}}, "trend: saw 1: event 2 is at 11: want 0 to 10"},
		{"before", 0.9, []Watched{{[]float64{-1}, 10}}, "trend: saw 1: event 1 is at -1: want 0 to 10"},
		{"no number", 0.9, []Watched{{[]float64{math.NaN()}, 10}}, "trend: saw 1: event 1 is at NaN: want 0 to 10"},
	} {
		if trend, err := TrendOf(c.level, c.saws...); err == nil || err.Error() != c.want {
			t.Errorf("%s: %+v, %v, want %s", c.name, trend, err, c.want)
		}
	}
	if g, err := GrowthOf(Watched{Until: math.NaN()}, 0.9); err == nil {
		t.Errorf("of no time: %+v", g)
	}
}

func drawWatched(t *rapid.T) Watched {
	return Watched{rapid.SliceOfN(rapid.Float64Range(0.01, 100), 0, 60).Draw(t, "at"), 100}
}

func TestTrendProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w := drawWatched(t)
		g := growthOf(t, w, 0.9)
		turned := Watched{slices.Clone(w.At), w.Until}
		slices.Reverse(turned.At)
		if again := growthOf(t, turned, 0.9); fmt.Sprintf("%.8v", again) != fmt.Sprintf("%.8v", g) {
			t.Fatalf("in another order %+v, want %+v", again, g)
		}
		minutes := Watched{nil, 60 * w.Until}
		for _, at := range w.At {
			minutes.At = append(minutes.At, 60*at)
		}
		m := growthOf(t, minutes, 0.9)
		if m.Verdict != g.Verdict || m.N != g.N {
			t.Fatalf("in minutes %+v, want %+v", m, g)
		}
		if g.Moments < leastMoments {
			return
		}
		nearly(t, "in minutes U", m.Laplace, g.Laplace, 1e-6)
		nearly(t, "in minutes the shape", m.Shape.Value, g.Shape.Value, 1e-9)
		nearly(t, "in minutes the rate", 60*m.RateAtEnd.Value, g.RateAtEnd.Value, 1e-9)
		nearly(t, "in minutes the upper limit of MTBF", m.MTBFAtEnd.High, 60*g.MTBFAtEnd.High, 1e-9)
		for what, e := range map[string]Estimate{"shape": g.Shape, "change": g.Change, "rate": g.RateAtEnd, "MTBF": g.MTBFAtEnd} {
			if !(0 < e.Low && e.Low < e.Value && e.Value < e.High) {
				t.Fatalf("%s: the limits of %+v do not hold it", what, e)
			}
		}
		nearly(t, "rate times MTBF", g.RateAtEnd.Value*g.MTBFAtEnd.Value, 1, 1e-12)
		if law, out := g.ShapeP < 0.1, g.Shape.Low > 1 || g.Shape.High < 1; law != out {
			t.Fatalf("chance %v beside the shape %+v", g.ShapeP, g.Shape)
		}
	})
}

// Seen from the other end of the time a rising rate falls.
func TestTrendMirrored(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w := Watched{rapid.SliceOfN(rapid.Float64Range(0.01, 99.99), 4, 60).Draw(t, "at"), 100}
		mirrored := Watched{nil, 100}
		for _, at := range w.At {
			mirrored.At = append(mirrored.At, 100-at)
		}
		a, b := trendOf(t, 0.9, w), trendOf(t, 0.9, mirrored)
		if math.Abs(a.Laplace+b.Laplace) > 1e-9 {
			t.Fatalf("U = %v and mirrored %v", a.Laplace, b.Laplace)
		}
		if a.Verdict == MoreFrequent && b.Verdict == MoreFrequent {
			t.Fatalf("both ways more frequent: %+v and %+v", a, b)
		}
	})
}

// powerLawEvents draws a power law that has so many events to be expected by 100.
func powerLawEvents(r *rand.Rand, expected, shape float64) Watched {
	w := Watched{Until: 100}
	for s := r.ExpFloat64(); s < expected; s += r.ExpFloat64() {
		w.At = append(w.At, 100*math.Pow(s/expected, 1/shape))
	}
	return w
}

// 95 % limits of the shape are exact; those of the rate hold 94 to 96 % from about 5
// events on. Of 3,000 runs the share is off by 0.004 by chance, 0.013 are allowed. A
// steady rate is called a trend in 5 % of the runs or fewer.
func TestGrowthLimitsHoldTheTruth(t *testing.T) {
	const runs = 3000
	r := rand.New(rand.NewPCG(3, 4))
	for _, expected := range []float64{8, 20, 100} {
		for _, shape := range []float64{0.6, 1, 1.6} {
			var told, rate, law, trends float64
			for range runs {
				g := growthOf(t, powerLawEvents(r, expected, shape), 0.95)
				if g.Moments < leastMoments {
					continue
				}
				told++
				if truth := expected * shape / 100; g.RateAtEnd.Low <= truth && truth <= g.RateAtEnd.High {
					rate++
				}
				if g.Shape.Low <= shape && shape <= g.Shape.High {
					law++
				}
				if g.Verdict != NoTrend {
					trends++
				}
			}
			what := fmt.Sprintf("%v events at a shape of %v: ", expected, shape)
			if math.Abs(rate/told-0.95) > 0.013 || math.Abs(law/told-0.95) > 0.013 {
				t.Errorf("%sthe limits hold the rate in %.3f and the shape in %.3f, want 0.95", what, rate/told, law/told)
			}
			if shape == 1 && trends/told > 0.05+0.013 {
				t.Errorf("%sa trend is seen in %.3f, want 0.05", what, trends/told)
			}
		}
	}
}

// As many events as eventsForDoubling asks for show a rate that doubles half way 4 times
// in 5; of 3,000 runs the share is off by 0.007 by chance, 0.025 are allowed.
func TestEventsForDoublingShowIt(t *testing.T) {
	const runs = 3000
	r := rand.New(rand.NewPCG(5, 6))
	for _, level := range []float64{0.9, 0.95} {
		shown := 0.0
		for range runs {
			w := Watched{Until: 1}
			for range eventsForDoubling(level) {
				at := r.Float64() / 2
				if r.Float64() < 2.0/3 {
					at += 0.5
				}
				w.At = append(w.At, at)
			}
			if trendOf(t, level, w).Verdict == MoreFrequent {
				shown++
			}
		}
		if math.Abs(shown/runs-0.8) > 0.025 {
			t.Errorf("at %v it shows in %.3f of the runs, want 0.8", level, shown/runs)
		}
	}
}
