package score

import (
	"maps"
	"slices"
	"time"

	"gullet/cmd/gullet/internal/lives"
	"gullet/store"
)

// rivals are what a person could have said without Gullet: one number for all blades
// of a type, less what the blade has cut.
type rivals struct {
	life     mean // of the blades that ended
	interval mean // at which blades were changed, ended or not
}

type mean struct {
	sum float64
	n   int
}

func (m *mean) add(x float64) {
	m.sum += x
	m.n++
}

// left is what the mean leaves a blade that has cut so much; false where nobody knew
// one.
func (m mean) left(cut float64) (float64, bool) {
	if m.n == 0 {
		return 0, false
	}
	return max(0, m.sum/float64(m.n)-cut), true
}

// off is a blade that came off a saw.
type off struct {
	at       time.Time
	kind     string
	weighted float64 // in² of its whole life until then
	ended    bool
}

// pasts lists the blades that came off, by time.
func pasts(shop *lives.Shop, blades map[string][]*store.FittingRow) (list []off) {
	for _, serial := range slices.Sorted(maps.Keys(blades)) {
		if serial == "" {
			continue // what such a blade cut before is not known
		}
		sum := 0.0
		for _, f := range blades[serial] {
			for _, t := range f.Totals {
				sum += t.Area * shop.Weight(t.Grade)
			}
			if cameOff(f) {
				list = append(list, off{f.End, f.Type, sum, f.Reason.Ends()})
			}
		}
	}
	slices.SortStableFunc(list, func(a, b off) int { return a.at.Compare(b.at) })
	return list
}

// known is the rivals of each forecast, from the blades that had come off when it was
// made; the forecasts are in order of time.
func known(forecasts []store.ForecastRow, list []off) []rivals {
	out, sums, i := make([]rivals, len(forecasts)), map[string]rivals{}, 0
	for k := range forecasts {
		for ; i < len(list) && !list[i].at.After(forecasts[k].MadeAt); i++ {
			r := sums[list[i].kind]
			r.interval.add(list[i].weighted)
			if list[i].ended {
				r.life.add(list[i].weighted)
			}
			sums[list[i].kind] = r
		}
		out[k] = sums[forecasts[k].Type]
	}
	return out
}
