package downtime

import (
	"slices"
	"sort"
	"sync"

	"gullet/analyze"
)

// ClosedDown is the cause of planned downtime that the calendar plans.
const ClosedDown analyze.Cause = "closed"

// Line is the time line of one saw.
type Line struct {
	Stretches []Stretch // in order, without a gap or an overlap
	Stops     []Stop    // in order; the first may begin before the line and the last end after it
	Passes    []Pass    // by their ends, each once; also those around the line
	Blades    []Blade   // in order; also those around the line
	Calendar  *Calendar
}

// Stretch is time that counts as one element.
type Stretch struct {
	From, To Moment
	Element  Element
	Cause    analyze.Cause // "" in production, without data, and outside of shifts when nothing was told
	Stop     int           // in Line.Stops while the saw stood, else -1
	Pass     int           // in Line.Passes: in production the pass, else the last one before; -1 for none
	Slot     int           // in Calendar.Slots
	Clash    bool          // in the metal while the saw said that it stood, for longer than clocks differ
}

// Build makes the time line of a saw over [from, until), which must not end later
// than now and not reach beyond the calendar.
//
// Besides the readings of that time it needs some of those around it. Of passes that
// are known to have taken time, the last that ended by from bounds the standstill
// which from falls into; the last that ended Restart or more before that one began is
// the first one needed. From its end on all readings are, and of states, online and
// blades also the latest by then. Forward all are needed up to the end of the first
// such pass that begins at until or later, and the passes after it that began before
// it. The calendar must reach over all of them, and what persons said as far as the
// readings go; where no such pass follows, up to now. Then the line is the same as if
// every reading were there. Readings in another order, or there twice, make no
// difference.
func Build(in Readings, cal *Calendar, rules *Rules, said []Explanation, from, until Moment) *Line {
	in.arrange()
	// A stop that is not over is still that when a person speaks of it.
	heard := until
	for _, e := range said {
		heard = max(heard, e.At+1)
	}
	room := rooms.Get().(*[]piece)
	pieces := scan((*room)[:0], &in, rules, from, heard)
	defer func() { *room = pieces; rooms.Put(room) }()
	settle(&in, pieces, cal, rules)
	stops := stopsOf(&in, rules, pieces, said)
	weigh(stops, cal, rules)
	stops = slices.DeleteFunc(stops, func(s Stop) bool { return s.To <= from || s.From >= until })
	c := &cutter{line: &Line{Stops: stops, Passes: in.Passes, Blades: in.Blades, Calendar: cal}, rules: rules}
	c.handling = rules.Meanings.Of(BetweenCuts).Element
	return c.cut(pieces, from, until)
}

// rooms are lists of pieces that lines before have done with: a year of a saw has
// hundreds of thousands.
var rooms = sync.Pool{New: func() any { return new([]piece) }}

// settle says what the time between cuts was.
func settle(in *Readings, pieces []piece, cal *Calendar, rules *Rules) {
	for i := 0; i < len(pieces); {
		n := i
		for n < len(pieces) && pieces[n].kind == running {
			n++
		}
		if n == i {
			i++
			continue
		}
		settleRun(in, pieces[i:n], cal, rules)
		i = n
	}
}

// settleRun takes a short run for handling, and a long one for a stop that nobody told
// when the saw was there all along and no reading is missing. Else it is unknown: it
// may have cut, or a blade broke and nobody knows how long it had cut.
func settleRun(in *Readings, run []piece, cal *Calendar, rules *Rules) {
	from, to := run[0].from, run[len(run)-1].to
	if from.to(to) <= rules.BetweenCuts {
		for i := range run {
			run[i].brief = true
		}
		return
	}
	if cal.Worked(from, to) <= rules.BetweenCuts {
		return
	}
	stood := !in.lost(from, to) && !in.instant(to)
	for i := range run {
		stood = stood && run[i].online
	}
	for i := range run {
		run[i].kind = dark
		if stood {
			run[i].kind, run[i].cause = standing, Unexplained
		}
	}
}

