package standing

import (
	"context"
	"errors"
	"time"

	"gullet/analyze/downtime"
	"gullet/analyze/shift"
	"gullet/config"
	"gullet/store"
)

// chunk is how many days are summed up and kept at once.
const chunk = 92

// Maintain sums up the whole days that are past and not yet kept, of every saw. Days
// about which readings come meanwhile are left for the next time.
func Maintain(ctx context.Context, db *store.Store, cfg *config.Config, now time.Time) error {
	d := NewData(cfg, now, shift.Date{}, shift.Date{})
	kept, err := db.Days(ctx, d.digest(), shift.Date{Year: 1}, shift.Date{}, false)
	if err != nil {
		return err
	}
	for i := range kept {
		for more := true; more && err == nil; {
			more, err = d.keepSome(ctx, db, &kept[i])
		}
		if err != nil && !errors.Is(err, store.ErrOvertaken) {
			return err
		}
		err = nil
	}
	return nil
}

// keepSome keeps a chunk of days of one saw; more is false when none is left.
func (d *Data) keepSome(ctx context.Context, db *store.Store, kept *store.SawDays) (more bool, err error) {
	from := kept.First
	if kept.Until.After(from) {
		from = kept.Until
	}
	cal := downtime.NewCalendar(d.Calendar, kept.Saw, from, from.AddDate(0, 0, chunk))
	// A late reading may have unsettled a part of a day: it is summed up as a whole.
	begin := max(cal.From(), downtime.MomentOf(kept.First))
	until := begin
	for _, day := range cal.Days() {
		if end := day[len(day)-1].To; end <= downtime.MomentOf(d.Now) {
			until = end
		}
	}
	if until <= begin {
		return false, nil
	}
	cursor, err := db.Cursor(ctx)
	if err != nil {
		return false, err
	}
	line, err := d.line(ctx, db, kept.Saw, begin, until)
	if err != nil {
		return false, err
	}
	days, whole := settled(line.Days())
	if err := db.KeepDays(ctx, kept.Saw, d.digest(), cursor, days); err != nil {
		return false, err
	}
	kept.Until = until.Time()
	return whole, nil
}

// settled are the days before one in which a stop began that is not over: how long it
// is changes with the time alone.
func settled(days []downtime.Day) (_ []downtime.Day, all bool) {
	for i := range days {
		for k := range days[i].Stops {
			if days[i].Stops[k].Open {
				return days[:i], false
			}
		}
	}
	return days, true
}
