package backtest

import (
	"math"
	"slices"
)

// The policies, the plan first: the others are held beside it. The plan by lives is what
// it would be without the deviation, at an age and not at the end of a shift.
const (
	PolicyPlan  = "plan"
	PolicyLives = "plan by lives"
	PolicyFixed = "fixed interval"
	PolicyRun   = "run to end"
	PolicyHabit = "habit"
)

var policies = []string{PolicyPlan, PolicyLives, PolicyFixed, PolicyRun, PolicyHabit}

// age is the age at which a policy changes a blade, if it has not ended before.
func (b *blade) age(policy string) float64 {
	switch policy {
	case PolicyPlan:
		return b.planned()
	case PolicyLives:
		return b.told.plan
	case PolicyFixed:
		return b.told.fixed
	}
	return math.Inf(1)
}

// The figures asked of each blade under a policy.
const (
	cost = iota
	planned
	unplanned
	area
	one     // 1
	stopped // 1 where it is judged no further though the policy runs on
	asked
)

// fate is what comes of a blade under a policy.
type fate struct {
	at      float64 // area it cuts
	known   bool
	ended   bool // in an unplanned change
	stopped bool // it is judged no further, though the policy runs on
}

// under is the fate of a blade under a policy that changes it at its age, or at the
// furthest age that can be judged if that comes first. One that ended before is an
// unplanned change after all it cut; one that cut as much is a planned change there; of
// one lost before nobody knows. The habit is what happened: a blade that came off did so
// by it, and nobody knows of the others.
func (b *blade) under(policy string, furthest float64) fate {
	if policy == PolicyHabit {
		return fate{at: b.life, known: b.off, ended: b.ended}
	}
	age := b.age(policy)
	at := math.Min(age, furthest)
	switch {
	case b.ended && b.life <= at:
		return fate{at: b.life, known: true, ended: true}
	case b.life < at:
		return fate{}
	}
	return fate{at: at, known: true, stopped: age > furthest}
}

// under asks of each blade what would have come of it under a policy.
func (c *crowd) under(policy string, furthest, early, late float64) *question {
	q := &question{pulls: policy == PolicyHabit, until: make([]int, len(c.blades)), figures: make([]numbers, asked)}
	for k := range q.figures {
		q.figures[k] = make(numbers, len(c.blades))
	}
	for i, b := range c.blades {
		f := b.under(policy, furthest)
		if !f.known {
			q.until[i] = -1
			continue
		}
		q.until[i] = c.before(f.at)
		q.figures[one][i], q.figures[area][i] = 1, f.at
		if f.ended {
			q.figures[unplanned][i], q.figures[cost][i] = 1, late
		} else {
			q.figures[planned][i], q.figures[cost][i] = 1, early
		}
		if f.stopped {
			q.figures[stopped][i] = 1
		}
	}
	return q
}

// early is of how many blades that ended the policy's change would have come before, and
// what of their lives that would have given away, on the mean.
func (c *crowd) early(policy string) (ended, before int, given float64) {
	for _, b := range c.blades {
		if !b.ended {
			continue
		}
		ended++
		if age := b.age(policy); age < b.life {
			before++
			given += (b.life - age - given) / float64(before)
		}
	}
	return ended, before, given
}

// middle is the median of the finite ones of some ages, NaN without any.
func middle(ages []float64) float64 {
	ages = slices.DeleteFunc(slices.Clone(ages), func(x float64) bool { return math.IsInf(x, 0) || math.IsNaN(x) })
	if len(ages) == 0 {
		return math.NaN()
	}
	slices.Sort(ages)
	return (ages[(len(ages)-1)/2] + ages[len(ages)/2]) / 2
}
