package standing

import (
	"gullet/analyze/downtime"
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
	What string        `json:"what"` // failures, runs of trips, breaks
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
	}{{"failures", func(r *record) []float64 { return r.failures }}, {"runs of trips", func(r *record) []float64 { return runs(r.trips) }}, {"breaks", func(r *record) []float64 { return r.breaks }}} {
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
