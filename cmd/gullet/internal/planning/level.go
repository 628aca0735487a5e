package planning

import (
	"fmt"
	"math"
	"slices"
	"time"

	"gullet/analyze/plan"
	"gullet/analyze/shift"
	"gullet/cmd/gullet/internal/figures"
)

// Load is the changes that fall in one shift.
type Load struct {
	Shift   string   `json:"shift"` // with its day
	Saws    []string `json:"saws"`  // in order of time
	Minutes float64  `json:"minutes"`
	Over    bool     `json:"more_than_one_fitter_can_do"`
}

// ShiftOf names the shift of a saw in which a change falls, with the day on which it
// begins. One at the end of a shift belongs to that shift.
func ShiftOf(c *shift.Calendar, saw string, at time.Time, atEnd bool) string {
	if atEnd {
		at = at.Add(-1)
	}
	if turn, ok := c.At(saw, at); ok {
		day := time.Date(turn.Date.Year, turn.Date.Month, turn.Date.Day, 0, 0, 0, 0, time.UTC)
		return day.Format("Mon 2 Jan") + ", " + turn.Name
	}
	return at.In(c.Zone).Format("Mon 2 Jan") + ", outside the shifts"
}

// choice is the boundaries among which the change of a blade was chosen.
type choice struct {
	saw    *sawPlan
	at     []boundary
	areas  []float64 // of the boundaries, without repeats
	shifts []string  // in which they fall, "" where the calendar does not go so far
	costs  plan.Transition
	pick   int
}

// shiftsOf names the shift of each area of a choice.
func (in *Input) shiftsOf(c *choice) {
	c.shifts = make([]string, len(c.areas))
	for i, area := range c.areas {
		a := Advice{}
		in.name(c.saw, &a, c.at, area)
		if a.At != nil {
			c.shifts[i] = ShiftOf(in.Calendar, c.saw.name, *a.At, a.Shift != nil)
		}
	}
}

// room is how many changes one fitter does in a shift, one at least.
func (in *Input) room() int {
	return max(1, int(in.Costs.Fitter.Minutes()/math.Max(in.Costs.Planned, 1)))
}

// level moves changes out of shifts that have more of them than one fitter can do,
// first shift first, each time the one whose move to a shift with room costs least. A
// target risk is kept.
//
// That is no optimum over all of them, but each move can be told to a person with its
// reason and its cost.
func (in *Input) level(saws []*sawPlan, out []Saw) (loads []Load) {
	by := map[string][]int{} // saws by shift
	for i, s := range saws {
		if a := out[i].Advise; a != nil && a.Change {
			in.shiftsOf(&s.choice)
			name := s.choice.shifts[s.choice.pick]
			by[name] = append(by[name], i)
		}
	}
	for _, name := range inOrder(by, out) {
		for len(by[name]) > in.room() && name != "" {
			i, to := in.cheapest(saws, by, name)
			if i < 0 {
				break
			}
			by[name] = slices.DeleteFunc(by[name], func(k int) bool { return k == i })
			next := saws[i].choice.shifts[to]
			by[next] = append(by[next], i)
			in.move(saws[i], &out[i], to, name)
		}
	}
	for _, name := range inOrder(by, out) {
		if name == "" {
			continue
		}
		l := Load{Shift: name, Minutes: in.Costs.Planned * float64(len(by[name])), Over: len(by[name]) > in.room()}
		for _, i := range by[name] {
			l.Saws = append(l.Saws, out[i].Saw)
		}
		loads = append(loads, l)
	}
	return loads
}

// inOrder are the shifts by their first change, and within each the saws by time.
func inOrder(by map[string][]int, out []Saw) (names []string) {
	sooner := func(a, b int) int { return at(&out[a]).Compare(at(&out[b])) }
	for name, list := range by {
		if len(list) > 0 {
			slices.SortFunc(list, func(a, b int) int {
				if c := sooner(a, b); c != 0 {
					return c
				}
				return a - b
			})
			names = append(names, name)
		}
	}
	slices.SortFunc(names, func(a, b string) int {
		if c := sooner(by[a][0], by[b][0]); c != 0 {
			return c
		}
		return by[a][0] - by[b][0]
	})
	return names
}

// at is when a blade is to be changed; what lies beyond the calendar comes last.
func at(s *Saw) time.Time {
	if s.Advise.At == nil {
		return time.Unix(1<<40, 0)
	}
	return *s.Advise.At
}

// cheapest is the saw of a shift whose change is moved at the least cost, and to which
// of its boundaries; -1 where no shift has room.
func (in *Input) cheapest(saws []*sawPlan, by map[string][]int, name string) (saw, to int) {
	saw, least := -1, math.Inf(1)
	for _, i := range by[name] {
		c := &saws[i].choice
		for k, other := range c.shifts {
			if other == name || other == "" || len(by[other]) >= in.room() || in.Costs.Risk > 0 && c.costs.Ended[k] > in.Costs.Risk {
				continue
			}
			if extra := c.costs.Cost[k] - c.costs.Cost[c.pick]; extra < least {
				saw, to, least = i, k, extra
			}
		}
	}
	return saw, to
}

// move puts a change to another boundary, and says why and at what cost.
func (in *Input) move(s *sawPlan, out *Saw, to int, from string) {
	c, a := &s.choice, out.Advise
	extra := c.costs.Cost[to] - c.costs.Cost[c.pick]
	c.pick = to
	a.At, a.BeforeJob, a.AfterJob, a.Shift = nil, nil, nil, nil
	in.name(s, a, c.at, c.areas[to])
	a.Odds, a.CostThen, a.CostAfter = c.costs.Ended[to], c.costs.Cost[to], c.after()
	why := fmt.Sprintf("moved from %s, in which one fitter has time for %s: %s more", from, figures.Plural(in.room(), "change", "changes"), Money(extra, in.Config.Shop.Currency))
	a.Moved = &why
}
