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
	cal   *Calendar
	stops []Stop

	blade int // the first blade reading that may be in a standstill to come

	event      int    // the stop that others may belong to, -1 for none
	eventUntil Moment // those that begin by then
}

// stopsOf is the stops of pieces in order.
func stopsOf(in *Readings, rules *Rules, cal *Calendar, pieces []piece) []Stop {
	s := &stopper{in: in, rules: rules, cal: cal, event: -1}
	for i := 0; i < len(pieces); {
		n := i
		for n < len(pieces) && pieces[n].kind == standing {
			n++
		}
		if n == i {
			i++
			continue
		}
		s.standstill(pieces[i:n])
		if n == len(pieces) {
			s.stops[len(s.stops)-1].Open = true
		}
		i = n
	}
	return s.stops
}

// standstill is an uninterrupted run of standing pieces.
func (s *stopper) standstill(run []piece) {
	first := len(s.stops)
	pulled := s.removal(run[0].from, run[len(run)-1].to)
	for i := range run {
		s.piece(&run[i], first, pulled)
	}
	for i := first; i < len(s.stops); i++ {
		s.belong(i, first)
	}
	if s.event >= first {
		s.eventUntil = run[len(run)-1].to.add(s.rules.Restart)
	}
}

// removal is the cause of a blade change in a standstill: the last blade that came
// off in it tells.
func (s *stopper) removal(from, to Moment) analyze.Cause {
	cause := bladeChange
	for s.blade < len(s.in.Blades) && s.in.Blades[s.blade].At < from {
		s.blade++
	}
	for i := s.blade; i < len(s.in.Blades) && s.in.Blades[i].At <= to; i++ {
		if b := &s.in.Blades[i]; b.Action == analyze.ActionRemove {
			cause = ofRemoval(b.Reason)
		}
	}
	return cause
}

// piece adds a piece to the stop before it in the same standstill, or begins one.
func (s *stopper) piece(p *piece, first int, pulled analyze.Cause) {
	cause, told := p.cause, p.cause
	switch cause {
	case bladeChange:
		cause = pulled
	case Unexplained:
		told = ""
	}
	if n := len(s.stops); n > first {
		last := &s.stops[n-1]
		switch {
		case absorbs(last.Cause, cause):
			last.To = p.to
			return
		case leadsTo(last.Cause, cause, last.State == p.state):
			last.To, last.Cause = p.to, cause
			if last.Told == "" {
				last.Told = told
			}
			return
		}
	}
	stop := Stop{From: p.from, To: p.to, Told: told, Cause: cause, Parent: p.from, State: p.state}
	if p.pass >= 0 {
		stop.Grade = s.in.Passes[p.pass].Grade
	}
	s.stops = append(s.stops, stop)
}

// belong finds the event that a stop is part of: what follows a broken or a pulled
// blade in the same standstill, or soon after it, is restarting and no new cause.
func (s *stopper) belong(i, first int) {
	stop := &s.stops[i]
	if stop.Cause == bladeBreak || stop.Cause == BladePull {
		s.event, s.eventUntil = i, stop.To.add(s.rules.Restart)
		return
	}
	if s.event < 0 || s.event < first && stop.From > s.eventUntil {
		return
	}
	if event := &s.stops[s.event]; absorbs(event.Cause, stop.Cause) {
		stop.Parent, stop.Cause = event.From, event.Cause
	}
}
