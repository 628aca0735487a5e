package standing

import (
	"math"
	"slices"

	"gullet/analyze/downtime"
	"gullet/analyze/shift"
	"gullet/cmd/gullet/internal/figures"
)

// tripRun is the operating time in minutes after a trip within which another counts to
// it: trips of one cause come in runs, and tests take events as independent. An hour is
// common practice for a cut or two and their handling.
const tripRun = 60

// runs are the first of each run of events, which are in order.
func runs(at []float64) []float64 {
	var first []float64
	for i := range at {
		if i == 0 || at[i]-at[i-1] > tripRun {
			first = append(first, at[i])
		}
	}
	return first
}

// Contrast is how often something happens on each saw beside all the others.
type Contrast struct {
	What string        `json:"what"` // failures, or runs of trips
	Saws []ContrastSaw `json:"saws"`
}

// ContrastSaw is one saw of a comparison.
type ContrastSaw struct {
	Saw     string                   `json:"saw"`
	Events  int                      `json:"events"`
	Hours   float64                  `json:"hours"` // of operating time
	Ratio   Figure                   `json:"ratio"` // of its rate to that of the others
	P       *float64                 `json:"p"`     // corrected for looking at every saw
	Verdict downtime.ContrastVerdict `json:"verdict"`
	Why     string                   `json:"why,omitempty"`
}

// contrasts compares the saws.
func (b *builder) contrasts(names []string, records []*record) {
	b.report.Contrasts = []Contrast{}
	if len(records) < 2 {
		return
	}
	for _, what := range []struct {
		name string
		of   func(*record) []float64
	}{{"failures", func(r *record) []float64 { return r.failures }}, {"runs of trips", func(r *record) []float64 { return runs(r.trips) }}} {
		groups := make([]downtime.Group, len(records))
		for i, r := range records {
			groups[i] = downtime.Group{Events: len(what.of(r)), Exposure: r.operated / 60}
		}
		list, err := downtime.ContrastEach(groups, level)
		if err != nil {
			b.report.Doubts = append(b.report.Doubts, what.name+" are not compared: "+err.Error())
			continue
		}
		c := Contrast{What: what.name}
		for i := range list {
			c.Saws = append(c.Saws, contrastSaw(names[i], groups[i], &list[i]))
		}
		b.report.Contrasts = append(b.report.Contrasts, c)
	}
}

func contrastSaw(name string, g downtime.Group, c *downtime.Contrast) ContrastSaw {
	return ContrastSaw{
		Saw: name, Events: g.Events, Hours: g.Exposure, Ratio: figure(c.Ratio), P: figures.Finite(c.P), Verdict: c.Verdict, Why: c.Why,
	}
}

// Split is the days before a date beside those from it on.
type Split struct {
	Date string      `json:"date"`
	Rows []SplitSide `json:"rows"`
}

// SplitSide is how often one thing happened on either side.
type SplitSide struct {
	What    string                   `json:"what"`
	Before  Rate                     `json:"before"`
	After   Rate                     `json:"after"`
	Ratio   Figure                   `json:"ratio"` // of the rate after to that before
	P       *float64                 `json:"p"`
	Verdict downtime.ContrastVerdict `json:"verdict"` // of the rate after
	Why     string                   `json:"why,omitempty"`
}

// Rate is events over hours of operating time.
type Rate struct {
	Events int     `json:"events"`
	Hours  float64 `json:"hours"`
	Per100 Figure  `json:"per_100_hours"`
}

// split compares before and after a date, of all saws asked for together.
func (b *builder) split() {
	if b.options.Split == nil {
		return
	}
	out := &Split{Date: b.options.Split.String(), Rows: []SplitSide{}}
	before := b.side(b.options.From, b.options.Split.Add(-1))
	after := b.side(*b.options.Split, b.options.To)
	for i, what := range []string{"unplanned stops, minor ones too", "failures", "runs of trips", "breaks"} {
		x := downtime.Group{Events: before.events[i], Exposure: before.hours}
		y := downtime.Group{Events: after.events[i], Exposure: after.hours}
		c, err := downtime.ContrastRates(x, y, level)
		if err != nil {
			b.report.Doubts = append(b.report.Doubts, what+" are not compared: "+err.Error())
			continue
		}
		out.Rows = append(out.Rows, SplitSide{
			What: what, Before: rateOf(x), After: rateOf(y), Ratio: figure(c.Ratio), P: figures.Finite(c.P), Verdict: c.Verdict, Why: c.Why,
		})
	}
	b.report.Split = out
}

