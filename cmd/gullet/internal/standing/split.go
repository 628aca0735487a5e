package standing

import (
	"gullet/analyze/downtime"
	"gullet/analyze/shift"
	"gullet/cmd/gullet/internal/figures"
)

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
		x, y := before[i], after[i]
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

// side is what happened on one side of a date, on all saws asked for: unplanned stops,
// those of the shift asked for over its hours, and failures, runs of trips and breaks,
// which are of all shifts.
func (b *builder) side(from, to shift.Date) (groups [4]downtime.Group) {
	for i := range b.data.Saws {
		name, r, t := b.data.Saws[i].Name, &record{}, b.stood()
		b.days(from, to, func(saw string, day *downtime.Day) {
			if saw == name {
				b.recordDay(r, day)
				b.add(day, t)
			}
		})
		groups[0].Exposure += (r.minutes.Production + r.minutes.Setup) / 60
		for k, n := range [...]int{t.sum().Count, len(r.failures), len(runs(r.trips)), len(r.breaks)} {
			groups[k].Events += n
			if k > 0 {
				groups[k].Exposure += r.operated / 60
			}
		}
	}
	return groups
}
