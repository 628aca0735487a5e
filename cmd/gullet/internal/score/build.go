package score

import (
	"fmt"
	"math"
	"time"

	"gullet/analyze/plan"
	"gullet/cmd/gullet/internal/figures"
	"gullet/store"
)

// limits says how they were made.
var limits = fmt.Sprintf("95 %%, over blades; null with fewer than %d blades", plan.FewestGroups)

// seed makes the limits of the same forecasts the same.
const seed = 1

// scored is a forecast with what came.
type scored struct {
	*store.ForecastRow
	fate   fate
	rivals rivals
}

// study is the data put together.
type study struct {
	*Data
	blades  map[string][]*store.FittingRow
	scored  []scored
	leftOut int
}

func newStudy(d *Data) *study {
	s := &study{Data: d, blades: d.blades()}
	rivals := known(d.Forecasts, pasts(d.Lives, s.blades))
	for i := range d.Forecasts {
		f := &d.Forecasts[i]
		fate, ok := d.fate(f, s.blades[f.Serial])
		if !ok {
			s.leftOut++
			continue
		}
		s.scored = append(s.scored, scored{f, fate, rivals[i]})
	}
	return s
}

// Build holds the forecasts against what came. It fails on a window that does not rise.
func Build(d *Data) (*Report, error) {
	r := &Report{
		MadeAt: d.Now.UTC(), Since: d.since().UTC(), Days: d.Days, Unit: "weighted in2", Limits: limits, Currency: d.Config.Shop.Currency,
		Doubts: []string{},
	}
	if len(d.Forecasts) == 0 {
		r.Why = nothingKept(d.Days)
		return r, nil
	}
	s := newStudy(d)
	r.Forecasts, r.Blades, r.LeftOut = len(s.scored), s.foretold(), s.leftOut
	var err error
	if r.Coverage, err = s.coverage(); err != nil {
		return nil, err
	}
	if r.Pinball, r.WhyPinball, err = s.pinball(); err != nil {
		return nil, err
	}
	if r.Shift, r.WhyShift, err = s.shift(); err != nil {
		return nil, err
	}
	changes := s.changes()
	r.Ends = s.ends(changes)
	r.Early = s.early(changes)
	r.Money = s.money(changes)
	r.Doubts = append(r.Doubts, s.doubts()...)
	return r, nil
}

// nothingKept says how forecasts come to be kept.
func nothingKept(days int) string {
	return fmt.Sprintf("no forecast was kept in the last %d days: gullet plan keeps those it makes, and gullet run makes and keeps them when a shift begins", days)
}

// group sums up what each blade adds to a mean; count 0 adds nothing.
func (s *study) group(of func(f *scored) (sum, count float64)) []plan.Group {
	index, groups := map[string]int{}, []plan.Group(nil)
	for i := range s.scored {
		f := &s.scored[i]
		sum, count := of(f)
		if count == 0 {
			continue
		}
		k, ok := index[f.Serial]
		if !ok {
			k = len(groups)
			index[f.Serial] = k
			groups = append(groups, plan.Group{})
		}
		groups[k].Sum += sum
		groups[k].Count += count
	}
	return groups
}

// foretold is how many blades the forecasts are of.
func (s *study) foretold() int {
	return len(s.group(func(*scored) (float64, float64) { return 0, 1 }))
}

// meanOf is the mean over forecasts with its limits over blades.
func meanOf(groups []plan.Group) figures.Interval {
	low, high := plan.GroupMeanLimits(groups, seed)
	return figures.Limits(plan.GroupMean(groups), low, high)
}

// shareOf is the same of a share.
func shareOf(groups []plan.Group) figures.Interval {
	low, high := plan.GroupShareLimits(groups, seed)
	return figures.Limits(plan.GroupMean(groups), low, high)
}

// window is that of a forecast; false where it has no lower end.
func (f *scored) window() (plan.Window, bool) {
	end := func(q *float64) float64 {
		if q == nil {
			return math.Inf(1)
		}
		return *q
	}
	return plan.Window{Q10: end(f.Q10), Q50: end(f.Q50), Q90: end(f.Q90)}, f.Q10 != nil
}

// coverage counts how often the windows held. A forecast without a lower end tells
// nothing and is left undecided.
func (s *study) coverage() (*Coverage, error) {
	var failed error
	var all plan.Coverage
	none := 0
	groups := s.group(func(f *scored) (float64, float64) {
		w, ok := f.window()
		if !ok {
			none++
			return 0, 0
		}
		c, err := plan.Cover([]plan.Window{w}, []plan.Outcome{f.fate.outcome()})
		if err != nil {
			failed = fmt.Errorf("forecast of saw %s made at %s: %w", f.Saw, f.MadeAt.Format(time.RFC3339), err)
		}
		all.Inside += c.Inside
		all.Below += c.Below
		all.Above += c.Above
		all.Undecided += c.Undecided
		return float64(c.Inside), float64(c.Inside + c.Below + c.Above)
	})
	if failed != nil {
		return nil, failed
	}
	out := &Coverage{Inside: all.Inside, Below: all.Below, Above: all.Above, Undecided: all.Undecided + none, Blades: len(groups)}
	if n := float64(len(s.scored)); n > 0 {
		out.Worst, out.Best = float64(out.Inside)/n, float64(out.Inside+out.Undecided)/n
	}
	if len(groups) > 0 {
		share := shareOf(groups)
		out.Share, out.Allowed = &share, s.allowed()
	}
	return out, nil
}

// allowed is how often the windows held with the undecided allowed for; nil where too
// few outcomes got so far.
func (s *study) allowed() *figures.Interval {
	index, blades := map[string]int{}, []plan.Fates(nil)
	for i := range s.scored {
		f := &s.scored[i]
		w, ok := f.window()
		if !ok {
			continue
		}
		k, known := index[f.Serial]
		if !known {
			k = len(blades)
			index[f.Serial], blades = k, append(blades, nil)
		}
		blades[k].Add(w, f.fate.outcome())
	}
	share := plan.Allowed(blades).Inside
	if math.IsNaN(share) {
		return nil
	}
	low, high := plan.AllowedLimits(blades, seed)
	limits := figures.Limits(share, low, high)
	return &limits
}

// doubts is what a person should know of the forecasts.
func (s *study) doubts() (list []string) {
	if s.leftOut > 0 {
		list = append(list, figures.Plural(s.leftOut, "forecast is", "forecasts are")+" left out: the ledger has since been corrected on the blade, or readings that came late said that it was off already")
	}
	missing := 0
	for i := range s.scored {
		if s.scored[i].fate.unknown {
			missing++
		}
	}
	if missing > 0 {
		list = append(list, figures.Plural(missing, "forecast", "forecasts")+" count as not ended: what was cut since is not known in full, as passes came without their area")
	}
	return list
}
