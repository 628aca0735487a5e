package planning

import (
	"fmt"
	"math"
	"slices"
	"sync"
	"time"

	"gullet/analyze"
	"gullet/analyze/deviation"
	"gullet/analyze/plan"
	"gullet/analyze/shift"
	"gullet/cmd/gullet/internal/figures"
	"gullet/cmd/gullet/internal/lives"
	"gullet/cmd/gullet/internal/trend"
	"gullet/config"
)

// Costs is what a change costs, in the shop's currency.
type Costs struct {
	SawHour   float64 // of a saw that stands
	Planned   float64 // min of a planned change
	Unplanned float64 // min of one after an end
	Scrap     float64 // of what is lost when a blade ends in the cut
	Late      float64 // of a job that is late by a change
	Risk      float64 // target chance of an end before the change; 0: by cost
	Service   float64 // chance that the shelf lasts
	Lead      time.Duration
	Fitter    time.Duration // for blade changes in a shift
}

// of is what a planned and an unplanned change of a blade cost.
func (c *Costs) of(price float64) (planned, unplanned float64) {
	return price + c.SawHour*c.Planned/60, price + c.SawHour*c.Unplanned/60 + c.Scrap
}

// Input is what a plan is made from.
type Input struct {
	Now      time.Time
	Days     int
	Config   *config.Config
	Calendar *shift.Calendar
	Costs    Costs
	Data     *trend.Data
	Jobs     []Coming
	OnHand   map[string]int // by type; a type that is not there is unknown
}

// sawPlan is one saw while its plan is made.
type sawPlan struct {
	name     string
	saw      *trend.Saw
	trend    *deviation.Trend
	cuts     map[string]bool // grades it has cut of late
	pace     pace
	work     plan.Work
	coming   []*Coming // the jobs of work, parallel
	hours    float64
	whyPace  string
	forecast *lives.Forecast
	blade    *lives.Blade
	why      string // why nobody can say what is left
	left     *plan.Combined
	later    later  // known where left is
	choice   choice // where a change is advised
}

// Build makes the plan.
func Build(in *Input) *Report {
	r := &Report{
		MadeAt: in.Now.UTC(), Days: in.Days, Zone: in.Config.Shop.Zone, Unit: "in2", Currency: in.Config.Shop.Currency, Service: in.Costs.Service, Lead: in.Costs.Lead.Hours(),
		Saws: []Saw{}, Shelf: []Shelf{}, Loose: []string{}, Doubts: append([]string{}, in.Data.Doubts...),
	}
	trends := trend.Trends(in.Data)
	if in.Calendar.IsDefault() {
		in.Calendar = Seen(in.Calendar, in.Data, in.Now)
		r.Doubts = append(r.Doubts, "no [[shift]] is configured: the shifts are those in which the saws cut in half of the last four weeks at least")
	}
	saws := make([]*sawPlan, len(in.Data.Saws))
	beside(len(saws), func(i int) { saws[i] = in.saw(&in.Data.Saws[i], &trends[i]) })
	r.Loose = append(r.Loose, place(in.Jobs, saws, in.Data.Lives)...)
	r.Saws = slices.Grow(r.Saws, len(saws))[:len(saws)]
	beside(len(saws), func(i int) {
		in.combine(saws[i])
		r.Saws[i] = in.answer(saws[i])
	})
	r.Shifts = append([]Load{}, in.level(saws, r.Saws)...)
	for _, l := range r.Shifts {
		if l.Over {
			r.Doubts = append(r.Doubts, fmt.Sprintf("%s fall in %s, more than one fitter has time for (plan.fitter), and no other shift of the plan has room", figures.Plural(len(l.Saws), "change", "changes"), l.Shift))
		}
	}
	r.Shelf = append(r.Shelf, in.shelf(saws)...)
	return r
}

// beside does something for so many saws or types, beside each other.
func beside(n int, do func(i int)) {
	var all sync.WaitGroup
	for i := range n {
		all.Go(func() { do(i) })
	}
	all.Wait()
}