// explain lays what persons said over the stops; the last record wins.
func explain(stops []Stop, said []Explanation) {
	for _, e := range said {
		i := sort.Search(len(stops), func(i int) bool { return stops[i].To > e.At })
		if i == len(stops) || stops[i].From > e.At || e.ID < stops[i].Explained {
			continue
		}
		stops[i].Cause, stops[i].Explained = e.Cause, e.ID
	}
}

// weigh measures the stops in working time and pools the short ones.
func weigh(stops []Stop, cal *Calendar, rules *Rules) {
	for i := range stops {
		s := &stops[i]
		if !s.home(cal) {
			s.Worked = cal.Worked(s.From, s.To)
		}
		meaning := rules.Meanings.Of(s.Cause)
		s.Minor = 0 < s.Worked && s.Worked < rules.Minor && s.Own() && s.Explained == 0 && !meaning.Failure && !s.Open &&
			(meaning.Element == Delay || meaning.Element == Down)
	}
}

// cutter cuts pieces along the calendar.
type cutter struct {
	line  *Line
	rules *Rules
	// handling is what the time between cuts counts as: looked up once, as most of a
	// line is cuts.
	handling Element
	stop     int // the first stop that ends after the time looked at
	slot     int // and the first slot
}

func (c *cutter) cut(pieces []piece, from, until Moment) *Line {
	c.slot = slotAt(c.line.Calendar.Slots, from)
	slots := c.line.Calendar.Slots
	c.line.Stretches = make([]Stretch, 0, len(pieces)+len(c.line.Stops)+slotAt(slots, until)-c.slot)
	first := sort.Search(len(pieces), func(i int) bool { return pieces[i].to > from })
	for i := first; i < len(pieces) && pieces[i].from < until; i++ {
		p := pieces[i]
		p.from, p.to = max(p.from, from), min(p.to, until)
		c.piece(&p)
	}
	return c.line
}

// piece cuts one piece at the boundaries of stops and slots.
func (c *cutter) piece(p *piece) {
	slots, stops := c.line.Calendar.Slots, c.line.Stops
	for at := p.from; at < p.to; {
		for c.slot+1 < len(slots) && slots[c.slot].To <= at {
			c.slot++
		}
		s := Stretch{From: at, To: p.to, Stop: -1, Pass: p.pass, Slot: c.slot, Clash: p.clash}
		if c.slot+1 < len(slots) {
			s.To = min(s.To, slots[c.slot].To)
		}
		if p.kind == standing {
			for stops[c.stop].To <= at {
				c.stop++
			}
			s.Stop, s.To = c.stop, min(s.To, stops[c.stop].To)
		}
		c.name(&s, p.kind, p.brief)
		c.add(&s)
		at = s.To
	}
}

// add puts a stretch behind the others, or into the last when nothing differs.
func (c *cutter) add(s *Stretch) {
	if n := len(c.line.Stretches); n > 0 {
		if last := &c.line.Stretches[n-1]; last.goesOn(s) {
			last.To = s.To
			return
		}
	}
	c.line.Stretches = append(c.line.Stretches, *s)
}

// goesOn reports whether two stretches differ in time alone.
func (s *Stretch) goesOn(next *Stretch) bool {
	return s.Pass == next.Pass && s.Slot == next.Slot && s.Stop == next.Stop && s.Clash == next.Clash &&
		s.Element == next.Element && s.Cause == next.Cause
}

// name says what a stretch counts as. Outside of the planned time only production,
// and the handling between its cuts, is what it is; the rest belongs to no plan.
func (c *cutter) name(s *Stretch, kind pieceKind, brief bool) {
	plan := c.line.Calendar.Slots[s.Slot].Plan
	if s.Stop >= 0 {
		s.Cause = c.line.Stops[s.Stop].Cause
	}
	switch {
	case kind == metal:
		s.Element = Production
	case kind == running && (plan == Working || brief):
		s.Element, s.Cause = c.handling, BetweenCuts
	case plan == Closed:
		s.Element, s.Cause = PlannedDown, ClosedDown
	case plan != Working, s.Stop >= 0 && c.line.Stops[s.Stop].home(c.line.Calendar):
		s.Element = Unscheduled
	case kind == dark:
		s.Element = NoData
	default:
		s.Element = c.rules.Meanings.Of(s.Cause).Element
	}
}
