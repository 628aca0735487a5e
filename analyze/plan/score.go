package plan

import (
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/mathext"
)

// Window is a forecast of an area: with 10, 50 and 90 % it is no greater. Q90, and
// Q50 with it, may be +Inf: nobody can tell.
type Window struct{ Q10, Q50, Q90 float64 }

// Outcome is what became of a forecast: the area, or that it is beyond an area
// because the blade was changed early or is still on.
type Outcome struct {
	Area   float64
	Beyond bool
}

// Coverage is how often outcomes fell within their windows, ends included.
// Undecided are those beyond an area that leaves it open.
type Coverage struct {
	Inside, Below, Above, Undecided int

	Share     float64 // inside, of the decided; NaN without any
	Low, High float64 // its exact 95 % limits
	Worst     float64 // the share of all if no undecided one falls inside; NaN without any
	Best      float64 // if all do
}

// Cover compares windows with their outcomes. A window is to hold 80 % of them.
//
// An outcome beyond an area is decided where the window settles it: above if the
// area is at or above Q90, inside if it is at or above Q10 and Q90 is +Inf. The
// decided are not a fair sample: it is the long lives that stay undecided. Worst
// and Best are what is certain.
//
// The limits are those of Clopper and Pearson, The use of confidence or fiducial
// limits illustrated in the case of the binomial, 1934 [from memory]: 0 and 1 where
// nothing is decided. They take the outcomes as independent; where several are of one
// blade see GroupShareLimits.
//
// It fails on lists that differ in length, a window that is not rising from 0 or
// more, and an outcome that is no area.
func Cover(windows []Window, outcomes []Outcome) (Coverage, error) {
	if err := checkPairs(len(windows), outcomes); err != nil {
		return Coverage{}, err
	}
	var c Coverage
	for i, w := range windows {
		if !(0 <= w.Q10 && w.Q10 <= w.Q50 && w.Q50 <= w.Q90) || math.IsInf(w.Q10, 1) {
			return Coverage{}, fmt.Errorf("forecast %d is a window from %v over %v to %v: want them to rise from 0 or more", i+1, w.Q10, w.Q50, w.Q90)
		}
		*c.of(w, outcomes[i])++
	}
	decided := c.Inside + c.Below + c.Above
	c.Share = share(c.Inside, decided)
	c.Low, c.High = ShareLimits(c.Inside, decided)
	c.Worst = share(c.Inside, len(windows))
	c.Best = share(c.Inside+c.Undecided, len(windows))
	return c, nil
}

// of is the count to which an outcome belongs.
func (c *Coverage) of(w Window, o Outcome) *int {
	switch {
	case o.Beyond && o.Area >= w.Q90:
		return &c.Above
	case o.Beyond && o.Area >= w.Q10 && math.IsInf(w.Q90, 1):
		return &c.Inside
	case o.Beyond:
		return &c.Undecided
	case o.Area < w.Q10:
		return &c.Below
	case o.Area > w.Q90:
		return &c.Above
	}
	return &c.Inside
}

func checkPairs(forecasts int, outcomes []Outcome) error {
	if forecasts != len(outcomes) {
		return fmt.Errorf("%d forecasts and %d outcomes: want one of each", forecasts, len(outcomes))
	}
	for i, o := range outcomes {
		if !(o.Area >= 0) || math.IsInf(o.Area, 1) {
			return fmt.Errorf("outcome %d is %v: want an area", i+1, o.Area)
		}
	}
	return nil
}

// share is k of n, NaN without any.
func share(k, n int) float64 {
	if n == 0 {
		return math.NaN()
	}
	return float64(k) / float64(n)
}

// ShareLimits are the exact 95 % limits of a share seen as k of n independent cases,
// those of Clopper and Pearson: quantiles of two beta distributions; 0 and 1 without
// a case.
func ShareLimits(k, n int) (low, high float64) {
	low, high = 0, 1
	if k > 0 {
		low = mathext.InvRegIncBeta(float64(k), float64(n-k+1), 0.025)
	}
	if k < n {
		high = mathext.InvRegIncBeta(float64(k+1), float64(n-k), 0.975)
	}
	return low, high
}

// Pinball is the mean loss of forecasts of one quantile, in the unit of the areas,
// and of how many outcomes: level·(y-q) where the outcome y is above the forecast q
// and (1-level)·(q-y) where it is below. Of the forecasts that one can make, the
// true quantile has the least in the long run. Outcomes beyond an area are left
// out, which favours low forecasts; the mean is NaN where no other is there. To
// compare rivals, give all of them the same outcomes.
//
// It fails on a level outside (0, 1), lists that differ in length, a forecast
// that is no area and an outcome that is none.
//
// Source: Koenker and Bassett, Regression quantiles, 1978; Gneiting and Raftery,
// Strictly proper scoring rules, prediction, and estimation, 2007 [from memory].
func Pinball(level float64, forecasts []float64, outcomes []Outcome) (mean float64, n int, err error) {
	if !(0 < level && level < 1) {
		return 0, 0, fmt.Errorf("a quantile of %v: want a level between 0 and 1", level)
	}
	if err := checkPairs(len(forecasts), outcomes); err != nil {
		return 0, 0, err
	}
	for i, q := range forecasts {
		if !(q >= 0) || math.IsInf(q, 1) {
			return 0, 0, fmt.Errorf("forecast %d is %v: want an area", i+1, q)
		}
		if o := outcomes[i]; !o.Beyond {
			n++
			mean += (math.Max(level*(o.Area-q), (level-1)*(o.Area-q)) - mean) / float64(n)
		}
	}
	if n == 0 {
		mean = math.NaN()
	}
	return mean, n, nil
}

// Chances is how forecasts by chance did.
type Chances struct {
	N         int
	Brier     float64 // mean squared distance from what happened: 0 at best, 1 at worst
	BaseRate  float64 // how often it did
	Reference float64 // the score of always saying BaseRate, known only afterwards
}

// Brier scores chances that something would happen against whether it did:
//
//	Σ (p - y)²/n,  y 1 or 0.
//
// To be better than Reference, BaseRate·(1-BaseRate), forecasts must tell cases
// apart. It fails on lists that differ in length or are empty and on a chance
// outside [0, 1].
//
// Source: Brier, Verification of forecasts expressed in terms of probability, 1950
// [from memory].
func Brier(chances []float64, happened []bool) (Chances, error) {
	if len(chances) != len(happened) {
		return Chances{}, fmt.Errorf("%d forecasts and %d outcomes: want one of each", len(chances), len(happened))
	}
	if len(chances) == 0 {
		return Chances{}, errors.New("there is no forecast to score")
	}
	c := Chances{N: len(chances)}
	for i, p := range chances {
		if !(p >= 0 && p <= 1) {
			return Chances{}, fmt.Errorf("forecast %d is a chance of %v: want 0 to 1", i+1, p)
		}
		y := 0.0
		if happened[i] {
			y = 1
		}
		c.Brier += (p - y) * (p - y) / float64(c.N)
		c.BaseRate += y / float64(c.N)
	}
	c.Reference = c.BaseRate * (1 - c.BaseRate)
	return c, nil
}
