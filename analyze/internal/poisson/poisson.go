// Package poisson has the exact limits of a count of events and the exact
// comparison of two counts. It takes the events as independent of each other:
// where one brings others with it, the limits are too narrow. It knows nothing of
// saws.
package poisson

import (
	"math"

	"gonum.org/v1/gonum/mathext"
	"gonum.org/v1/gonum/stat/distuv"
)

// Limits are the two-sided limits, at a level within (0, 1), of how many events
// are to be expected where k were counted:
//
//	χ²((1-level)/2; 2k)/2   and   χ²((1+level)/2; 2k+2)/2,
//
// 0 and the second where k is 0. They are NaN for a k below 0 and for a level that
// is none.
//
// Source: Garwood 1936, Biometrika 28:437 [from memory].
func Limits(k int, level float64) (low, high float64) {
	if !isLevel(level) {
		return math.NaN(), math.NaN()
	}
	tail := (1 - level) / 2
	return AtLeast(k, 1-tail), AtMost(k, 1-tail)
}

// AtLeast is the lower of Limits, one-sided at its level.
func AtLeast(k int, level float64) float64 {
	switch {
	case k < 0 || !isLevel(level):
		return math.NaN()
	case k == 0:
		return 0
	}
	return distuv.ChiSquared{K: 2 * float64(k)}.Quantile(1-level) / 2
}

// AtMost is the upper of Limits, one-sided at its level.
func AtMost(k int, level float64) float64 {
	if k < 0 || !isLevel(level) {
		return math.NaN()
	}
	return distuv.ChiSquared{K: 2*float64(k) + 2}.Quantile(level) / 2
}

func isLevel(level float64) bool { return 0 < level && level < 1 }

// Pair is two counts of the same sort of event, each 0 or more and over an exposure
// above 0 in one unit.
type Pair struct {
	A, B         int
	OverA, OverB float64
}

// shareB is the chance of an event to be one of B's where both rates are alike.
func (p Pair) shareB() float64 { return p.OverB / (p.OverA + p.OverB) }

// Ratio is the rate of B over that of A: +Inf with no event in A, NaN with none
// at all.
func (p Pair) Ratio() float64 {
	return (float64(p.B) / p.OverB) / (float64(p.A) / p.OverA)
}

// RatioLimits are the two-sided limits of Ratio at a level within (0, 1): of the
// n events in all those of B are binomial, their share being
// OverB·ratio/(OverA + OverB·ratio). They are 0 where B has no event, and +Inf
// where A has none.
//
// Source: Clopper and Pearson 1934, Biometrika 26:404; Przyborowski and Wilenski
// 1940, Biometrika 31:313 [both from memory].
func (p Pair) RatioLimits(level float64) (low, high float64) {
	a, b, tail := float64(p.A), float64(p.B), (1-level)/2
	low, high = 0, math.Inf(1)
	if p.B > 0 {
		low = p.odds(b, a+1, tail)
	}
	if p.A > 0 {
		// From the other side, lest 1 - share lose its digits.
		high = 1 / Pair{OverA: p.OverB, OverB: p.OverA}.odds(a, b+1, tail)
	}
	return low, high
}

// odds is the ratio that a quantile of a share stands for.
func (p Pair) odds(alpha, beta, chance float64) float64 {
	share := mathext.InvRegIncBeta(alpha, beta, chance)
	return share / (1 - share) * p.OverA / p.OverB
}

// Uneven is the chance, were both rates alike, of counts no likelier than these;
// 1 without an event. It takes the time of all the events.
func (p Pair) Uneven() float64 {
	n := p.A + p.B
	if n == 0 {
		return 1
	}
	b := distuv.Binomial{N: float64(n), P: p.shareB()}
	here := b.Prob(float64(p.B)) * (1 + 1e-7) // equal ones differ by rounding
	chance := 0.0
	for i := range n + 1 {
		if x := b.Prob(float64(i)); x <= here {
			chance += x
		}
	}
	return math.Min(1, chance)
}

// Central is twice the chance, were both rates alike, of so many events in B or
// more, or of so few or fewer, whichever is less; 1 at most and without an event.
// It is below 1 - level where RatioLimits leave 1 out, which Uneven is not always.
func (p Pair) Central() float64 {
	a, b := float64(p.A), float64(p.B)
	few, many := 1.0, 1.0
	if p.A > 0 {
		few = mathext.RegIncBeta(a, b+1, 1-p.shareB())
	}
	if p.B > 0 {
		many = mathext.RegIncBeta(b, a+1, p.shareB())
	}
	return math.Min(1, 2*math.Min(few, many))
}
