package planning

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"time"

	"gullet/analyze/plan"
	"gullet/analyze/shift"
	"gullet/cmd/gullet/internal/figures"
)

// boundary is a moment at which a blade may be changed without a cut being cut off.
type boundary struct {
	place plan.Place
	job   string      // that begins there, "" for none
	after string      // the last job, where it ends there
	turn  *shift.Turn // that ends there, nil for none
}

// boundaries are now, the beginning of each job and the end of each shift within the
// days of the plan, in order.
func (in *Input) boundaries(s *sawPlan) []boundary {
	list := []boundary{{}}
	starts := s.work.Starts()
	for i, l := range s.work.Jobs {
		if i == 0 {
			list[0].job = l.Job
			continue
		}
		list = append(list, boundary{place: starts[i], job: l.Job})
	}
	if n := len(s.work.Jobs); n > 0 {
		list = append(list, boundary{place: starts[n], after: s.work.Jobs[n-1].Job})
	}
	until := in.Now.AddDate(0, 0, in.Days)
	turns := in.Calendar.Turns(s.name, in.Now, until)
	for i := range turns {
		t := &turns[i]
		if !t.End.After(in.Now) || t.End.After(until) {
			continue
		}
		hours := in.Calendar.Worked(s.name, in.Now, t.End).Hours()
		list = append(list, boundary{place: s.work.AtHours(hours), turn: t})
	}
	slices.SortStableFunc(list, func(a, b boundary) int { return cmp.Compare(a.place.Weighted, b.place.Weighted) })
	return slices.DeleteFunc(list, func(b boundary) bool { return math.IsNaN(b.place.Weighted) })
}

// advise says when to change: at the boundary of least expected cost over the blades
// to come, or at the last one with no more than the target risk.
func (in *Input) advise(s *sawPlan, out *Saw) {
	best := s.later.best
	if best == nil {
		out.WhyNone = s.later.why
		return
	}
	at := in.boundaries(s)
	areas := distinct(at)
	last := len(areas) - 1
	t, err := Weigh(s.left, areas, s.later.planned, s.later.unplanned, best.Rate)
	if err != nil {
		out.WhyNone = err.Error()
		return
	}
	t.Add(in.lateness(s, andFurther(s.left, areas)))
	pick, reason := in.pick(&t, best, last)
	a := &Advice{Change: pick <= last, Reason: reason, CostNow: t.Cost[0], Odds: t.Ended[min(pick, last)], CostThen: t.Cost[pick], Rate: perThousand(best.Rate), RunToEnd: perThousand(best.RunToEnd), ReplaceAge: figures.Finite(best.Age)}
	a.HabitRate = in.habit(s.blade.Type, s.later.planned, s.later.unplanned)
	a.OnHand = in.onHand(s.blade.Type)
	if a.Change {
		in.name(s, a, at, areas[pick])
	}
	for i, b := range at {
		if b.turn != nil && i > 0 {
			later := t.Cost[slices.Index(areas, b.place.Weighted)]
			a.CostLater = &later
			break
		}
	}
	out.Advise = a
	s.choice = choice{saw: s, at: at, areas: areas, costs: t, pick: pick}
	a.CostAfter = s.choice.after()
}

// after is what it costs to put the change off by a shift: to the end of the first one
// that ends when more has been cut. It is nil where the plan knows of none.
func (c *choice) after() *float64 {
	for _, b := range c.at {
		if c.pick < len(c.areas) && b.turn != nil && b.place.Weighted > c.areas[c.pick] {
			return &c.costs.Cost[slices.Index(c.areas, b.place.Weighted)]
		}
	}
	return nil
}

// Weigh is what it costs to run a blade of which so much is left to each of some areas
// from now, 0 first, and beyond the last of them as far as there is a reason to.
func Weigh(left *plan.Combined, areas []float64, planned, unplanned, rate float64) (plan.Transition, error) {
	return plan.Transit(left.Left, andFurther(left, areas), planned, unplanned, rate)
}