// saw looks up what a saw cuts in an hour, and its blade.
func (in *Input) saw(s *trend.Saw, t *deviation.Trend) *sawPlan {
	out := &sawPlan{name: s.Name, saw: s, trend: t, cuts: map[string]bool{}}
	for _, f := range s.Fittings[max(0, len(s.Fittings)-3):] {
		for i := range f.Cuts {
			out.cuts[f.Cuts[i].Grade] = true
		}
	}
	in.pace(out)
	rows := in.Data.Lives.On(s.Name)
	switch len(rows) {
	case 0:
		out.why = "no blade is known to be on the saw"
	case 1:
		out.blade = in.Data.Lives.Of(rows[0])
		out.forecast, out.why = in.Data.Lives.Forecast(rows[0], in.Now)
	default:
		out.why = "the saws say that more than one blade is on it: correct the ledger (gullet correct)"
	}
	return out
}

// PaceDays is how far back a saw's pace is looked at.
const PaceDays = 30

// pace is what the saw makes of an hour of work, from the shifts of the last days in
// which it cut.
func (in *Input) pace(s *sawPlan) {
	u := in.Data.Lives.Usual(s.name, in.Now)
	from := in.Now.AddDate(0, 0, -PaceDays)
	area, weighted, seconds, hours := 0.0, 0.0, 0.0, 0.0
	turns := in.Calendar.Turns(s.name, from, in.Now)
	for k := range s.saw.Fittings {
		f := &s.saw.Fittings[k]
		for i := range f.Cuts {
			c := &f.Cuts[i]
			if c.At.Before(from) || math.IsNaN(c.Face) {
				continue
			}
			area += c.Face
			weighted += c.Area - c.From
			if !math.IsNaN(c.Seconds) {
				seconds += c.Seconds
			}
		}
	}
	for i, worked := range workedTurns(s.saw, turns) {
		if worked {
			hours += turns[i].Worked.Hours()
		}
	}
	if !(hours > 0 && weighted > 0) {
		s.whyPace = "the saw cut nothing in the shifts of the last 30 days"
		return
	}
	s.pace = pace{
		usual: plan.Leg{Area: area / hours, Weighted: weighted / hours, Bends: area / hours * u.Bends, Hours: 1},
		share: math.Min(1, seconds/3600/hours),
		rate:  in.rates(s),
	}
	s.work.Usual = s.pace.usual
}

// rates are in²/min by grade and size as the saw cuts them, else as configured.
func (in *Input) rates(s *sawPlan) func(string, float64) (float64, bool) {
	return func(grade string, face float64) (float64, bool) {
		if s.trend.Standard != nil {
			if rate, ok := s.trend.Standard.Rate(grade, face); ok {
				return rate, true
			}
		}
		g, ok := in.Config.GradeOf(grade)
		return g.Rate, ok && g.Rate > 0
	}
}

// furthestLives is how far a blade is looked at, in times the longest of its type.
const furthestLives = 4

// combine puts the ways in which the blade may end together along the coming work.
func (in *Input) combine(s *sawPlan) {
	if s.forecast == nil || s.whyPace != "" {
		return
	}
	parts := in.Data.Lives.Parts(s.forecast, s.blade)
	ways := waysOf(parts, &s.work, s.trend.Outlook == nil)
	if o := s.trend.Outlook; o != nil {
		ways = append(ways, FirstTrip(o))
	}
	furthest := Furthest(s.blade.Weighted + s.forecast.Horizon)
	left, err := plan.Combine(ways, furthest)
	if err != nil {
		s.why = err.Error()
		return
	}
	s.left = left
	s.later = in.later(s)
}

// causeDeviation is the first trip of a blade whose deviation is followed.
const causeDeviation = "deviation"

// FirstTrip is the way in which a blade that is followed comes to trip.
func FirstTrip(o *deviation.Outlook) plan.Way {
	return plan.Way{Cause: causeDeviation, Left: func(area float64) float64 {
		if area <= 0 {
			return 1 // a level that may be at the limit already has not stopped the saw yet
		}
		return 1 - o.Chance(area)
	}}
}

// waysOf are the ways of a blade on weighted area along some work. Without crooked
// the blades pulled for their deviation are left out, whose place the deviation of
// this very blade takes.
func waysOf(parts []lives.Part, work *plan.Work, crooked bool) (ways []plan.Way) {
	for _, p := range parts {
		if p.Cause == analyze.ReasonCrooked && !crooked {
			continue
		}
		name := string(p.Cause)
		if name == "" {
			name = "all ways together"
			if len(parts) > 1 {
				name = "rare ways together"
			}
		}
		ways = append(ways, plan.Way{Cause: name, Left: func(area float64) float64 {
			return p.Survives(area, work.At(area).Bends)
		}})
	}
	return ways
}

