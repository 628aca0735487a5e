package downtime

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"

	"gullet/analyze/internal/poisson"
)

// Group is how often something happened over what was watched: a saw, or one saw before
// a date.
type Group struct {
	Events   int
	Exposure float64 // time or area watched, in one unit for all groups; 0 or more
}

// Rate is the events per unit of exposure with exact limits (poisson.Limits); unknown
// where nothing was watched. Without an event it is 0 with an upper limit. It fails on a
// count below 0, an exposure that is none and a level outside [0.5, 0.9999].
func (g Group) Rate(level float64) (Estimate, error) {
	if err := errors.Join(checkLevel(level), g.check()); err != nil {
		return Estimate{}, fmt.Errorf("rate: %w", err)
	}
	if g.Exposure == 0 {
		return unknownEstimate(g.Events, level, "nothing was watched"), nil
	}
	low, high := poisson.Limits(g.Events, level)
	return Estimate{float64(g.Events) / g.Exposure, low / g.Exposure, high / g.Exposure, g.Events, level, ""}, nil
}

func (g Group) check() error {
	if g.Events < 0 {
		return fmt.Errorf("%d events: want 0 or more", g.Events)
	}
	return checkExposure(g.Exposure)
}

// ContrastVerdict is what a comparison of two rates comes to.
type ContrastVerdict string

// The verdicts on a rate beside another.
const (
	Higher       ContrastVerdict = "higher"
	Lower        ContrastVerdict = "lower"
	NoDifference ContrastVerdict = "no difference shown"
	TooLittle    ContrastVerdict = "too little to tell"
)

// ContrastVerdicts lists every verdict.
func ContrastVerdicts() []ContrastVerdict {
	return []ContrastVerdict{Higher, Lower, NoDifference, TooLittle}
}

// Contrast is the rate of one group beside that of another.
type Contrast struct {
	Ratio   Estimate // of the rates; N is the events of both
	P       float64  // chance of counts so far apart where the rates are alike
	Verdict ContrastVerdict
	Needed  int    // events of both from which higher and lower can both come about; 0 where nothing was watched
	Why     string // what the verdict leaves open; empty for higher and lower
}

// ContrastRates is the rate of b beside that of a: after a date beside before it, one
// saw beside another. Ratio has exact limits and P goes with them: it is below 1-level
// where they leave 1 out (poisson.Pair, RatioLimits and Central). Where no difference is
// shown Why tells which ratios the counts leave possible. It is too little to tell where
// the events of both are so few that, had all been in the one group or all in the other,
// one of the two would not have shown.
//
// It holds for events that come independently: count a trip with the trips it brought as
// one event. It holds for a date that was not chosen for the counts: after a bad spell
// that called for the work, the rate falls of itself.
//
// It fails on a count below 0, an exposure that is none and a level outside [0.5, 0.9999].
func ContrastRates(a, b Group, level float64) (Contrast, error) {
	if err := errors.Join(checkLevel(level), a.check(), b.check()); err != nil {
		return Contrast{}, fmt.Errorf("comparison of rates: %w", err)
	}
	return contrastAt(a, b, level), nil
}

// contrastAt is ContrastRates of what has been checked.
func contrastAt(a, b Group, level float64) Contrast {
	n := a.Events + b.Events
	if a.Exposure == 0 || b.Exposure == 0 {
		why := "nothing was watched on one side"
		return Contrast{unknownEstimate(n, level, why), 1, TooLittle, 0, why}
	}
	pair := poisson.Pair{A: a.Events, B: b.Events, OverA: a.Exposure, OverB: b.Exposure}
	low, high := pair.RatioLimits(level)
	c := Contrast{
		Ratio: Estimate{pair.Ratio(), low, high, n, level, ""},
		P:     pair.Central(), Needed: eventsForContrast(a.Exposure, b.Exposure, level),
	}
	if a.Events == 0 {
		c.Ratio.Value = math.NaN()
		c.Ratio.Why = "no event to compare with"
	}
	c.judge()
	return c
}

func (c *Contrast) judge() {
	switch r := c.Ratio; {
	case c.P < 1-r.Level && r.Low > 1:
		c.Verdict = Higher
	case c.P < 1-r.Level:
		c.Verdict = Lower
	case r.N < c.Needed:
		c.Verdict = TooLittle
		c.Why = fmt.Sprintf("fewer than %d events in all", c.Needed)
	case math.IsInf(r.High, 1):
		c.Verdict, c.Why = NoDifference, fmt.Sprintf("the rate may be any from %.2g times the other", r.Low)
	default:
		c.Verdict, c.Why = NoDifference, fmt.Sprintf("the rate may be %.2g to %.2g times the other", r.Low, r.High)
	}
}

// eventsForContrast is the fewest events n that show both ways: with share the smaller
// part of the exposure, 2·(1-share)^n < 1-level.
func eventsForContrast(overA, overB, level float64) int {
	share := min(overA, overB) / (overA + overB)
	n := math.Floor(math.Log((1-level)/2)/math.Log1p(-share)) + 1
	return int(min(n, math.MaxInt32))
}

// ContrastEach compares each saw with all the others together, so that looking at many
// does not find one by chance: where all are alike, any verdict of higher or lower comes
// about with a chance of at most 1-level (Holm). P is corrected for the looks. Ratio has
// the level at which Holm judged it, which is above the level asked for, so that limits
// and verdict agree. A saw for which nothing was watched is not a look.
//
// A saw that is far worse than the rest raises what each other saw is held against, and
// those can come out lower for it. The rest is as in ContrastRates; it fails where that
// does.
//
// Source: Holm 1979, Scandinavian Journal of Statistics 6:65 [from memory].
func ContrastEach(saws []Group, level float64) ([]Contrast, error) {
	if err := checkLevel(level); err != nil {
		return nil, fmt.Errorf("comparison of saws: %w", err)
	}
	for i, s := range saws {
		if err := s.check(); err != nil {
			return nil, fmt.Errorf("comparison of saws: saw %d: %w", i+1, err)
		}
	}
	list := make([]Contrast, len(saws))
	var looks []int
	for i, s := range saws {
		list[i] = contrastAt(othersOf(saws, i), s, level)
		if list[i].Needed > 0 {
			looks = append(looks, i)
		}
	}
	slices.SortStableFunc(looks, func(i, j int) int { return cmp.Compare(list[i].P, list[j].P) })
	worst, left, stopped := 0.0, len(looks), false
	for k, i := range looks {
		chance := list[i].P
		list[i] = contrastAt(othersOf(saws, i), saws[i], 1-(1-level)/float64(left))
		worst = max(worst, min(1, chance*float64(len(looks)-k)))
		list[i].P = worst
		stopped = stopped || list[i].Verdict == NoDifference || list[i].Verdict == TooLittle
		if !stopped {
			left--
		}
	}
	return list, nil
}

// othersOf is all saws but one, summed anew: taken off the sum, a small rest would be
// rounding.
func othersOf(saws []Group, but int) Group {
	var g Group
	for i, s := range saws {
		if i != but {
			g.Events += s.Events
			g.Exposure += s.Exposure
		}
	}
	return g
}
