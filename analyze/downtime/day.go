package downtime

import (
	"math"
	"sort"
	"time"

	"gullet/analyze"
	"gullet/analyze/shift"
)

// Minor is the cause under which short stops are pooled.
const Minor analyze.Cause = "minor-stops"

// Day is what one saw did on one shop day: sums by shift, and what happened. All
// that is told of a longer time is put together from days.
type Day struct {
	Date     shift.Date
	From, To Moment // the whole day, or up to where the line ends

	Times []Time
	Work  []Work
	Stops []DayStop // whose working time begins in the day; of one without working time, that begin in it
	Marks []Mark
}

// Time is how long one thing took in one shift. All of a day's add up to the day.
type Time struct {
	Shift   string // "" outside of shifts
	Element Element
	Cause   analyze.Cause // Minor for short stops
	Grade   string        // in the saw then, or last before
	Took    time.Duration
}

// Work is what was cut of one grade in one shift.
type Work struct {
	Shift, Grade    string
	Pieces          int     // parts cut through
	Good            int     // of them those without a trip or break since the cut before
	Standard        float64 // minutes that the pieces take at the standard rate
	StandardUnknown int     // pieces without one
	Area            float64 // in², of all passes
	AreaUnknown     int     // passes whose area is not known
	Trips, Breaks   int
	Clashes         int // stretches in the metal while the saw was told to stand
	ClashTime       time.Duration
}

// DayStop is a stop with where it stands in the saw's work.
type DayStop struct {
	Stop
	Shift    string        // in which its working time begins, "" outside of shifts
	Operated time.Duration // production and setup of the day before it
}

// Mark is a trip, a break or a blade that went on or came off.
type Mark struct {
	At       Moment
	Kind     MarkKind
	Operated time.Duration // production and setup of the day before it
	Area     float64       // in² of the day before it, its own included
}

// MarkKind is what a mark is of.
type MarkKind uint8

// The kinds of mark.
const (
	MarkTrip MarkKind = iota
	MarkBreak
	MarkFit
	MarkRemove
)

// Days sums up the shop days of the line, of the last the part that the line has.
func (l *Line) Days() []Day {
	if len(l.Stretches) == 0 {
		return nil
	}
	from, until := l.Stretches[0].From, l.Stretches[len(l.Stretches)-1].To
	t := tally{line: l, from: from}
	t.pass = sort.Search(len(l.Passes), func(i int) bool { return l.Passes[i].To > from })
	t.blade = sort.Search(len(l.Blades), func(i int) bool { return l.Blades[i].At > from })
	t.spoilt = t.pass > 0 && l.Passes[t.pass-1].Kind != analyze.KindCut
	var days []Day
	for _, slots := range l.Calendar.Days() {
		begin, end := max(slots[0].From, from), min(slots[len(slots)-1].To, until)
		if begin < end {
			days = append(days, t.sum(slots[0].Date, begin, end))
		}
	}
	return days
}

// tally goes along a line day by day.
type tally struct {
	line                       *Line
	from                       Moment // the beginning of the line
	stretch, stop, pass, blade int    // what is next
	spoilt                     bool   // a trip or break since the last whole cut
	recent                     [2]int // of the day's times, those that were added to last

	day      Day
	operated time.Duration
	area     float64
}

func (t *tally) sum(date shift.Date, from, to Moment) Day {
	// One day is much like the next: lists have room for what the last had.
	last := &t.day
	t.day, t.operated, t.area = Day{
		Date: date, From: from, To: to, Times: make([]Time, 0, len(last.Times)+4), Stops: make([]DayStop, 0, len(last.Stops)+4),
	}, 0, 0
	for ; t.stretch < len(t.line.Stretches) && t.line.Stretches[t.stretch].From < to; t.stretch++ {
		s := &t.line.Stretches[t.stretch]
		slot := &t.line.Calendar.Slots[s.Slot]
		t.begins(s, slot)
		t.book(s, slot.Shift)
		t.passes(s.To, slot.Shift)
		t.blades(s.To)
	}
	return t.day
}

