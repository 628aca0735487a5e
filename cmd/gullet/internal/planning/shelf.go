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
	perHour        float64
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
	for _, kind := range slices.Sorted(maps.Keys(users)) {
		list = append(list, in.kind(kind, users[kind], why[kind]))
	}
	return list
}

// user is how a saw uses up blades: the one that is on until it is changed as
// advised, those after it at the best age.
func (in *Input) user(s *sawPlan) (user, error) {
	if s.left == nil {
		return user{}, fmt.Errorf("what its blade has left is unknown: %s", s.why+s.whyPace)
	}
	if s.later.fresh == nil {
		return user{}, errors.New(s.later.why)
	}
	u := user{
		name: s.name, perHour: s.work.Usual.Weighted,
		running: plan.Run{Survival: s.left.Left, Change: math.Inf(1)}, later: plan.Run{Survival: s.later.fresh.Left, Change: math.Inf(1)},
	}
	if best := s.later.best; best != nil { // where nobody knows when to change, each runs to its end
		u.later.Change = best.Age
		u.running.Change = math.Max(0, best.Age-s.blade.Weighted)
	}
	return u, nil
}

// kind is the shelf of one type.
func (in *Input) kind(kind string, users []user, why string) Shelf {
	out := Shelf{Type: kind, Needed: map[string]Use{}, Why: why, OnHand: in.onHand(kind)}
	if why != "" {
		return out
	}
	for _, days := range horizons {
		mean, chances, err := in.used(users, daysOf(days))
		if err != nil {
			out.Why = err.Error()
			return out
		}
		out.Needed[fmt.Sprintf("%dd", days)] = Use{Mean: mean, Q50: quantile(chances, 0.5), Safe: quantile(chances, in.Costs.Service)}
	}
	_, chances, err := in.used(users, in.Costs.Lead)
	if err != nil {
		out.Why = err.Error()
		return out
	}
	point := quantile(chances, in.Costs.Service)
	out.Reorder = &point
	out.OrderBy = in.orderBy(users, out.OnHand)
	return out
}

// orderBy is the last day on which an order still comes in time: what is on hand
// lasts over the lead time from then on with the chance of the service level. It is
// nil where that lies more than four weeks ahead or the shelf is not known.
func (in *Input) orderBy(users []user, onHand *int) *time.Time {
	if onHand == nil {
		return nil
	}
	last := horizons[len(horizons)-1]
	day := sort.Search(last+1, func(day int) bool {
		_, chances, err := in.used(users, in.Costs.Lead+daysOf(day))
		return err != nil || quantile(chances, in.Costs.Service) > *onHand
	})
	if day > last {
		return nil
	}
	at := in.Now.Add(daysOf(max(0, day-1))).UTC()
	return &at
}

// used is how many blades the saws together use up over a time: the mean, and the
// chance of exactly k.
func (in *Input) used(users []user, span time.Duration) (mean float64, chances []float64, err error) {
	chances = []float64{1}
	for _, u := range users {
		hours := in.Calendar.Worked(u.name, in.Now, in.Now.Add(span)).Hours()
		c, err := plan.Renewals(u.perHour*hours, u.running, u.later)
		if err != nil {
			return 0, nil, fmt.Errorf("saw %s: %w", u.name, err)
		}
		mean += c.Mean
		chances = fold(chances, c.AtMost)
	}
	return mean, chances, nil
}

// fold adds an independent count, told by the chances of at most k.
func fold(chances, atMost []float64) []float64 {
	out := make([]float64, len(chances)+len(atMost)-1)
	before := 0.0
	for k, p := range atMost {
		for i, q := range chances {
			out[i+k] += q * math.Max(0, p-before)
		}
		before = p
	}
	return out
}

// quantile is the least k that is not exceeded with a chance.
func quantile(chances []float64, level float64) int {
	sum := 0.0
	for k, p := range chances {
		if sum += p; sum >= level-1e-12 {
			return k
		}
	}
	return len(chances) - 1
}
