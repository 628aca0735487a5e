package deviation

import (
	"fmt"
	"math"

	"gullet/analyze/internal/poisson"
)

// Rate is how often something happens over an area, per 1,000 in², with exact 95 %
// limits.
type Rate struct {
	Count int
	Area  float64 // in² on the clock that wear goes by
	Estimate
}

// NewRate takes the rate of a count over an area, with the limits of a Poisson
// count (poisson.Limits). It fails on an area that is not above 0 and on a count
// below 0.
func NewRate(count int, area float64) (Rate, error) {
	if !(area > 0) || math.IsInf(area, 0) || count < 0 {
		return Rate{}, fmt.Errorf("rate: %d over %v in²: want 0 or more over an area above 0", count, area)
	}
	per := PerArea / area
	low, high := poisson.Limits(count, 0.95)
	return Rate{count, area, Estimate{float64(count) * per, low * per, high * per}}, nil
}

// RateRatio is the rate of b over that of a with exact 95 % limits
// (poisson.Pair.RatioLimits), and the chance of counts as uneven where both are
// alike (Uneven).
//
// The ratio is +Inf with no count in a, NaN with no count at all; P is then 1.
func RateRatio(a, b Rate) (ratio Estimate, p float64) {
	pair := poisson.Pair{A: a.Count, B: b.Count, OverA: a.Area, OverB: b.Area}
	low, high := pair.RatioLimits(0.95)
	return Estimate{pair.Ratio(), low, high}, pair.Uneven()
}
