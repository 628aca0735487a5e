package shift

import (
	"math"
	"time"
)

// Wall is the moment at which the wall of the zone shows that date and time:
// the earliest at which it shows that or later. So of a time that comes twice
// it is the first, and a time that is skipped is the moment after the jump.
// time.Date promises neither.
func Wall(zone *time.Location, d Date, at Clock) time.Time {
	w := wall{zone: zone}
	return w.moment(d.day()*secondsPerDay + int64(at)*60)
}

// wall turns times on the wall into moments. It remembers the period of equal
// offset it was in last, as looking one up takes longer than all the rest.
type wall struct {
	zone     *time.Location
	from, to int64 // s, Unix: the period in which offset holds
	offset   int64 // s east of UTC
}

// moment is the earliest moment at which the wall shows shown or later, in
// seconds as if it were UTC.
//
// An offset change of less than a day can show a time again only within a day
// after it: past that, what the period's offset says is the only answer.
func (w *wall) moment(shown int64) time.Time {
	at := shown - w.offset
	if at-secondsPerDay < w.from || at >= w.to {
		at = w.search(shown)
	}
	return time.Unix(at, 0).In(w.zone)
}

// search goes through the periods from one in which the wall shows an earlier
// time for sure, as no zone is a day away from UTC.
func (w *wall) search(shown int64) int64 {
	for w.period(shown - secondsPerDay); ; w.period(w.to) {
		if at := max(shown-w.offset, w.from); at < w.to {
			return at
		}
	}
}

// period finds the period that the moment is in.
func (w *wall) period(at int64) {
	t := time.Unix(at, 0).In(w.zone)
	_, offset := t.Zone()
	from, to := t.ZoneBounds()
	w.offset, w.from, w.to = int64(offset), math.MinInt64/2, math.MaxInt64/2
	if !from.IsZero() {
		w.from = from.Unix()
	}
	if !to.IsZero() {
		w.to = to.Unix()
	}
}
