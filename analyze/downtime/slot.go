package downtime

import (
	"sort"
	"time"

	"gullet/analyze/shift"
)

// Plan says what a stretch of the shop's calendar is meant for.
type Plan string

// What time is planned for. Only Working and Closed time belongs to the planned
// operation time.
const (
	Working Plan = "working"
	Rest    Plan = "break"  // of a shift
	Closed  Plan = "closed" // within a shift: planned maintenance, stock-taking
	Off     Plan = "off"    // no shift
)

// Slot is a stretch of one saw's calendar.
type Slot struct {
	From, To Moment
	Plan     Plan
	Shift    string     // "" when Off
	Date     shift.Date // on which its shift began; when Off, on which it begins itself
}

// Calendar is the slots of one saw, in order and without a gap.
type Calendar struct {
	Zone    *time.Location
	Slots   []Slot
	Assumed bool // nobody said which shifts the shop has
	// worked is the working time before each slot.
	worked []time.Duration
}

// NewCalendar lays out the shop days from the one that from is in to the one that
// until is in, both whole. A shop day has the shifts that begin on its date and the
// time without a shift that begins on it, so that a night shift is never cut at
// midnight; days follow each other without a gap or an overlap.
func NewCalendar(c *shift.Calendar, saw string, from, until time.Time) *Calendar {
	zone := c.Zone
	if zone == nil {
		zone = time.UTC
	}
	// A shift lasts a day at most: two days before and after are enough.
	first := shift.Wall(zone, shift.DateOf(from.In(zone)), 0).AddDate(0, 0, -2)
	last := shift.Wall(zone, shift.DateOf(until.In(zone)), 0).AddDate(0, 0, 3)
	l := layout{zone: zone, at: first}
	for _, turn := range c.Turns(saw, first, last) {
		l.off(turn.Start)
		l.turn(c, saw, &turn)
	}
	l.off(last)
	cal := &Calendar{Zone: zone, Assumed: c.IsDefault(), Slots: wholeDays(l.slots, MomentOf(from), MomentOf(until))}
	var sum time.Duration
	for _, s := range cal.Slots {
		cal.worked = append(cal.worked, sum)
		if s.Plan == Working {
			sum += s.From.to(s.To)
		}
	}
	return cal
}

// layout puts one slot after the other.
type layout struct {
	zone  *time.Location
	at    time.Time
	slots []Slot
}

func (l *layout) add(to time.Time, plan Plan, name string, date shift.Date) {
	if from, to := MomentOf(l.at), MomentOf(to); from < to {
		l.slots = append(l.slots, Slot{From: from, To: to, Plan: plan, Shift: name, Date: date})
	}
	if to.After(l.at) {
		l.at = to
	}
}

// off fills up to a time without shifts, cut at each midnight.
func (l *layout) off(to time.Time) {
	for l.at.Before(to) {
		date := shift.DateOf(l.at.In(l.zone))
		until := midnightAfter(l.zone, l.at)
		if until.After(to) {
			until = to
		}
		l.add(until, Off, "", date)
	}
}

// midnightAfter is the first beginning of a day after t, also where the clock is
// changed at midnight.
func midnightAfter(zone *time.Location, t time.Time) time.Time {
	y, m, d := t.In(zone).Date()
	for {
		d++
		next := shift.DateOf(time.Date(y, m, d, 12, 0, 0, 0, time.UTC))
		if midnight := shift.Wall(zone, next, 0); midnight.After(t) {
			return midnight
		}
	}
}

// turn lays out a shift: what is neither worked nor closed is a break.
func (l *layout) turn(c *shift.Calendar, saw string, t *shift.Turn) {
	for _, w := range append(t.Working, shift.Interval{From: t.End, To: t.End}) {
		l.idle(c, saw, t, w.From)
		l.add(w.To, Working, t.Name, t.Date)
	}
}

// idle fills the time of a shift that is not worked, up to a time.
func (l *layout) idle(c *shift.Calendar, saw string, t *shift.Turn, to time.Time) {
	for l.at.Before(to) {
		plan, until := Rest, to
		for _, closed := range c.Closed {
			if closed.Saw != "" && closed.Saw != saw {
				continue
			}
			switch {
			case !closed.From.After(l.at) && closed.To.After(l.at):
				plan = Closed
				until = closed.To
			case plan == Rest && closed.From.After(l.at) && closed.From.Before(until):
				until = closed.From
			}
		}
		if until.After(to) {
			until = to
		}
		l.add(until, plan, t.Name, t.Date)
	}
}

// wholeDays is the slots of the days that two moments are in, and of those between.
func wholeDays(slots []Slot, from, until Moment) []Slot {
	first, last := slotAt(slots, from), slotAt(slots, until)
	for first > 0 && slots[first-1].Date == slots[first].Date {
		first--
	}
	for last+1 < len(slots) && slots[last+1].Date == slots[last].Date {
		last++
	}
	return slots[first : last+1]
}

// slotAt is the slot that a moment is in, or the nearest.
func slotAt(slots []Slot, m Moment) int {
	i := sort.Search(len(slots), func(i int) bool { return slots[i].To > m })
	return min(i, len(slots)-1)
}

// From and Until bound the calendar, half-open.
func (c *Calendar) From() Moment { return c.Slots[0].From }

// Until is the end of the calendar.
func (c *Calendar) Until() Moment { return c.Slots[len(c.Slots)-1].To }

// Between is the time of the shop days from one date to another, both included. It is
// empty where the calendar has none of them.
func (c *Calendar) Between(first, last shift.Date) (from, until Moment) {
	i := sort.Search(len(c.Slots), func(i int) bool { return !c.Slots[i].Date.Before(first) })
	n := sort.Search(len(c.Slots), func(i int) bool { return last.Before(c.Slots[i].Date) })
	if i >= n {
		return c.Until(), c.Until()
	}
	return c.Slots[i].From, c.Slots[n-1].To
}

// Days is the slots of each shop day, in order.
func (c *Calendar) Days() [][]Slot {
	var days [][]Slot
	for list := c.Slots; len(list) > 0; {
		n := 1
		for n < len(list) && list[n].Date == list[0].Date {
			n++
		}
		days = append(days, list[:n:n])
		list = list[n:]
	}
	return days
}

// Worked is the working time in [from, to), as far as the calendar reaches.
func (c *Calendar) Worked(from, to Moment) time.Duration {
	from, to = max(from, c.From()), min(to, c.Until())
	if from >= to {
		return 0
	}
	return c.before(to) - c.before(from)
}

// before is the working time of the calendar before a moment in it.
func (c *Calendar) before(m Moment) time.Duration {
	i := slotAt(c.Slots, m)
	sum := c.worked[i]
	if c.Slots[i].Plan == Working {
		sum += c.Slots[i].From.to(min(m, c.Slots[i].To))
	}
	return sum
}

// firstWorked is the first working moment in [from, to); ok is false when none is.
func (c *Calendar) firstWorked(from, to Moment) (m Moment, ok bool) {
	i := slotAt(c.Slots, from)
	for _, s := range c.Slots[i:] {
		if s.From >= to {
			break
		}
		if s.Plan == Working && s.To > from {
			return max(from, s.From), true
		}
	}
	return 0, false
}
