package standing

import (
	"cmp"
	"maps"
	"slices"

	"gullet/analyze"
	"gullet/analyze/downtime"
	"gullet/analyze/shift"
)

// Options say what of the data a report is about.
type Options struct {
	From, To shift.Date // both included; weeks before it come from the data too
	Only     Only
	By       string      // "", saw, shift, weekday or grade
	Split    *shift.Date // compare the days before it with those from it on
}

// weeksShown are this week and those it stands beside.
const weeksShown = 5

// Since is the first date that a report needs the days of: those of the weeks before,
// too.
func (o *Options) Since() shift.Date {
	monday := mondayOf(o.To).Add(-7 * (weeksShown - 1))
	if monday.Before(o.From) {
		return monday
	}
	return o.From
}

// mondayOf is the first day of the date's week (ISO 8601).
func mondayOf(d shift.Date) shift.Date { return d.Add(-(int(d.Weekday()) + 6) % 7) }

// Build makes the report. The data must have events, and reach back to Since.
func Build(d *Data, o Options) *Report {
	b := &builder{data: d, options: o, report: &Report{
		MadeAt: d.Now, From: o.From.String(), To: o.To.String(), Zone: d.zone().String(), Only: o.Only, Doubts: []string{},
	}}
	b.pareto()
	b.report.By = b.grouping()
	b.report.Weeks = b.weeks()
	b.long()
	b.blades()
	b.saws()
	b.recurrence()
	b.split()
	b.doubts()
	return b.report
}

type builder struct {
	data    *Data
	options Options
	report  *Report
}

// days goes through the days of a span of dates, of the saws that are asked for.
func (b *builder) days(from, to shift.Date, f func(saw string, day *downtime.Day)) {
	for i := range b.data.Saws {
		s := &b.data.Saws[i]
		if b.options.Only.Saw != "" && s.Name != b.options.Only.Saw {
			continue
		}
		for k := range s.Days {
			if date := s.Days[k].Date; !date.Before(from) && !to.Before(date) {
				f(s.Name, &s.Days[k])
			}
		}
	}
}

// of reports whether a shift is asked for.
func (b *builder) of(name string) bool {
	return b.options.Only.Shift == "" || b.options.Only.Shift == name
}

// counted is the cause under which a stop counts as an event; ok is false for one that
// belongs to another, and for one outside of working time.
func counted(s *downtime.DayStop) (c analyze.Cause, ok bool) {
	if !s.Own() || s.Worked <= 0 {
		return "", false
	}
	if s.Minor {
		return downtime.Minor, true
	}
	return s.Cause, true
}

// tally is time and stops by cause, of some elements.
type tally struct {
	meanings downtime.Meanings
	elements []downtime.Element
	by       map[analyze.Cause]*Minutes
}

// stood is a tally of what the saws stood for that nobody planned.
func (b *builder) stood() *tally { return b.tally(downtime.Delay, downtime.Down) }

func (b *builder) tally(elements ...downtime.Element) *tally {
	return &tally{meanings: b.data.Rules.Meanings, elements: elements, by: map[analyze.Cause]*Minutes{}}
}

func (t *tally) of(c analyze.Cause) *Minutes {
	if t.by[c] == nil {
		t.by[c] = &Minutes{}
	}
	return t.by[c]
}

// time takes what is of the tally's elements: not the handling between cuts, and not
// what the calendar closes.
func (t *tally) time(e *downtime.Time) {
	if slices.Contains(t.elements, e.Element) && e.Cause != downtime.BetweenCuts && e.Cause != downtime.ClosedDown {
		t.of(e.Cause).Minutes += e.Took.Minutes()
	}
}

func (t *tally) stop(s *downtime.DayStop) {
	if c, ok := counted(s); ok && slices.Contains(t.elements, t.meaning(c).Element) {
		t.of(c).Count++
	}
}

