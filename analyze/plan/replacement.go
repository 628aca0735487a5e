package plan

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"
)

// Replacement is when to change blades of one kind, one after the other for ever.
type Replacement struct {
	Age      float64 // area cut by a blade at which to change it; +Inf: run it to its end
	Rate     float64 // cost per area when changed then
	RunToEnd float64 // cost per area when every blade is run to its end
	Helps    bool    // changing at Age costs less than running to the end
}

const (
	gone  = 1e-12 // a chance to last that is none
	worth = 1e-8  // a part of the cost that is worth telling
)

// Replace returns the age at which changing blades costs least in the long run.
// By the renewal reward theorem a shop that changes at age t, or at the end of the
// blade if that comes first, pays per area
//
//	C(t) = (planned·R(t) + unplanned·(1-R(t))) / ∫ R(u) du from 0 to t,
//
// with R the survival of a new blade. C may have several minima: the lowest
// counts. Where R jumps, Age is just before the jump; with more than twenty jumps
// the rates are good to 1e-4 only.
//
// The horizon only says where to begin looking: one that is much too short or
// much too long gives the same answer, for R is followed until it is 0 or levels
// out for good. Blades that outlast the level are taken to end from there on at
// the rate at which blades have ended up to there on the whole, -ln R(t)/t; where
// none ever ends all costs are 0.
//
// Age is +Inf, and Helps false, where no age saves a part in 1e8 of running to the
// end: with a hazard that is constant or falls, and with an unplanned change that
// is no dearer than a planned one. It fails on costs that are not above 0, a
// horizon that is not, a blade that ends at once, and a survival that is no
// chance or rises.
//
// Source: Barlow and Proschan, Mathematical Theory of Reliability, 1965, chapter 4
// [from memory].
func Replace(survival func(area float64) float64, horizon, planned, unplanned float64) (Replacement, error) {
	if err := checkCosts(planned, unplanned); err != nil {
		return Replacement{}, fmt.Errorf("when to change: %w", err)
	}
	if !isPositive(horizon) {
		return Replacement{}, fmt.Errorf("when to change: looked at up to %v: want an area above 0", horizon)
	}
	end, err := lastEnd(survival, horizon)
	if err != nil {
		return Replacement{}, fmt.Errorf("when to change: %w", err)
	}
	if math.IsInf(end, 1) {
		return Replacement{Age: end}, nil
	}
	c, err := tabulate(survival, beginnings(end))
	if err != nil {
		return Replacement{}, fmt.Errorf("when to change: %w", err)
	}
	left := survival(end)
	life := c.total() + left*end/-math.Log(left)
	r := Replacement{Age: math.Inf(1), Rate: unplanned / life, RunToEnd: unplanned / life}
	by := changing{c, planned, unplanned}
	for _, v := range by.valleys() {
		if age, rate := by.bottom(v); rate < r.Rate && rate < r.RunToEnd*(1-worth) {
			r.Age, r.Rate, r.Helps = age, rate, true
		}
	}
	return r, nil
}

func isPositive(v float64) bool { return v > 0 && !math.IsInf(v, 1) }

func checkCosts(planned, unplanned float64) error {
	if !isPositive(planned) || !isPositive(unplanned) {
		return fmt.Errorf("a planned change costs %v, an unplanned one %v: want costs above 0", planned, unplanned)
	}
	return nil
}

// lastEnd is about the area by which blades have ended, as far as they ever do:
// +Inf where none does.
func lastEnd(survival func(float64) float64, horizon float64) (float64, error) {
	const ever = 0x1p200
	last := survival(math.Min(horizon*ever, math.MaxFloat64))
	if !(last >= 0 && last <= 1+1e-9) {
		return 0, fmt.Errorf("the chance that a blade lasts for ever is %v: want 0 to 1", last)
	}
	if last > 1-1e-9 {
		return math.Inf(1), nil
	}
	over := func(x float64) bool { return survival(x) > math.Max(last*(1+1e-9), gone) }
	end := horizon
	for over(end) {
		end *= 2
	}
	for !over(end / 2) {
		end /= 2
		if end < 1e-300 {
			return 0, errors.New("blades end at once")
		}
	}
	low := end / 2
	for range 10 {
		if middle := (low + end) / 2; over(middle) {
			low = middle
		} else {
			end = middle
		}
	}
	return end, nil
}

