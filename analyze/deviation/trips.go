package deviation

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// Rate is how often something happens over an area, per 1,000 in², with exact 95 %
// limits.
type Rate struct {
	Count int
	Area  float64 // in² on the clock that wear goes by
	Estimate
}

// NewRate takes the rate of a count over an area. For a Poisson count k the
// limits are half the 2.5 % point of chi-square with 2k degrees of freedom and
// half the 97.5 % point with 2k+2, over the area. It fails on an area that is not
// above 0 and on a count below 0.
//
// Source: Garwood 1936, Biometrika 28:437 [from memory].
func NewRate(count int, area float64) (Rate, error) {
	if !(area > 0) || math.IsInf(area, 0) || count < 0 {
		return Rate{}, fmt.Errorf("rate: %d over %v in²: want 0 or more over an area above 0", count, area)
	}
	k, per := float64(count), PerArea/area
	r := Rate{Count: count, Area: area}
	r.Value = k * per
	if count > 0 {
		r.Low = distuv.ChiSquared{K: 2 * k}.Quantile(0.025) / 2 * per
	}
	r.High = distuv.ChiSquared{K: 2*k + 2}.Quantile(0.975) / 2 * per
	return r, nil
}

// RateRatio is the rate of b over that of a with exact 95 % limits, and the chance
// of counts as uneven where both are alike: of n counts in all those of b are
// binomial with share (areaB·ratio)/(areaA + areaB·ratio).
//
// The ratio is +Inf with no count in a, NaN with no count at all; P is then 1.
//
// Source: Clopper and Pearson 1934; conditional test of two Poisson rates,
// Przyborowski and Wilenski 1940, Biometrika 31:313 [both from memory].
func RateRatio(a, b Rate) (ratio Estimate, p float64) {
	n := a.Count + b.Count
	if n == 0 {
		return Estimate{math.NaN(), 0, math.Inf(1)}, 1
	}
	odds := func(share float64) float64 { return share / (1 - share) * a.Area / b.Area }
	k, rest := float64(b.Count), float64(a.Count)
	ratio = Estimate{Value: (k / b.Area) / (rest / a.Area), High: math.Inf(1)}
	if b.Count > 0 {
		ratio.Low = odds(distuv.Beta{Alpha: k, Beta: rest + 1}.Quantile(0.025))
	}
	if a.Count > 0 {
		ratio.High = odds(distuv.Beta{Alpha: k + 1, Beta: rest}.Quantile(0.975))
	}
	share := distuv.Binomial{N: float64(n), P: b.Area / (a.Area + b.Area)}
	here := share.Prob(k) * (1 + 1e-7)
	for i := range n + 1 {
		if x := share.Prob(float64(i)); x <= here {
			p += x
		}
	}
	return ratio, math.Min(1, p)
}
