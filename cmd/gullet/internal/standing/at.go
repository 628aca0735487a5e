package standing

import (
	"context"
	"time"

	"gullet/analyze/downtime"
	"gullet/analyze/shift"
	"gullet/config"
	"gullet/store"
)

// StopAt is the stop of a saw that holds a moment; nil where the saw did not stand
// then, as far as is known.
func StopAt(ctx context.Context, db *store.Store, cfg *config.Config, now time.Time, saw string, at time.Time) (*Stop, error) {
	d := NewData(cfg, now, shift.Date{}, shift.Date{})
	date := shift.DateOf(at.In(d.zone()))
	d.From, d.To = date.Add(-1), date.Add(1)
	line, err := d.Line(ctx, db, saw)
	if err != nil || line == nil {
		return nil, err
	}
	m := downtime.MomentOf(at)
	for i := range line.Stops {
		if s := &line.Stops[i]; s.From <= m && m < s.To {
			b := &builder{data: d}
			out := b.stop(saw, &downtime.DayStop{Stop: *s})
			return &out, nil
		}
	}
	return nil, nil
}
