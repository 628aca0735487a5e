package downtime

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// Watched is when something happened to one saw, on a clock of its own (operating time
// or area) that is 0 where watching began and Until where it ended.
type Watched struct {
	At    []float64 // within [0, Until], in any order
	Until float64
}

// TrendVerdict is whether something gets more frequent.
type TrendVerdict string

// The verdicts on a trend.
const (
	MoreFrequent TrendVerdict = "more frequent"
	LessFrequent TrendVerdict = "less frequent"
	NoTrend      TrendVerdict = "no trend shown"
	TooFewEvents TrendVerdict = "too few to tell"
)

// TrendVerdicts lists every verdict.
func TrendVerdicts() []TrendVerdict {
	return []TrendVerdict{MoreFrequent, LessFrequent, NoTrend, TooFewEvents}
}

// leastMoments is the fewest different times of events from which the Laplace test is
// near enough to normal (common practice).
const leastMoments = 4

// Trend is whether events come at a rate that changes. Figures that the events do not
// give are NaN.
type Trend struct {
	N       int // events, without those at 0
	Moments int // different times at which they were
	AtStart int // events at 0, left out
	Level   float64

	Laplace  float64 // standard normal where the rate is steady; above 0 where it rises
	LaplaceP float64 // two-sided

	Shape         Estimate // of the power law: 1 steady, above 1 more and more frequent
	ShapeUnbiased float64
	ShapeP        float64  // two-sided, of a steady rate
	Change        Estimate // events of the second half over those of the first, 2^Shape - 1

	Verdict TrendVerdict
	Why     string // what the verdict does not say; empty where that is nothing
}

// TrendOf tests events of one saw or of several against a steady rate. Each saw keeps
// a rate of its own and they share the trend. The Laplace statistic is
//
//	U = (Σ at - Σ n·Until/2)/√(Σ n·Until²/12),
//
// n being the events of a saw, and the shape of a power law λ·t^Shape, the events to be
// expected by t,
//
//	Shape = N/S,  S = Σ ln(Until/at),  unbiased (N-1)/S,
//
// with 2·N/Shape0·Shape chi-square with 2N degrees of freedom for the true Shape0; from
// this are its limits and ShapeP.
//
// The verdict is that of the Laplace test: S hangs on the first few events, and trouble
// on the first day would make any saw look cured. Where the power law says otherwise
// Why tells. Below 4 different times it is too few to tell, for a bunch of events at one
// time is no trend. Where no trend is shown Why tells how much of one the events leave
// possible, and how many it takes to see a rate that doubles.
//
// Events at 0 are counted in AtStart only: they tell nothing of the time watched, and
// ln(Until/0) is no number. Events at one time all count. Both tests take events as
// independent: count a trip with the trips it brought as one event.
//
// It fails on a level outside [0.5, 0.9999], a time that is none and an event outside it.
//
// Source: NIST/SEMATECH e-Handbook, section 8.2.3.4 (trend tests) and 8.1.7.2 (power
// law); MIL-HDBK-189C, time-terminated; Cox and Lewis 1966, The Statistical Analysis of
// Series of Events, for several [all from memory].
func TrendOf(level float64, saws ...Watched) (Trend, error) {
	if err := checkLevel(level); err != nil {
		return Trend{}, fmt.Errorf("trend: %w", err)
	}
	t := Trend{Level: level}
	var off, spread, logs float64
	for i, w := range saws {
		if err := w.check(); err != nil {
			return Trend{}, fmt.Errorf("trend: saw %d: %w", i+1, err)
		}
		seen := map[float64]bool{}
		for _, at := range w.At {
			if at == 0 {
				t.AtStart++
				continue
			}
			seen[at] = true
			off += at - w.Until/2
			spread += w.Until * w.Until / 12
			logs += math.Log(w.Until) - math.Log(at) // their quotient can overflow
			t.N++
		}
		t.Moments += len(seen)
	}
	t.Laplace = off / math.Sqrt(spread)
	t.LaplaceP = 2 * distuv.UnitNormal.Survival(math.Abs(t.Laplace))
	t.powerLaw(logs)
	t.judge()
	return t, nil
}

func (w Watched) check() error {
	if err := checkExposure(w.Until); err != nil {
		return err
	}
	for i, at := range w.At {
		if !(0 <= at && at <= w.Until) {
			return fmt.Errorf("event %d is at %v: want 0 to %v", i+1, at, w.Until)
		}
	}
	return nil
}