func rateOf(g downtime.Group) Rate {
	r := Rate{Events: g.Events, Hours: g.Exposure}
	e, err := downtime.Group{Events: g.Events, Exposure: g.Exposure / 100}.Rate(level)
	if err != nil {
		r.Per100.Why = err.Error()
		return r
	}
	r.Per100 = figure(e)
	return r
}

// sideOf is what happened on one side of a date, on all saws asked for.
type sideOf struct {
	hours  float64
	events [4]int
}

func (b *builder) side(from, to shift.Date) sideOf {
	var s sideOf
	for i := range b.data.Saws {
		name, r, t := b.data.Saws[i].Name, &record{}, b.stood()
		b.days(from, to, func(saw string, day *downtime.Day) {
			if saw == name {
				b.recordDay(r, day)
				b.add(day, t)
			}
		})
		s.hours += r.operated / 60
		for k, n := range []int{t.sum().Count, len(r.failures), len(runs(r.trips)), len(r.breaks)} {
			s.events[k] += n
		}
	}
	return s
}

// Recurrence is how many trips and breaks a blade has had by the area it has cut.
type Recurrence struct {
	Blades int             `json:"blades"` // fitted in the time; those that hung before it are not in
	Trips  []RecurrenceRow `json:"trips"`
	Breaks []RecurrenceRow `json:"breaks"`
	Why    string          `json:"why,omitempty"`
}

// RecurrenceRow is the mean count over the blades by one area.
type RecurrenceRow struct {
	Area   float64 `json:"area"` // in²
	Count  Figure  `json:"count"`
	AtRisk int     `json:"at_risk"` // blades that were watched there
}

// recurrenceRows is about how many areas are told.
const recurrenceRows = 5

// recurrence follows each blade that was fitted in the time, on its area.
func (b *builder) recurrence() {
	out := &b.report.Recurrence
	out.Trips, out.Breaks = []RecurrenceRow{}, []RecurrenceRow{}
	var trips, breaks []downtime.History
	for i := range b.data.Saws {
		w := bladeWatch{}
		name := b.data.Saws[i].Name
		b.days(b.options.From, b.options.To, func(saw string, day *downtime.Day) {
			if saw == name {
				w.day(day)
			}
		})
		w.off(w.area)
		trips, breaks = append(trips, w.trips...), append(breaks, w.breaks...)
	}
	if out.Blades = len(trips); out.Blades == 0 {
		out.Why = "no blade was fitted and used in this time"
		return
	}
	out.Trips, out.Breaks = recurrenceOf(trips), recurrenceOf(breaks)
}

// bladeWatch follows the blades of one saw.
type bladeWatch struct {
	on            bool
	area, since   float64 // cut in the time, and when the blade went on
	trip, brk     []float64
	trips, breaks []downtime.History
}

func (w *bladeWatch) day(d *downtime.Day) {
	before := w.area
	for _, m := range d.Marks {
		at := before + m.Area
		switch m.Kind {
		case downtime.MarkFit:
			w.off(at)
			w.on, w.since = true, at
		case downtime.MarkRemove:
			w.off(at)
		case downtime.MarkTrip:
			w.trip = append(w.trip, at-w.since)
		case downtime.MarkBreak:
			w.brk = append(w.brk, at-w.since)
		}
	}
	for i := range d.Work {
		w.area += d.Work[i].Area
	}
}

// off ends the history of the blade that is on.
func (w *bladeWatch) off(at float64) {
	if long := at - w.since; w.on && long > 0 {
		w.trips = append(w.trips, downtime.History{To: long, At: within(w.trip, long)})
		w.breaks = append(w.breaks, downtime.History{To: long, At: within(w.brk, long)})
	}
	w.on, w.trip, w.brk = false, nil, nil
}

// within keeps rounding from putting an event behind the end of its blade.
func within(at []float64, long float64) []float64 {
	out := slices.Clone(at)
	for i := range out {
		out[i] = min(out[i], long)
	}
	return out
}

func recurrenceOf(histories []downtime.History) []RecurrenceRow {
	rows := []RecurrenceRow{}
	m, err := downtime.MeanCumulative(histories, level)
	if err != nil || !(m.Last > 0) {
		return rows
	}
	step := niceStep(m.Last / recurrenceRows)
	for at := step; at <= m.Last; at += step {
		row := RecurrenceRow{Area: at, Count: figure(m.By(at))}
		for _, h := range histories {
			if h.To >= at {
				row.AtRisk++
			}
		}
		rows = append(rows, row)
	}
	return rows
}

// niceStep is the next smaller of 1, 2 and 5 times a power of ten.
func niceStep(x float64) float64 {
	power := math.Pow(10, math.Floor(math.Log10(x)))
	for _, n := range []float64{5, 2, 1} {
		if n*power <= x {
			return n * power
		}
	}
	return power
}
