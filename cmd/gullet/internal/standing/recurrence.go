package standing

import (
	"fmt"
	"math"
	"slices"

	"gullet/analyze/downtime"
)

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

const (
	// recurrenceRows is about how many areas are told.
	recurrenceRows = 5
	// fewestBlades are those of which a mean is told.
	fewestBlades = 3
)

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
	if out.Trips, out.Breaks = recurrenceOf(trips), recurrenceOf(breaks); len(out.Trips) == 0 {
		out.Why = fmt.Sprintf("fewer than %d blades were followed from their first cut", fewestBlades)
	}
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
		if row.AtRisk < fewestBlades {
			break // the mean of one or two says nothing of blades
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