func (t *tally) meaning(c analyze.Cause) downtime.Meaning {
	if c == downtime.Minor {
		return downtime.Meaning{Cause: c, Element: downtime.Down, Group: "minor"}
	}
	return t.meanings.Of(c)
}

func (t *tally) sum() (all Minutes) {
	for _, c := range slices.Sorted(maps.Keys(t.by)) {
		all.Minutes += t.by[c].Minutes
		all.Count += t.by[c].Count
	}
	return all
}

// causes lists them by minutes, with their share of the whole.
func (t *tally) causes() []Cause {
	whole := t.sum()
	list := []Cause{}
	for c, m := range t.by {
		if m.Minutes == 0 && m.Count == 0 {
			continue
		}
		meaning := t.meaning(c)
		list = append(list, Cause{
			Cause: c, Element: meaning.Element, Group: meaning.Group,
			Minutes: m.Minutes, Count: m.Count, Share: share(m.Minutes, whole.Minutes),
		})
	}
	slices.SortFunc(list, func(a, b Cause) int { return cmp.Or(cmp.Compare(b.Count, a.Count), cmp.Compare(a.Cause, b.Cause)) })
	for i := range list {
		list[i].ByCount = i + 1
		if i > 0 && list[i].Count == list[i-1].Count {
			list[i].ByCount = list[i-1].ByCount
		}
	}
	slices.SortStableFunc(list, func(a, b Cause) int { return cmp.Compare(b.Minutes, a.Minutes) })
	return list
}

func share(part, whole float64) *float64 {
	if !(whole > 0) {
		return nil
	}
	s := part / whole
	return &s
}

func (b *builder) pareto() {
	t, planned := b.stood(), b.tally(downtime.Setup, downtime.PlannedDown)
	b.days(b.options.From, b.options.To, func(_ string, day *downtime.Day) { b.add(day, t, planned) })
	r := b.report
	r.Pareto, r.Standing, r.Planned = t.causes(), t.sum(), planned.causes()
	none := t.of(downtime.Unexplained)
	r.Unexplained = Unexplained{none.Minutes, none.Count, share(none.Minutes, r.Standing.Minutes)}
}

// add puts a day's time and stops to tallies.
func (b *builder) add(day *downtime.Day, tallies ...*tally) {
	for i := range day.Times {
		if b.of(day.Times[i].Shift) {
			for _, t := range tallies {
				t.time(&day.Times[i])
			}
		}
	}
	for i := range day.Stops {
		if b.of(day.Stops[i].Shift) {
			for _, t := range tallies {
				t.stop(&day.Stops[i])
			}
		}
	}
}

// week sums up one week, up to the last day of the report.
func (b *builder) week(monday shift.Date) Week {
	last := monday.Add(6)
	w := Week{From: monday.String(), ByCause: map[analyze.Cause]float64{}}
	if b.options.To.Before(last) {
		last = b.options.To
	}
	w.To = last.String()
	t := b.stood()
	heard := false
	w.Complete = last == monday.Add(6) && !b.joined(monday, last)
	b.days(monday, last, func(saw string, day *downtime.Day) {
		heard = true
		b.add(day, t)
		for i := range day.Times {
			if e := &day.Times[i]; b.of(e.Shift) && busy(e.Element) {
				w.Planned += e.Took.Minutes()
			}
		}
		w.Complete = w.Complete && day.To < downtime.MomentOf(b.data.Now)
	})
	w.Complete = w.Complete && heard
	w.Standing, w.Unexplained = t.sum(), t.of(downtime.Unexplained).Minutes
	if w.Planned > 0 {
		rate := 60 * w.Standing.Minutes / w.Planned
		w.Rate = &rate
		for c, m := range t.by {
			w.ByCause[c] = 60 * m.Minutes / w.Planned
		}
	}
	return w
}

