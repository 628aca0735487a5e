package downtime

import (
	"time"

	"gullet/analyze"
)

// Stop is a standstill for one cause.
type Stop struct {
	From, To  Moment
	Told      analyze.Cause // as the saw told it first, "" when it gave none
	Cause     analyze.Cause // what it counts as: by what surrounds it, or by a person
	Explained int64         // the record of the person who said so, 0 for none
	Parent    Moment        // when the event began that this stop belongs to; From when it is its own
	State     analyze.State // as told
	Grade     string        // of the last pass before it, "" for none
	Worked    time.Duration // of it in working time
	Minor     bool          // pooled with other short ones
	Open      bool          // not over when the readings end
}

// Own reports whether the stop is an event of its own and not part of another.
func (s *Stop) Own() bool { return s.Parent == s.From }

// switched reports whether a stop that nobody explained goes over into the saw being
// off, or out of it: that it was off is an explanation of its own.
func (s *Stop) switched(next *piece, cause analyze.Cause) bool {
	return s.Cause == Unexplained && cause == Unexplained && (s.State == analyze.StateOff) != (next.state == analyze.StateOff)
}

// home reports whether the saw was switched off, for no cause told, in a shop that said
// nothing of its shifts: then nobody says that it should have run.
func (s *Stop) home(cal *Calendar) bool {
	return cal.Assumed && s.State == analyze.StateOff && s.Told == "" && s.Cause == Unexplained
}

// Explanation is a person's word on what the saw stood for at a moment.
type Explanation struct {
	ID    int64
	At    Moment
	Cause analyze.Cause
}

// stopper makes stops of standing pieces.
type stopper struct {
	in    *Readings
	rules *Rules
	stops []Stop
	links []link // of each stop

	blade int // the first blade reading that may be in a standstill to come
	hold  int // counts up when the saw has run since
}

// link is how a stop hangs together with those before it.
type link struct {
	hold  int  // the same in stops between which the saw did not run, as far as is known
	again bool // the stop before it, found again after the saw was lost from sight
}

// stopsOf is the stops of pieces in order, with what persons said of them.
func stopsOf(in *Readings, rules *Rules, pieces []piece, said []Explanation) []Stop {
	most := 0
	for i := range pieces {
		if pieces[i].kind == standing {
			most++
		}
	}
	s := &stopper{in: in, rules: rules, stops: make([]Stop, 0, most), links: make([]link, 0, most)}
	for i := 0; i < len(pieces); {
		n := i
		for n < len(pieces) && pieces[n].kind == standing {
			n++
		}
		if n == i {
			if !pieces[i].stood {
				s.hold++
			}
			i++
			continue
		}
		s.standstill(pieces[i:n])
		if n == len(pieces) {
			last := &s.stops[len(s.stops)-1]
			last.Open = true
			last.To-- // without the moment behind the readings
		}
		i = n
	}
	explain(s.stops, said)
	s.belong()
	return s.stops
}

// standstill is an uninterrupted run of standing pieces.
func (s *stopper) standstill(run []piece) {
	first := len(s.stops)
	reason := s.removal(run[0].from, run[len(run)-1].to)
	for i := range run {
		s.piece(&run[i], first, reason)
	}
}

// removal is why a blade came off in a standstill, "" when none did; the last one
// tells.
func (s *stopper) removal(from, to Moment) (reason analyze.EndReason) {
	for s.blade < len(s.in.Blades) && s.in.Blades[s.blade].At < from {
		s.blade++
	}
	for i := s.blade; i < len(s.in.Blades) && s.in.Blades[i].At <= to; i++ {
		if b := &s.in.Blades[i]; b.Action == analyze.ActionRemove {
			reason = b.Reason
		}
	}
	return reason
}

// piece adds a piece to the stop before it in the same standstill, or begins one.
func (s *stopper) piece(p *piece, first int, reason analyze.EndReason) {
	cause, told := p.cause, p.cause
	var last *Stop
	if n := len(s.stops); n > 0 && s.links[n-1].hold == s.hold {
		last = &s.stops[n-1]
	}
	switch cause {
	case bladeChange:
		cause = ofRemoval(reason, last != nil && last.Cause == deviationTrip)
	case Unexplained:
		told = ""
	}
	again := false
	switch same := len(s.stops) > first; {
	case last == nil:
	case same && absorbs(last.Cause, cause) && !last.switched(p, cause):
		last.To = p.to
		return
	case same && leadsTo(last.Cause, cause, last.State == p.state):
		last.To, last.Cause = p.to, cause
		if last.Told == "" {
			last.Told = told
		}
		return
	case !same && absorbs(last.Cause, cause):
		again, cause = true, last.Cause
	}
	s.begin(p, told, cause, again)
}

func (s *stopper) begin(p *piece, told, cause analyze.Cause, again bool) {
	stop := Stop{From: p.from, To: p.to, Told: told, Cause: cause, Parent: p.from, State: p.state}
	if p.pass >= 0 {
		stop.Grade = s.in.Passes[p.pass].Grade
	}
	s.stops, s.links = append(s.stops, stop), append(s.links, link{s.hold, again})
}

// belong finds the event that a stop is part of: itself before the saw was lost from
// sight, or a broken or pulled blade; what follows that before the saw runs, or soon
// after, is restarting and no new cause. A stop that a person explained is an event
// of its own, and those that were part of it follow what the person said.
func (s *stopper) belong() {
	event, until := -1, Moment(0)
	for i := range s.stops {
		stop := &s.stops[i]
		parent, held := -1, event >= 0 && s.links[i].hold == s.links[event].hold
		blade := stop.Cause == bladeBreak || stop.Cause == BladePull
		switch {
		case stop.Explained != 0:
		case s.links[i].again:
			parent = i - 1
		case held || event >= 0 && stop.From <= until && !blade:
			if absorbs(s.stops[event].Cause, stop.Cause) {
				parent = event
			}
		}
		if parent >= 0 {
			stop.Parent, stop.Cause = s.stops[parent].Parent, s.stops[parent].Cause
		} else if blade {
			event, held = i, true
		}
		if held {
			until = stop.To.add(s.rules.Restart)
		}
	}
}
