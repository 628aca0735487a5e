package shift

import (
	"math"
	"slices"
	"time"
)

// Interval is [From, To).
type Interval struct{ From, To time.Time }

// Turn is one shift of a saw as it falls on one date.
type Turn struct {
	Name       string
	Date       Date // on which it begins
	Start, End time.Time
	Working    []Interval    // in order and apart, without breaks and closures; none where it is closed all along
	Worked     time.Duration // of those together
}

// horizon is how far After and Next look.
const horizon = 400 * 24 * time.Hour

// Turns is the shifts of the saw that overlap [from, to), in order and whole. A
// shift that a jump of the clock swallows is left out.
func (c *Calendar) Turns(saw string, from, to time.Time) []Turn {
	var turns []Turn
	var working []Interval
	w := c.walk(saw, from, to)
	for w.next() {
		first := len(working)
		working = w.working(working)
		t := Turn{
			Name: w.rule.Name, Date: dateOf(w.day), Start: w.start, End: w.end,
			Working: working[first:len(working):len(working)],
		}
		for _, i := range t.Working {
			t.Worked += i.To.Sub(i.From)
		}
		turns = append(turns, t)
	}
	return turns
}

// At is the shift of the saw that t is in. ok is false outside every shift.
func (c *Calendar) At(saw string, t time.Time) (turn Turn, ok bool) {
	turns := c.Turns(saw, t, t.Add(1))
	if len(turns) == 0 {
		return Turn{}, false
	}
	return turns[0], true
}

// Worked is how much of [from, to) is working time of the saw; 0 where to is
// not after from.
func (c *Calendar) Worked(saw string, from, to time.Time) time.Duration {
	var sum time.Duration
	var buffer []Interval
	w := c.walk(saw, from, to)
	for w.next() {
		buffer = w.working(buffer[:0])
		for _, i := range buffer {
			sum += max(0, earlier(i.To, to).Sub(later(i.From, from)))
		}
	}
	return sum
}

// After is the first moment from from on by which the saw has worked that long:
// Worked(saw, from, t) == worked. At the end of a shift it is that end and not
// the beginning of the next; it is from where worked is not positive. ok is
// false where that takes more than 400 days.
func (c *Calendar) After(saw string, from time.Time, worked time.Duration) (t time.Time, ok bool) {
	if worked <= 0 {
		return from, true
	}
	var buffer []Interval
	to := from.Add(horizon)
	w := c.walk(saw, from, to)
	for w.next() {
		buffer = w.working(buffer[:0])
		for _, i := range buffer {
			start := later(i.From, from)
			gain := max(0, earlier(i.To, to).Sub(start))
			if gain >= worked {
				return start.Add(worked), true
			}
			worked -= gain
		}
	}
	return time.Time{}, false
}

// Next is the first moment after t at which a shift of the saw begins or ends.
// ok is false where none does within 400 days.
func (c *Calendar) Next(saw string, t time.Time) (at time.Time, ok bool) {
	w := c.walk(saw, t, t.Add(horizon))
	if !w.next() {
		return time.Time{}, false
	}
	if w.start.After(t) {
		return w.start, true
	}
	return w.end, true
}

func earlier(a, b time.Time) time.Time {
	if a.Before(b) {
		return a
	}
	return b
}

func later(a, b time.Time) time.Time {
	if a.After(b) {
		return a
	}
	return b
}

// walk goes through the shifts of one saw that overlap [from, to).
type walk struct {
	wall     wall
	rules    []*Rule // of the saw, by their start
	closed   []Interval
	holidays []Date
	from, to time.Time
	last     int64 // no shift of a later day begins before to
	tried    int   // rules of the day

	// The shift it stands at.
	rule       *Rule
	day        int64
	start, end time.Time
}

func (c *Calendar) walk(saw string, from, to time.Time) *walk {
	w := &walk{wall: wall{zone: c.zone()}, holidays: c.Holidays, from: from, to: to}
	if !from.Before(to) {
		w.day, w.last = 0, math.MinInt64
		return w
	}
	rules := c.rules()
	for i := range rules {
		if rules[i].on(saw) {
			w.rules = append(w.rules, &rules[i])
		}
	}
	slices.SortStableFunc(w.rules, func(a, b *Rule) int { return int(a.Start - b.Start) })
	for _, cl := range c.Closed {
		if cl.Saw == "" || cl.Saw == saw {
			w.closed = append(w.closed, Interval{cl.From.In(w.wall.zone), cl.To.In(w.wall.zone)})
		}
	}
	// A shift may have begun the day before; and where the clock falls back over
	// midnight one may begin on a date that to, an hour later, is not on again.
	w.day = DateOf(from.In(w.wall.zone)).day() - 1
	w.last = DateOf(to.In(w.wall.zone)).day() + 1
	return w
}

// next goes to the next shift; false is behind the last.
func (w *walk) next() bool {
	for ; w.day <= w.last; w.day, w.tried = w.day+1, 0 {
		for w.tried < len(w.rules) {
			r := w.rules[w.tried]
			w.tried++
			if !r.Days[weekday(w.day)] || w.holiday() {
				continue
			}
			w.rule = r
			w.start, w.end = w.at(0), w.at(r.minutes())
			if !w.start.Before(w.to) {
				return false
			}
			if w.end.After(w.from) && w.start.Before(w.end) {
				return true
			}
		}
	}
	return false
}

func (w *walk) holiday() bool {
	return len(w.holidays) > 0 && slices.Contains(w.holidays, dateOf(w.day))
}

// at is the moment so many minutes on the wall after the shift's start.
func (w *walk) at(minutes int) time.Time {
	return w.wall.moment(w.day*secondsPerDay + int64(w.rule.Start)*60 + int64(minutes)*60)
}

// working appends what is worked of the shift.
func (w *walk) working(list []Interval) []Interval {
	first := len(list)
	list = append(list, Interval{w.start, w.end})
	for _, b := range w.rule.Breaks {
		from, to := w.rule.within(b)
		list = without(list, first, Interval{w.at(from), w.at(to)})
	}
	for _, c := range w.closed {
		list = without(list, first, c)
	}
	return list
}

// without takes the gap out of the intervals from index first on.
func without(list []Interval, first int, gap Interval) []Interval {
	if !gap.From.Before(gap.To) {
		return list
	}
	for i := len(list) - 1; i >= first; i-- {
		at := list[i]
		if !gap.From.Before(at.To) || !at.From.Before(gap.To) {
			continue
		}
		left, right := Interval{at.From, gap.From}, Interval{gap.To, at.To}
		switch keepLeft, keepRight := left.From.Before(left.To), right.From.Before(right.To); {
		case keepLeft && keepRight:
			list[i] = left
			list = slices.Insert(list, i+1, right)
		case keepLeft:
			list[i] = left
		case keepRight:
			list[i] = right
		default:
			list = slices.Delete(list, i, i+1)
		}
	}
	return list
}
