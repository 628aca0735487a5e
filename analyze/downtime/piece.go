package downtime

import (
	"slices"
	"time"

	"gullet/analyze"
)

// pieceKind is what is known of a piece of time before the shop's rules and calendar
// are looked at.
type pieceKind uint8

const (
	dark     pieceKind = iota // nothing is known
	metal                     // the blade is in the metal
	running                   // between cuts, as far as the saw's word goes
	standing                  // told to stand
)

// piece is a stretch of one kind.
type piece struct {
	from, to Moment
	kind     pieceKind
	clash    bool          // in the metal while the saw was told to stand
	online   bool          // known to be there all along
	brief    bool          // running no longer than handling takes
	stood    bool          // dark, and standing when it was last heard of
	cause    analyze.Cause // when standing
	state    analyze.State // as told
	pass     int           // in metal the pass, else the last that ended before; -1 for none
}

// span is time in the metal: passes that overlap are one.
type span struct {
	from, to Moment
	pass     int // the last of them to end
}

// spansOf is the time in the metal, in order and apart.
func spansOf(passes []Pass) []span {
	spans := make([]span, 0, len(passes))
	for i := range passes {
		s := span{passes[i].From, passes[i].To, i}
		if s.from >= s.to {
			continue
		}
		// Passes come by their ends, so one that began earlier may swallow others.
		for n := len(spans); n > 0 && spans[n-1].to > s.from; n = len(spans) {
			s.from = min(s.from, spans[n-1].from)
			spans = spans[:n-1]
		}
		spans = append(spans, s)
	}
	return spans
}

// scanner goes through a saw's words in the order of time.
type scanner struct {
	in     *Readings
	rules  *Rules
	spans  []span
	known  known
	pieces []piece

	span                         int // the first that ends after the time looked at
	pass, blade, online, stating int // the next word of each list
	grade                        int // the last pass through metal that has ended, -1 for none
}

// scan cuts the time of the readings, and all of [from, to), into pieces. The moment
// behind both is there too: it shows whether what is known last goes on.
func scan(room []piece, in *Readings, rules *Rules, from, to Moment) []piece {
	s := &scanner{in: in, rules: rules, spans: spansOf(in.Passes), grade: -1}
	s.pieces = slices.Grow(room, 2*len(s.spans)+len(in.States)+len(in.Blades)+2)
	if len(s.spans) > 0 {
		from = min(from, s.spans[0].from)
	}
	at, first := from, true
	for {
		next, ok := s.next()
		if !ok {
			break
		}
		if first {
			at, first = min(at, next), false
		}
		s.between(at, next, false)
		at = next
		s.hear(next)
	}
	s.between(at, max(at, to)+1, true)
	forgive(s.pieces)
	return s.pieces
}

// clockSlack is by how much a saw's word of its state and its cuts may differ on when
// a cut began or ended without contradicting each other: they are made by different
// programs and often dated to the second. Common practice, from memory.
const clockSlack = 10 * time.Second

// forgive takes out the conflicts of no more than the slack.
func forgive(pieces []piece) {
	for i := 0; i < len(pieces); {
		n := i
		for n < len(pieces) && pieces[n].clash {
			n++
		}
		if n == i {
			i++
			continue
		}
		if pieces[i].from.to(pieces[n-1].to) <= clockSlack {
			for k := i; k < n; k++ {
				pieces[k].clash = false
			}
		}
		i = n
	}
}

// next is when the next word was said; ok is false behind the last.
func (s *scanner) next() (at Moment, ok bool) {
	note := func(m Moment) {
		if !ok || m < at {
			at, ok = m, true
		}
	}
	if s.pass < len(s.in.Passes) {
		note(s.in.Passes[s.pass].To)
	}
	if s.blade < len(s.in.Blades) {
		note(s.in.Blades[s.blade].At)
	}
	if s.online < len(s.in.Online) {
		note(s.in.Online[s.online].At)
	}
	if s.stating < len(s.in.States) {
		note(s.in.States[s.stating].At)
	}
	return at, ok
}

// hear takes every word of a moment: what happened before what the saw says it does
// now.
func (s *scanner) hear(at Moment) {
	for ; s.pass < len(s.in.Passes) && s.in.Passes[s.pass].To == at; s.pass++ {
		s.known.pass(&s.in.Passes[s.pass])
		if s.in.Passes[s.pass].From < at {
			s.grade = s.pass
		}
	}
	for ; s.blade < len(s.in.Blades) && s.in.Blades[s.blade].At == at; s.blade++ {
		s.known.blade(&s.in.Blades[s.blade])
	}
	for ; s.online < len(s.in.Online) && s.in.Online[s.online].At == at; s.online++ {
		s.known.link(&s.in.Online[s.online])
	}
	for ; s.stating < len(s.in.States) && s.in.States[s.stating].At == at; s.stating++ {
		s.known.said(&s.in.States[s.stating])
	}
}

// between cuts the time from one word to the next, open when there is none yet.
func (s *scanner) between(from, to Moment, open bool) {
	for s.span < len(s.spans) && s.spans[s.span].to <= from {
		s.span++
	}
	for at := from; at < to; {
		if s.span == len(s.spans) || s.spans[s.span].from >= to {
			s.idle(at, to, open)
			return
		}
		in := s.spans[s.span]
		if in.from > at {
			s.idle(at, in.from, false)
			at = in.from
		}
		s.add(piece{from: at, to: min(in.to, to), kind: metal, clash: s.known.told(), state: s.known.state, pass: in.pass})
		if at = min(in.to, to); at == in.to {
			s.span++
		}
	}
}

// idle cuts time out of the metal.
func (s *scanner) idle(from, to Moment, open bool) {
	k := &s.known
	p := piece{from: from, to: to, pass: s.grade, online: k.online, state: k.state}
	cause, stands := k.stands()
	switch {
	case k.gone || !k.any:
		p.stood = stands
		s.add(p)
		return
	case stands:
		p.kind, p.cause = standing, cause
	case k.state == analyze.StateCutting && !s.in.TellsCuts:
		p.kind = metal
	case open || k.state == "":
		// A cut is told when it is through: one may be running now.
		s.add(p)
		return
	default:
		p.kind = running
		s.add(p)
		return
	}
	believed := to
	if !k.online {
		believed = min(to, max(from, k.heard.add(s.rules.ToldFor)))
	}
	p.to = believed
	s.add(p)
	s.add(piece{from: believed, to: to, stood: stands, state: k.state, pass: s.grade})
}

// add puts a piece behind the others, or into the last when nothing differs.
func (s *scanner) add(p piece) {
	if p.from >= p.to {
		return
	}
	if n := len(s.pieces); n > 0 {
		last := s.pieces[n-1]
		last.to = p.to
		last.from = p.from
		if last == p {
			s.pieces[n-1].to = p.to
			return
		}
	}
	s.pieces = append(s.pieces, p)
}
