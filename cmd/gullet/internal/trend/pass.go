package trend

import (
	"math"

	"gullet/analyze"
	"gullet/analyze/deviation"
	"gullet/store"
)

// CutOf is a pass on the wear clock of its blade, which had cut from before it and which
// an in² of the pass wears as much as weight in² of the reference class.
func CutOf(h *store.HistoryRow, from, weight float64) deviation.Cut {
	c := deviation.Cut{
		At: h.At, From: from, Area: from, Deviation: math.NaN(), Face: math.NaN(), Seconds: math.NaN(), Speed: math.NaN(),
		Grade: h.Grade, Mitre: h.Mitre, Tripped: h.Kind == analyze.KindTrip, Idle: h.Idle,
	}
	if h.Area != nil {
		c.Face = *h.Area
		c.Area += *h.Area * weight
	}
	if h.Seconds != nil {
		c.Seconds = *h.Seconds
	}
	if h.Height != nil && *h.Height > 0 {
		c.Height = *h.Height
		if h.Deviation != nil {
			c.Deviation = *h.Deviation / c.Height
		}
	}
	return c
}

// Limits is the trip limit of a saw by its passes.
type Limits struct {
	told    limits
	heights []float64
}

// Add looks at one pass.
func (l *Limits) Add(h *store.HistoryRow) {
	if h.Height == nil || !(*h.Height > 0) {
		return
	}
	l.heights = append(l.heights, *h.Height)
	if h.Limit != nil && *h.Limit > 0 {
		l.told.add(*h.Limit, *h.Height)
	}
}

// Keep forgets all heights but so many of the last.
func (l *Limits) Keep(n int) { l.heights = l.heights[max(0, len(l.heights)-n):] }

// Over is the limit over the height, those of the saw's usual heights where it is one
// length, and a note on it: as the passes told it, else as configured, in in; NaN is not
// known.
func (l *Limits) Over(configured *float64) (limit float64, all []float64, note string) {
	limit, all, note = l.told.over(l.heights)
	if math.IsNaN(limit) && configured != nil && len(l.heights) > 0 {
		limit, all = lengthOver(*configured, l.heights)
		note = "the limit is that of the configuration, one length: told for the middle height, the forecast counts the saw's own mix"
	}
	return limit, all, note
}
