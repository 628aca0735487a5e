package alert

import (
	"time"

	"gullet/analyze/shift"
)

// Quiet is a stretch of each day in which only severe messages are sent, by the clock
// on the wall: from 22:00 to 06:00 goes over midnight, and From equal to To is all day.
type Quiet struct {
	From, To shift.Clock
	Days     [7]bool // on which it begins, by time.Weekday; none is every day
	Zone     *time.Location
}

// Holds reports whether t is in it.
func (q *Quiet) Holds(t time.Time) bool {
	if q == nil {
		return false
	}
	wall := t.In(q.Zone)
	today := shift.DateOf(wall)
	for _, begins := range []shift.Date{today.Add(-1), today} {
		if q.Days != [7]bool{} && !q.Days[begins.Weekday()] {
			continue
		}
		ends := begins
		if q.To <= q.From {
			ends = begins.Add(1)
		}
		if !t.Before(shift.Wall(q.Zone, begins, q.From)) && t.Before(shift.Wall(q.Zone, ends, q.To)) {
			return true
		}
	}
	return false
}
