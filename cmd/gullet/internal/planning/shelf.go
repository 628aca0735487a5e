package planning

import (
	"errors"
	"fmt"
	"maps"
	"math"
	"slices"
	"sort"
	"time"

	"gullet/analyze/plan"
)

// horizons are the days blades are counted over.
var horizons = []int{7, 14, 28}

// user is a saw that uses up blades of one type.
type user struct {
	name           string
	work           *plan.Work
	running, later plan.Run
}

// shelf is what must be on hand of each type that hangs on a saw.
func (in *Input) shelf(saws []*sawPlan) (list []Shelf) {
	users, why := map[string][]user{}, map[string]string{}
	for _, s := range saws {
		if s.blade == nil {
			continue
		}
		kind := s.blade.Type
		u, err := in.user(s)
		if err != nil {
			why[kind] = fmt.Sprintf("saw %s: %v", s.name, err)
			continue
		}
		users[kind] = append(users[kind], u)
	}
	for kind := range why {
		users[kind] = append(users[kind], []user{}...)
	}
	kinds := slices.Sorted(maps.Keys(users))
	list = make([]Shelf, len(kinds))
	beside(len(kinds), func(i int) { list[i] = in.kind(kinds[i], users[kinds[i]], why[kinds[i]]) })
	return list
}

// user is how a saw uses up blades: the one that is on until it is changed as
// advised, or run on to the best age of its type but beyond the plan, those after it
// at the best age.
func (in *Input) user(s *sawPlan) (user, error) {
	if s.left == nil {
		return user{}, fmt.Errorf("what its blade has left is unknown: %s", s.why+s.whyPace)
	}
	if s.later.fresh == nil {
		return user{}, errors.New(s.later.why)
	}
	u := user{
		name: s.name, work: &s.work,
		running: plan.Run{Survival: s.left.Left, Change: math.Inf(1)}, later: plan.Run{Survival: s.later.fresh.Left, Change: math.Inf(1)},
	}
	if best := s.later.best; best != nil { // where nobody knows when to change, each runs to its end
		u.later.Change = best.Age
		u.running.Change = math.Max(0, best.Age-s.blade.Weighted)
		if c := &s.choice; c.pick < len(c.areas) {
			u.running.Change = c.areas[c.pick]
		} else if n := len(c.areas); n > 0 {
			u.running.Change = math.Max(u.running.Change, c.areas[n-1])
		}
	}
	return u, nil
}

// kind is the shelf of one type.
func (in *Input) kind(kind string, users []user, why string) Shelf {
	out := Shelf{Type: kind, Needed: map[string]Use{}, Why: why, OnHand: in.onHand(kind)}
	if why != "" {
		return out
	}
	u := uses{in, users, map[time.Duration]plan.Count{}}
	for _, days := range horizons {
		c, err := u.over(daysOf(days))
		if err != nil {
			out.Why = err.Error()
			return out
		}
		out.Needed[fmt.Sprintf("%dd", days)] = Use{Mean: c.Mean, Q50: c.Quantile(0.5), Safe: c.Quantile(in.Costs.Service)}
	}
	c, err := u.over(in.Costs.Lead)
	if err != nil {
		out.Why = err.Error()
		return out
	}
	point := c.Quantile(in.Costs.Service)
	out.Reorder = &point
	out.OrderBy = u.orderBy(out.OnHand)
	return out
}

// uses are how many blades of a type its saws use up.
type uses struct {
	*Input
	users []user
	known map[time.Duration]plan.Count
}

// orderBy is the last day on which an order still comes in time: what is on hand
// lasts over the lead time from then on with the chance of the service level. It is
// nil where that lies more than four weeks ahead or the shelf is not known.
func (u *uses) orderBy(onHand *int) *time.Time {
	if onHand == nil {
		return nil
	}
	last := horizons[len(horizons)-1]
	day := sort.Search(last+1, func(day int) bool {
		c, err := u.over(u.Costs.Lead + daysOf(day))
		return err != nil || c.Quantile(u.Costs.Service) > *onHand
	})
	if day > last {
		return nil
	}
	at := u.Now.Add(daysOf(max(0, day-1))).UTC()
	return &at
}

// closeEnough is how good chances of numbers of blades are to be: they are told as
// whole numbers at a service level.
const closeEnough = 1e-3

// over is how many the saws together use up over a time.
func (u *uses) over(span time.Duration) (plan.Count, error) {
	if c, ok := u.known[span]; ok {
		return c, nil
	}
	sum := plan.Count{AtMost: []float64{1}}
	for _, s := range u.users {
		hours := u.Calendar.Worked(s.name, u.Now, u.Now.Add(span)).Hours()
		c, err := plan.Renewals(s.work.AtHours(hours).Weighted, s.running, s.later, closeEnough)
		if err != nil {
			return plan.Count{}, fmt.Errorf("saw %s: %w", s.name, err)
		}
		sum = sum.And(c)
	}
	u.known[span] = sum
	return sum, nil
}