// powerLaw fits the shape, logs being S.
func (t *Trend) powerLaw(logs float64) {
	t.ShapeUnbiased, t.ShapeP = math.NaN(), math.NaN()
	t.Shape = unknownEstimate(t.N, t.Level, "no event")
	t.Change = t.Shape
	switch {
	case t.N == 0:
		return
	case logs == 0:
		t.Shape.Why = "every event is at the end"
		t.Change.Why = t.Shape.Why
		return
	}
	n := float64(t.N)
	chi := distuv.ChiSquared{K: 2 * n}
	t.Shape = Estimate{n / logs, chi.Quantile((1-t.Level)/2) / (2 * logs), chi.Quantile((1+t.Level)/2) / (2 * logs), t.N, t.Level, ""}
	if t.N > 1 {
		t.ShapeUnbiased = (n - 1) / logs
	}
	t.ShapeP = 2 * min(chi.CDF(2*logs), chi.Survival(2*logs))
	halves := func(shape float64) float64 { return math.Exp2(shape) - 1 }
	t.Change = Estimate{halves(t.Shape.Value), halves(t.Shape.Low), halves(t.Shape.High), t.N, t.Level, ""}
}

// judge sets the verdict.
func (t *Trend) judge() {
	doubling := fmt.Sprintf("a rate that doubles shows 4 times in 5 from %d events on", eventsForDoubling(t.Level))
	law := t.ShapeP < 1-t.Level
	switch {
	case t.Moments < leastMoments:
		t.Verdict = TooFewEvents
		t.Why = fmt.Sprintf("events at fewer than %d different times; %s", leastMoments, doubling)
	case t.LaplaceP < 1-t.Level:
		t.Verdict = LessFrequent
		if t.Laplace > 0 {
			t.Verdict = MoreFrequent
		}
		if !law || (t.Shape.Value > 1) != (t.Laplace > 0) {
			t.Why = "the power law does not bear it out"
		}
	default:
		t.Verdict = NoTrend
		t.Why = fmt.Sprintf("the second half may have %.2g to %.2g times the events of the first", t.Change.Low, t.Change.High)
		if law {
			t.Why = "the power law shows one, which the first few events can make by themselves"
		}
		if t.N < eventsForDoubling(t.Level) {
			t.Why += "; " + doubling
		}
	}
}

// eventsForDoubling is how many events the Laplace test takes to show, 4 times in 5,
// that the second half has twice the events of the first: the mean of at/Until is then
// 1/2 + 1/12, and U has the mean √(12·n)/12.
func eventsForDoubling(level float64) int {
	z := distuv.UnitNormal.Quantile((1+level)/2) + distuv.UnitNormal.Quantile(0.8)
	return int(math.Ceil(12 * z * z))
}

// Growth is the power law of one saw.
type Growth struct {
	Trend
	Lambda    float64  // λ: events to be expected by 1 on the clock; its unit hangs on the shape
	RateAtEnd Estimate // events per unit of the clock at Until
	MTBFAtEnd Estimate // one over it
}

// GrowthOf fits the power law to the events of one saw:
//
//	λ = N/Until^Shape,   rate at the end  λ·Shape·Until^(Shape-1) = N·Shape/Until.
//
// The limits of the rate are on the log scale from its variance there, 2/N: one part
// for the events counted and one for the shape. Below leastMoments different times the
// rate is not told. It fails where TrendOf does.
//
// Source: MIL-HDBK-189C, time-terminated; Crow 1982, Technometrics 24:67 [from memory].
func GrowthOf(w Watched, level float64) (Growth, error) {
	t, err := TrendOf(level, w)
	if err != nil {
		return Growth{}, err
	}
	g := Growth{Trend: t, Lambda: math.NaN()}
	g.RateAtEnd = unknownEstimate(t.N, level, t.Why)
	g.MTBFAtEnd = g.RateAtEnd
	if t.Moments < leastMoments || math.IsNaN(t.Shape.Value) {
		return g, nil
	}
	n := float64(t.N)
	g.Lambda = n / math.Pow(w.Until, t.Shape.Value)
	rate := n * t.Shape.Value / w.Until
	factor := math.Exp(distuv.UnitNormal.Quantile((1+level)/2) * math.Sqrt(2/n))
	g.RateAtEnd = Estimate{rate, rate / factor, rate * factor, t.N, level, ""}
	g.MTBFAtEnd = Estimate{1 / rate, 1 / (rate * factor), factor / rate, t.N, level, ""}
	return g, nil
}
