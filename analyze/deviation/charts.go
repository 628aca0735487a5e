package deviation

import (
	"errors"
	"fmt"
	"math"
	"slices"
)

// Baseline is the level and the spread that a chart holds new values against.
type Baseline struct {
	Level, Sigma float64
	Low, High    float64 // Level ± 3·Sigma, for single values
	N            int     // values it was taken from
}

// The mean and the median of the range of two values from a normal distribution
// of standard deviation 1.
const (
	meanRange   = 1.128
	medianRange = 0.9539
)

// MinBaseline is the fewest values a baseline is taken from.
const MinBaseline = 8

// Individuals is the baseline of a chart of single values: their mean, and the
// mean range from each to the next over 1.128. Ranges between neighbours leave
// out what moves slowly, which a standard deviation of all would count as
// spread.
//
// It fails on fewer than 2 values and on one that is not finite.
//
// Source: NIST/SEMATECH e-Handbook, section 6.3.2.2.
func Individuals(values []float64) (Baseline, error) {
	if err := checkValues(values, 2); err != nil {
		return Baseline{}, err
	}
	level, spread := 0.0, 0.0
	for i, v := range values {
		level += v / float64(len(values))
		if i > 0 {
			spread += math.Abs(v-values[i-1]) / float64(len(values)-1)
		}
	}
	return newBaseline(level, spread/meanRange, len(values)), nil
}

// RobustBaseline is Individuals by medians: a few wild readings do not move it.
// For normal values it needs half as many again for the same certainty. It fails
// on fewer than MinBaseline values, on one that is not finite, and where more
// than half of the neighbours are equal, which leaves no spread.
func RobustBaseline(values []float64) (Baseline, error) {
	if err := checkValues(values, MinBaseline); err != nil {
		return Baseline{}, err
	}
	ranges := make([]float64, len(values)-1)
	for i := range ranges {
		ranges[i] = math.Abs(values[i+1] - values[i])
	}
	sigma := median(ranges) / medianRange
	if sigma == 0 {
		return Baseline{}, errors.New("baseline: more than half of the values equal the one before: they leave no spread")
	}
	return newBaseline(median(slices.Clone(values)), sigma, len(values)), nil
}

func newBaseline(level, sigma float64, n int) Baseline {
	return Baseline{Level: level, Sigma: sigma, Low: level - 3*sigma, High: level + 3*sigma, N: n}
}

func checkValues(values []float64, least int) error {
	if len(values) < least {
		return fmt.Errorf("baseline: %d values: at least %d are needed", len(values), least)
	}
	for i, v := range values {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return fmt.Errorf("baseline: value %d is %v: want a number", i+1, v)
		}
	}
	return nil
}

// What the charts of a saw run with. The average signals falsely once in 359
// readings, the sums once in 465.
const (
	chartLambda, chartWidth = 0.1, 2.703
	chartK                  = 0.5
	// ChartLimit is the cumulative sum that signals, in standard deviations.
	ChartLimit = 5.0
	// chartClip is how many standard deviations a single reading counts for at most:
	// one is no trend.
	chartClip = 4.0
)

// Charts are the charts of one blade.
type Charts struct {
	Base  Baseline
	EWMA  EWMAPoint
	CUSUM CUSUMPoint
	Out   int // single values beyond Base.Low and Base.High
	N     int
}

// RunCharts puts values on all charts, from a baseline. It fails on one without a
// spread.
func RunCharts(base Baseline, values []float64) (Charts, error) {
	c := Charts{Base: base, N: len(values)}
	average, err := NewEWMA(base, chartLambda, chartWidth)
	if err != nil {
		return c, err
	}
	sums, err := NewCUSUM(base, chartK, ChartLimit)
	if err != nil {
		return c, err
	}
	for _, v := range values {
		if v < base.Low || v > base.High {
			c.Out++
		}
		held := math.Max(base.Level-chartClip*base.Sigma, math.Min(base.Level+chartClip*base.Sigma, v))
		c.EWMA, c.CUSUM = average.Add(held), sums.Add(held)
	}
	return c, nil
}

// EWMA is a chart of the exponentially weighted moving average: it finds small
// shifts of the level soon. Each value costs the same, however many came before.
type EWMA struct {
	base          Baseline
	lambda, width float64
	value, left   float64 // left is (1-λ)^2n
}

// EWMAPoint is the average after a value, with its limits.
type EWMAPoint struct{ Value, Low, High float64 }