// answer is the plan of a saw as people are told it.
func (in *Input) answer(s *sawPlan) Saw {
	out := Saw{Saw: s.name, Fitting: in.fitting(s), Next: in.nextShift(s), Drivers: []Driver{}, Jobs: []Job{}, Findings: findings(s.trend.Findings), Why: s.why}
	if s.blade != nil {
		out.Blade, out.Type, out.Area, out.Weighted = s.blade.Serial, s.blade.Type, &s.blade.Area, &s.blade.Weighted
	}
	if s.why == "" {
		out.Why = s.whyPace
	}
	if s.left == nil {
		out.WhyNone = out.Why
		in.jobs(s, &out)
		return out
	}
	out.Window, out.Basis = in.window(s), s.basis()
	for i, share := range s.left.Shares(s.left.Quantile(0.9)) {
		out.Drivers = append(out.Drivers, Driver{s.left.Causes[i], share})
	}
	slices.SortStableFunc(out.Drivers, func(a, b Driver) int {
		switch {
		case a.Share > b.Share:
			return -1
		case a.Share < b.Share:
			return 1
		}
		return 0
	})
	in.jobs(s, &out)
	in.advise(s, &out)
	return out
}

// basis is what the window of a saw rests on.
func (s *sawPlan) basis() string {
	f := s.forecast
	text := fmt.Sprintf("%s of its type, %d of them ended", figures.Plural(f.Blades, "blade", "blades"), f.Ended)
	if f.Borrowed {
		text += " (too few: the shape is that of blades of all types)"
	}
	if s.trend.Outlook == nil {
		return text + "; its deviation is not followed: " + s.trend.WhyReach
	}
	text += fmt.Sprintf("; its deviation, to the first trip, from %s", figures.Plural(s.trend.Readings, "reading", "readings"))
	if s.trend.Pool != nil {
		text += fmt.Sprintf(" and those of %s before it", figures.Plural(s.trend.Pool.Blades, "blade", "blades"))
	}
	return text
}

func (in *Input) window(s *sawPlan) *Windows {
	w := &Windows{}
	set := func(chance float64, weighted, area **float64, at **time.Time) {
		q := s.left.Quantile(chance)
		*weighted = figures.Finite(q)
		if math.IsInf(q, 0) {
			return
		}
		p := s.work.At(q)
		*area = figures.Finite(p.Area)
		*at = in.at(s, p)
	}
	set(0.1, &w.Weighted.Q10, &w.Area.Q10, &w.Time.Q10)
	set(0.5, &w.Weighted.Q50, &w.Area.Q50, &w.Time.Q50)
	set(0.9, &w.Weighted.Q90, &w.Area.Q90, &w.Time.Q90)
	return w
}

// at is when a place of the work is reached, nil where the calendar does not go so
// far.
func (in *Input) at(s *sawPlan, p plan.Place) *time.Time {
	if math.IsNaN(p.Hours) || p.Hours > 1e5 {
		return nil
	}
	t, ok := in.Calendar.After(s.name, in.Now, time.Duration(p.Hours*float64(time.Hour)))
	if !ok {
		return nil
	}
	t = t.UTC()
	return &t
}

// jobs tells of each coming job when it ends and with what odds the blade that is on
// finishes it.
func (in *Input) jobs(s *sawPlan, out *Saw) {
	starts := s.work.Starts()
	for i, l := range s.work.Jobs {
		end := starts[i+1]
		j := Job{Job: l.Job, Area: l.Area, Weighted: l.Weighted, Hours: l.Hours, Ends: in.at(s, end)}
		if s.left != nil {
			odds := s.left.Left(end.Weighted)
			j.Odds = &odds
		}
		if due := s.coming[i].Due; !due.IsZero() {
			due = due.UTC()
			j.Due, j.Tight = &due, in.tight(s, i, end, in.Costs.Unplanned)
		}
		j.Teeth = in.teeth(s, s.coming[i])
		out.Jobs = append(out.Jobs, j)
	}
}
