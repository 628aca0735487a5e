package score

import (
	"math"
	"slices"
	"time"

	"gullet/analyze"
	"gullet/analyze/plan"
	"gullet/cmd/gullet/internal/planning"
	"gullet/store"
)

// fate is what became of a blade after a forecast.
type fate struct {
	state   state
	at      time.Time // when it was done or pulled early
	area    float64   // weighted in² cut from the forecast until then, or until now
	unknown bool      // passes are missing from area, their own not being known
}

type state int

const (
	on     state = iota // it is on a saw, or on its way to another
	pulled              // changed early: nobody saw its end
	done
)

// outcome is the fate as a window is held against it. Of one that misses passes, area
// is a bound as well.
func (f *fate) outcome() plan.Outcome {
	return plan.Outcome{Area: f.area, Beyond: f.state != done || f.unknown}
}

// fate follows a blade from a forecast on, over all its fittings that come. What
// counts as done goes by what the forecast was made from: an end of the blade, and
// where its deviation was followed the first trip as well.
//
// It is false where the ledger has the fitting no more, or as one of another blade or
// time: it was corrected, or readings that came late said that the blade was off.
func (d *Data) fate(f *store.ForecastRow, blade []*store.FittingRow) (fate, bool) {
	first := slices.IndexFunc(blade, func(row *store.FittingRow) bool { return row.ID == f.FittingID })
	if first < 0 || f.MadeAt.Before(blade[first].Start) || !blade[first].Open() && !blade[first].End.After(f.MadeAt) {
		return fate{}, false
	}
	var out fate
	for _, row := range blade[first:] {
		for _, p := range d.passes[row.ID] {
			if !p.at.After(f.MadeAt) {
				continue
			}
			if math.IsNaN(p.weighted) {
				out.unknown = true
			} else {
				out.area += p.weighted
			}
			if p.tripped && f.Method == planning.ByEndsAndTrip {
				out.state, out.at = done, p.at
				return out, true
			}
		}
		switch {
		case row.Open(), row.End.After(d.Now), row.Reason == analyze.ReasonMoved:
			out.state, out.at = on, time.Time{}
		case row.Reason.Ends():
			out.state, out.at = done, row.End
			return out, true
		default:
			out.state, out.at = pulled, row.End
		}
	}
	return out, true
}