// begins notes a stop at its first working moment, or at its beginning when it has
// none.
func (t *tally) begins(s *Stretch, slot *Slot) {
	if s.Stop < t.stop {
		return
	}
	stop := &t.line.Stops[s.Stop]
	at := stop.From
	if stop.Worked > 0 {
		if slot.Plan != Working {
			return
		}
		at, _ = t.line.Calendar.firstWorked(stop.From, stop.To)
	}
	t.stop = s.Stop + 1
	if at >= t.from {
		t.day.Stops = append(t.day.Stops, DayStop{Stop: *stop, Shift: slot.Shift, Operated: t.operated})
	}
}

// book adds the time of a stretch.
func (t *tally) book(s *Stretch, name string) {
	key := Time{Shift: name, Element: s.Element, Cause: s.Cause}
	if s.Pass >= 0 {
		key.Grade = t.line.Passes[s.Pass].Grade
	}
	if s.Stop >= 0 && t.line.Stops[s.Stop].Minor && (s.Element == Delay || s.Element == Down) {
		key.Cause = Minor
	}
	took := s.From.to(s.To)
	if s.Element == Production || s.Element == Setup {
		t.operated += took
	}
	if s.Clash {
		w := t.work(name, key.Grade)
		w.Clashes++
		w.ClashTime += took
	}
	t.addTime(key, took)
}

// addTime adds to the time of one kind. Cuts and the handling between them take turns,
// so it is most often one of the last two.
func (t *tally) addTime(key Time, took time.Duration) {
	for _, i := range t.recent {
		if i < len(t.day.Times) && t.day.Times[i].alike(&key) {
			t.day.Times[i].Took += took
			return
		}
	}
	i := 0
	for i < len(t.day.Times) && !t.day.Times[i].alike(&key) {
		i++
	}
	if i == len(t.day.Times) {
		t.day.Times = append(t.day.Times, key)
	}
	t.day.Times[i].Took += took
	t.recent = [2]int{i, t.recent[0]}
}

// alike reports whether two times are of one kind.
func (t *Time) alike(other *Time) bool {
	return t.Element == other.Element && t.Cause == other.Cause && t.Grade == other.Grade && t.Shift == other.Shift
}

func (t *tally) work(name, grade string) *Work {
	for i := range t.day.Work {
		if w := &t.day.Work[i]; w.Shift == name && w.Grade == grade {
			return w
		}
	}
	t.day.Work = append(t.day.Work, Work{Shift: name, Grade: grade})
	return &t.day.Work[len(t.day.Work)-1]
}

// passes counts those that ended by a moment.
func (t *tally) passes(until Moment, name string) {
	for ; t.pass < len(t.line.Passes) && t.line.Passes[t.pass].To <= until; t.pass++ {
		p := &t.line.Passes[t.pass]
		w := t.work(name, p.Grade)
		if math.IsNaN(p.Area) {
			w.AreaUnknown++
		} else {
			w.Area += p.Area
			t.area += p.Area
		}
		switch p.Kind {
		case analyze.KindTrip:
			w.Trips++
			t.spoilt = true
			t.mark(p.To, MarkTrip)
		case analyze.KindBreak:
			w.Breaks++
			t.spoilt = true
			t.mark(p.To, MarkBreak)
		default:
			w.cut(p, t.spoilt)
			t.spoilt = false
		}
	}
}

// cut counts a whole cut.
func (w *Work) cut(p *Pass, spoilt bool) {
	if !p.Piece {
		return
	}
	w.Pieces++
	if !spoilt {
		w.Good++
	}
	if math.IsNaN(p.Standard) {
		w.StandardUnknown++
	} else {
		w.Standard += p.Standard
	}
}

func (t *tally) blades(until Moment) {
	for ; t.blade < len(t.line.Blades) && t.line.Blades[t.blade].At <= until; t.blade++ {
		kind := MarkFit
		if b := &t.line.Blades[t.blade]; b.Action == analyze.ActionRemove {
			kind = MarkRemove
		}
		t.mark(t.line.Blades[t.blade].At, kind)
	}
}

func (t *tally) mark(at Moment, kind MarkKind) {
	t.day.Marks = append(t.day.Marks, Mark{At: at, Kind: kind, Operated: t.operated, Area: t.area})
}