// joined reports whether a saw that is asked for was heard of for the first time within
// some days, when working time of them had passed.
func (b *builder) joined(from, to shift.Date) bool {
	return slices.ContainsFunc(b.data.Saws, func(s Saw) bool {
		asked := b.options.Only.Saw == "" || b.options.Only.Saw == s.Name
		if !asked || len(s.Days) == 0 || to.Before(s.Days[0].Date) {
			return false
		}
		return b.data.Calendar.Worked(s.Name, b.begin(&s, from).Time(), s.Days[0].From.Time()) > 0
	})
}

// busy reports whether an element belongs to the planned busy time.
func busy(e downtime.Element) bool {
	switch e {
	case downtime.Production, downtime.Setup, downtime.Delay, downtime.Down:
		return true
	}
	return false
}

func (b *builder) weeks() []Week {
	list := []Week{}
	for i := range weeksShown {
		list = append(list, b.week(mondayOf(b.options.To).Add(-7*i)))
	}
	return list
}

// longShown bounds the list of long stops.
const longShown = 20

// long lists the longest stops that nobody planned, each with what belongs to it.
func (b *builder) long() {
	r := b.report
	r.Long, r.LongFrom = []Stop{}, b.data.Config.Downtime.Long.Minutes()
	for _, s := range b.events() {
		if (s.Element == downtime.Delay || s.Element == downtime.Down) && s.Minutes >= r.LongFrom {
			r.LongInAll++
			r.LongMinutes += s.Minutes
			r.Long = append(r.Long, s)
		}
	}
	slices.SortStableFunc(r.Long, func(a, b Stop) int { return cmp.Or(cmp.Compare(b.Minutes, a.Minutes), a.From.Compare(b.From)) })
	r.Long = r.Long[:min(longShown, len(r.Long))]
	b.suggest(r.Long)
}

// events are the stops that are events of their own and begin in the time of the report,
// with the minutes of those that belong to them: a break with its change and restarts.
func (b *builder) events() []Stop {
	list := []Stop{}
	saw, at := "", map[downtime.Moment]int{}
	b.days(b.options.From, b.options.To, func(name string, day *downtime.Day) {
		if name != saw {
			saw, at = name, map[downtime.Moment]int{}
		}
		for k := range day.Stops {
			s := &day.Stops[k]
			if i, ok := at[s.Parent]; ok {
				list[i].Minutes += s.Worked.Minutes()
				list[i].To, list[i].Open = s.To.Time().In(b.data.zone()), s.Open
			} else if s.Own() && b.of(s.Shift) {
				at[s.From] = len(list)
				list = append(list, b.stop(name, s))
			}
		}
	})
	return list
}

func (b *builder) stop(saw string, s *downtime.DayStop) Stop {
	return Stop{
		Saw: saw, From: s.From.Time().In(b.data.zone()), To: s.To.Time().In(b.data.zone()), Open: s.Open,
		Minutes: s.Worked.Minutes(), Cause: s.Cause, Told: s.Told, Element: b.data.Rules.Meanings.Of(s.Cause).Element,
		Shift: s.Shift, Grade: s.Grade, Explained: s.Explained,
	}
}

// blades sums up what blades cost in standing time.
func (b *builder) blades() {
	t := b.tally(downtime.Setup, downtime.Delay, downtime.Down, downtime.PlannedDown)
	out := &b.report.Blades
	b.days(b.options.From, b.options.To, func(_ string, day *downtime.Day) {
		b.add(day, t)
		for i := range day.Work {
			if w := &day.Work[i]; b.of(w.Shift) {
				out.Area += w.Area
				out.Unknown += w.AreaUnknown
			}
		}
	})
	out.Changes, out.Pulls, out.Breaks, out.Trips = *t.of("blade-change"), *t.of(downtime.BladePull), *t.of("blade-break"), *t.of("deviation-trip")
	all := out.Changes.Minutes + out.Pulls.Minutes + out.Breaks.Minutes + out.Trips.Minutes
	switch {
	case !(out.Area > 0):
		out.WhyPer = "no area was cut that is known"
	default:
		per := 1000 * all / out.Area
		out.Per1000 = &per
	}
}