// Out reports whether the average lies beyond its limits.
func (p EWMAPoint) Out() bool { return p.Value < p.Low || p.Value > p.High }

// NewEWMA begins a chart at the level of a baseline. Lambda, in (0, 1], is the
// weight of the newest value, width is how many standard deviations of the
// average the limits lie off: 0.1 and 2.703 signal falsely once in 359 values.
func NewEWMA(base Baseline, lambda, width float64) (*EWMA, error) {
	switch {
	case !(base.Sigma > 0):
		return nil, fmt.Errorf("EWMA chart: the baseline's sigma is %v: want more than 0", base.Sigma)
	case !(lambda > 0 && lambda <= 1):
		return nil, fmt.Errorf("EWMA chart: lambda is %v: want more than 0, at most 1", lambda)
	case !(width > 0):
		return nil, fmt.Errorf("EWMA chart: width is %v: want more than 0", width)
	}
	return &EWMA{base: base, lambda: lambda, width: width, value: base.Level, left: 1}, nil
}

// Add takes the next value and returns the point it makes. After n values the
// average z = λ·x + (1-λ)·z varies by
//
//	Sigma²·λ/(2-λ)·(1 - (1-λ)^2n),
//
// and the limits are exact from the first value on. A value that is not a number
// is passed over.
//
// Source: NIST/SEMATECH e-Handbook, section 6.3.2.4.
func (e *EWMA) Add(x float64) EWMAPoint {
	if !math.IsNaN(x) {
		e.value += e.lambda * (x - e.value)
		e.left *= (1 - e.lambda) * (1 - e.lambda)
	}
	spread := e.width * e.base.Sigma * math.Sqrt(e.lambda/(2-e.lambda)*(1-e.left))
	return EWMAPoint{Value: e.value, Low: e.base.Level - spread, High: e.base.Level + spread}
}

// CUSUM is a two-sided chart of cumulative sums: it finds a lasting shift of
// about twice k, and since when. Each value costs the same, however many came
// before.
type CUSUM struct {
	base      Baseline
	k, h      float64
	high, low float64
	runHigh   int // values since high was last 0
	runLow    int
}

// CUSUMPoint is the sums after a value, in sigmas of the baseline.
type CUSUMPoint struct {
	High, Low float64 // above and below the level, both 0 or more
	Side      int     // +1: the upper sum is beyond h, -1: the lower, 0: neither
	Since     int     // with a Side, how many values ago the shift began
}

// NewCUSUM begins a chart at the level of a baseline; k is the slack taken off
// each value and h the sum that signals, both in sigmas. 0.5 and 5 signal
// falsely once in 465 values.
func NewCUSUM(base Baseline, k, h float64) (*CUSUM, error) {
	switch {
	case !(base.Sigma > 0):
		return nil, fmt.Errorf("CUSUM chart: the baseline's sigma is %v: want more than 0", base.Sigma)
	case !(k >= 0):
		return nil, fmt.Errorf("CUSUM chart: k is %v: want 0 or more", k)
	case !(h > 0):
		return nil, fmt.Errorf("CUSUM chart: h is %v: want more than 0", h)
	}
	return &CUSUM{base: base, k: k, h: h}, nil
}

// Add takes the next value and returns the point it makes, with z the value in
// sigmas from the level:
//
//	high = max(0, high + z - k),   low = max(0, low - z - k).
//
// The sums go on after a signal; begin a new chart after a blade change. A value
// that is not a number is passed over.
//
// Source: NIST/SEMATECH e-Handbook, section 6.3.2.3.
func (c *CUSUM) Add(x float64) CUSUMPoint {
	if z := (x - c.base.Level) / c.base.Sigma; !math.IsNaN(z) {
		c.high, c.runHigh = run(c.high+z-c.k, c.runHigh)
		c.low, c.runLow = run(c.low-z-c.k, c.runLow)
	}
	p := CUSUMPoint{High: c.high, Low: c.low}
	switch {
	case c.high > c.h && c.high >= c.low:
		p.Side, p.Since = 1, c.runHigh
	case c.low > c.h:
		p.Side, p.Since = -1, c.runLow
	}
	return p
}

// run is a sum kept from falling below 0, and how long it has been above.
func run(sum float64, length int) (float64, int) {
	if sum <= 0 {
		return 0, 0
	}
	return sum, length + 1
}
