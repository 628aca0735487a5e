package planning

import (
	"fmt"
	"math"

	"gullet/analyze/plan"
	"gullet/cmd/gullet/internal/lives"
	"gullet/config"
)

// NoSawHour says why nothing can be said of money.
const NoSawHour = "what a standing saw costs is not configured (plan.saw_hour)"

// later is how the blades after the one that is on are best run.
type later struct {
	fresh              *plan.Combined    // what a new one lasts on the saw's usual work; nil: not known
	best               *plan.Replacement // nil: not weighed
	why                string            // why not
	planned, unplanned float64           // cost of a change
}

// later looks at new blades of the type that is on.
func (in *Input) later(s *sawPlan) (l later) {
	horizon := Furthest(s.blade.Weighted + s.forecast.Horizon)
	fresh, err := Fresh(in.Data.Lives.NewParts(s.blade.Type), s.work.Usual, horizon)
	if err != nil {
		l.why = err.Error()
		return l
	}
	l.fresh = fresh
	if l.planned, l.unplanned, l.why = in.Costs.Of(in.Config, s.blade.Type); l.why != "" {
		return l
	}
	best, err := plan.Replace(fresh.Left, horizon, l.planned, l.unplanned)
	if err != nil {
		l.why = err.Error()
		return l
	}
	l.best = &best
	return l
}

// Furthest is how far blades of a type are looked at, in weighted in², of which the
// longest cut so much.
func Furthest(longest float64) float64 { return furthestLives * math.Max(longest, 100) }

// Fresh is what a new blade lasts on the usual work of a saw, by the ways in which
// blades of its type end.
func Fresh(parts []lives.Part, usual plan.Leg, furthest float64) (*plan.Combined, error) {
	work := plan.Work{Usual: usual}
	return plan.Combine(waysOf(parts, &work, true), furthest)
}

// Sound is what a new blade lasts whose deviation is followed: without the pulls for
// crooked cuts, whose place that takes. It is nil where blades of its type end in no
// other way.
func Sound(parts []lives.Part, usual plan.Leg, furthest float64) (*plan.Combined, error) {
	work := plan.Work{Usual: usual}
	ways := waysOf(parts, &work, false)
	if len(ways) == 0 {
		return nil, nil
	}
	return plan.Combine(ways, furthest)
}

// Of is what a planned and an unplanned change of a blade type cost, or why no change
// of it can be weighed.
func (c *Costs) Of(cfg *config.Config, kind string) (planned, unplanned float64, why string) {
	price, ok := Price(cfg, kind)
	switch {
	case !ok:
		return 0, 0, fmt.Sprintf("the price of blade type %q is not configured (blade_type.price), so no change can be weighed", kind)
	case c.SawHour+c.Scrap == 0:
		return 0, 0, NoSawHour + ", so no change can be weighed"
	}
	planned, unplanned = c.of(price)
	return planned, unplanned, ""
}

// Price is that of a blade type; false where it is not configured.
func Price(cfg *config.Config, kind string) (float64, bool) {
	t, ok := cfg.BladeTypeOf(kind)
	if !ok || t.Price == nil || !(*t.Price > 0) {
		return 0, false
	}
	return *t.Price, true
}