// beginnings are the breaks of the first look: closer together near 0, where early
// ends are, and at no round parts of the whole.
func beginnings(end float64) []float64 {
	var breaks []float64
	for x := end; x > 0.01*end; x *= 0.6 {
		breaks = append(breaks, x)
	}
	breaks = append(breaks, 0)
	slices.Reverse(breaks)
	return breaks
}

// changing is the cost per area of changing at an age.
type changing struct {
	*curve
	planned, unplanned float64
}

func (c changing) cost(left float64) float64 {
	return c.planned*left + c.unplanned*(1-left)
}

// rate is C at an age.
func (c changing) rate(age float64) float64 {
	under, left := c.to(age)
	return c.cost(left) / under
}

// valley is three ages side by side, the middle one the best.
type valley struct {
	from, middle, to float64
	rate             float64 // at the middle
}

// valleys are where C has minima among the ages looked at, the few lowest of
// those that are no more than a hundredth above the lowest.
func (c changing) valleys() []valley {
	const most, near = 4, 1.01
	var ages, rates []float64
	for i, p := range c.panels {
		parts := p.parts()
		for q := 1; q <= 4; q++ {
			under := c.before[i+1]
			if q < 4 {
				under = c.before[i] + parts[q-1]
			}
			ages, rates = append(ages, p.at(q)), append(rates, c.cost(p.left[q])/under)
		}
	}
	var found []valley
	for i := 1; i+1 < len(ages); i++ {
		if rates[i] <= rates[i-1] && rates[i] < rates[i+1] {
			found = append(found, valley{ages[i-1], ages[i], ages[i+1], rates[i]})
		}
	}
	slices.SortFunc(found, func(a, b valley) int { return cmp.Compare(a.rate, b.rate) })
	for i, v := range found {
		if i == most || v.rate > near*found[0].rate {
			return found[:i]
		}
	}
	return found
}

// bottom is the best age within a valley: by golden section, which no jump leads
// astray, and then where C is level, if that is as good.
func (c changing) bottom(v valley) (age, rate float64) {
	const golden = 0.6180339887498949
	age, rate = v.middle, c.rate(v.middle)
	low, high := v.from, v.to
	a, b := high-golden*(high-low), low+golden*(high-low)
	atA, atB := c.rate(a), c.rate(b)
	for range 40 {
		if high-low < 1e-9*high {
			break
		}
		if atA <= atB {
			high, b, atB = b, a, atA
			a = high - golden*(high-low)
			atA = c.rate(a)
		} else {
			low, a, atA = a, b, atB
			b = low + golden*(high-low)
			atB = c.rate(b)
		}
	}
	for _, tried := range []struct{ age, rate float64 }{{a, atA}, {b, atB}} {
		if tried.rate < rate {
			age, rate = tried.age, tried.rate
		}
	}
	if level := c.level(age, v); level > 0 {
		if r := c.rate(level); r <= rate*(1+1e-12) {
			return level, r
		}
	}
	return age, rate
}

// level is the age near a good one at which C has no slope, which tells the age far
// more closely than C itself does:
//
//	(unplanned-planned)·h(t)·∫R = planned·R(t) + unplanned·(1-R(t)),
//
// with h the hazard, by a difference of ln R over five ages. Where R is not smooth it
// is some other age of the valley, or NaN.
func (c changing) level(age float64, v valley) float64 {
	step := (v.to - v.from) / 16
	slope := func(t float64) float64 {
		log := func(x float64) float64 { return math.Log(c.survival(x)) }
		hazard := (log(t+2*step) - 8*log(t+step) + 8*log(t-step) - log(t-2*step)) / (12 * step)
		under, left := c.to(t)
		return (c.unplanned-c.planned)*hazard*under - c.cost(left)
	}
	t, next := age, age+math.Copysign(step, v.middle-age)
	at := slope(t)
	for range 6 {
		f := slope(next)
		if f == at {
			break
		}
		t, next, at = next, next-f*(next-t)/(f-at), f
		if !(v.from < next && next < v.to) {
			return math.NaN()
		}
		if math.Abs(next-t) < 1e-10*next {
			break
		}
	}
	return next
}