// andFurther are some areas and those beyond.
func andFurther(left *plan.Combined, areas []float64) []float64 {
	return append(slices.Clone(areas), further(areas[len(areas)-1], left.Furthest())...)
}

// distinct are the areas of the boundaries without repeats.
func distinct(at []boundary) (areas []float64) {
	for _, b := range at {
		areas = append(areas, b.place.Weighted)
	}
	return slices.Compact(areas)
}

// further are areas beyond the plan to which the blade may be run just as well: up to
// which nobody asks, each a fifth more than the one before. A blade that must get past
// an early risk first pays off there only.
func further(last, furthest float64) (areas []float64) {
	const wider, from = 1.2, 100 // in²
	for x := math.Max(last, from) * wider; x < furthest; x *= wider {
		areas = append(areas, x)
	}
	if furthest > last {
		areas = append(areas, furthest)
	}
	return areas
}

// pick chooses the boundary and says why; beyond the last
// of the plan the blade is to be run on.
func (in *Input) pick(t *plan.Transition, best *plan.Replacement, last int) (int, string) {
	if risk := in.Costs.Risk; risk > 0 {
		within := t.Within(risk)
		if within > last {
			return within, fmt.Sprintf("an end within the plan is no likelier than %.0f %%", 100*risk)
		}
		return within, fmt.Sprintf("the last boundary with at most %.0f %% risk of an end before it", 100*risk)
	}
	switch {
	case t.Best > last && !best.Helps && toTheEnd(t):
		return t.Best, "changing early does not help blades of this type: they end by chance or early, whatever their age; run it, with a spare ready"
	case t.Best > last && t.Cost[last] > t.Cost[0]:
		return t.Best, "it pays beyond the plan: a new blade has its early risk before it, too"
	case t.Best > last:
		return t.Best, "going on costs less than a new blade throughout the plan"
	case t.Best == 0:
		return 0, "going on costs more than the blades to come: change at the next stop"
	}
	return t.Best, "from here on going on costs more than the blades to come"
}

// toTheEnd says whether a blade is best run as far as is looked at. One that is best
// changed beyond the plan, as its own deviation wants it, is none of these, though
// changing others early does not help.
func toTheEnd(t *plan.Transition) bool {
	least := t.Cost[t.Best] // below 0 where the blade saves more than its change costs
	return t.Cost[len(t.Cost)-1]-least <= 1e-9*math.Abs(least)
}

// name says which moment a boundary is: before which job, or at the end of which
// shift.
func (in *Input) name(s *sawPlan, a *Advice, at []boundary, weighted float64) {
	for _, b := range at {
		if b.place.Weighted != weighted {
			continue
		}
		if a.At == nil {
			a.At = in.at(s, b.place)
		}
		if b.job != "" && a.BeforeJob == nil {
			a.BeforeJob = &b.job
		}
		if b.after != "" {
			a.AfterJob = &b.after
		}
		if b.turn != nil && a.Shift == nil {
			name := "end of " + b.turn.Name + ", " + b.turn.Date.String()
			a.Shift = &name
			end := b.turn.End.UTC()
			a.At = &end
		}
	}
}

// onHand is the shelf of a type, whatever way its name is written; nil is unknown.
func (in *Input) onHand(kind string) *int {
	if n, known := in.OnHand[in.Config.TypeName(kind)]; known {
		return &n
	}
	return nil
}

// habit is what the blades of a type have cost so far, changed as they were.
func (in *Input) habit(kind string, planned, unplanned float64) *float64 {
	cost, area := 0.0, 0.0
	for _, b := range in.Data.Lives.Blades {
		if b.Type != kind || b.Running {
			continue
		}
		area += b.Weighted
		if b.Ended() {
			cost += unplanned
		} else {
			cost += planned
		}
	}
	if !(area > 0) {
		return nil
	}
	return perThousand(cost / area)
}

func perThousand(rate float64) *float64 { return figures.Finite(1000 * rate) }

// daysOf is a number of days as time.
func daysOf(n int) time.Duration { return time.Duration(n) * 24 * time.Hour }
