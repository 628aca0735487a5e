package planning

import (
	"fmt"
	"math"

	"gullet/analyze/plan"
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
	usual := plan.Work{Usual: s.work.Usual}
	horizon := furthestLives * math.Max(s.blade.Weighted+s.forecast.Horizon, 100)
	fresh, err := plan.Combine(waysOf(in.Data.Lives.NewParts(s.blade.Type), &usual, true), horizon)
	if err != nil {
		l.why = err.Error()
		return l
	}
	l.fresh = fresh
	price, ok := Price(in.Config, s.blade.Type)
	switch {
	case !ok:
		l.why = fmt.Sprintf("the price of blade type %q is not configured (blade_type.price), so no change can be weighed", s.blade.Type)
		return l
	case in.Costs.SawHour+in.Costs.Scrap == 0:
		l.why = NoSawHour + ", so no change can be weighed"
		return l
	}
	l.planned, l.unplanned = in.Costs.of(price)
	best, err := plan.Replace(fresh.Left, horizon, l.planned, l.unplanned)
	if err != nil {
		l.why = err.Error()
		return l
	}
	l.best = &best
	return l
}

// Price is that of a blade type; false where it is not configured.
func Price(cfg *config.Config, kind string) (float64, bool) {
	t, ok := cfg.BladeTypeOf(kind)
	if !ok || t.Price == nil || !(*t.Price > 0) {
		return 0, false
	}
	return *t.Price, true
}
