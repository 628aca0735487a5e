package downtime

import (
	"cmp"
	"slices"
	"sort"

	"gullet/analyze"
)

// Readings is what one saw told, in any order; a reading that is there twice counts
// once.
type Readings struct {
	Passes []Pass
	States []State
	Online []Online
	Blades []Blade
	// Missing is when readings with numbers of their own were sent that are not there:
	// lost, or rejected.
	Missing []Missing
	// TellsCuts says that the saw reports its cuts. Of one that does not, the state
	// "cutting" is all that is known of production.
	TellsCuts bool
}

// Pass is a cut, trip or break.
type Pass struct {
	From, To Moment // in the metal; the same where it is not known how long
	Kind     analyze.Kind
	Grade    string
	Piece    bool    // a part, not a trim or trial cut
	Area     float64 // in², NaN when not known
	Standard float64 // minutes that it would take at the standard rate, NaN when not known
}

// State is what the saw said it was doing. Seq orders those of one moment.
type State struct {
	At    Moment
	Seq   int64
	State analyze.State
	Cause analyze.Cause // "" when none was given
}

// Online is a saw's word that it is there, or the broker's that it is gone; the
// latter at its receipt, as a last will is dated when the saw connected.
type Online struct {
	At     Moment
	Online bool
}

// Blade is a blade that went on or came off.
type Blade struct {
	At     Moment
	Seq    int64
	Action analyze.BladeAction
	Reason analyze.EndReason // of a removal
}

// Missing is that readings are missing between two that are there.
type Missing struct{ From, To Moment }

// arrange puts each list into an order that does not depend on that of arrival, and
// takes out what is there twice.
func (r *Readings) arrange() {
	r.Passes = arranged(r.Passes, func(a, b Pass) int {
		return cmp.Or(cmp.Compare(a.To, b.To), cmp.Compare(a.From, b.From), cmp.Compare(a.Kind, b.Kind),
			cmp.Compare(a.Grade, b.Grade), boolFirst(a.Piece, b.Piece), cmp.Compare(a.Area, b.Area), cmp.Compare(a.Standard, b.Standard))
	})
	r.States = arranged(r.States, func(a, b State) int {
		return cmp.Or(cmp.Compare(a.At, b.At), cmp.Compare(a.Seq, b.Seq), cmp.Compare(a.State, b.State), cmp.Compare(a.Cause, b.Cause))
	})
	r.Online = arranged(r.Online, func(a, b Online) int {
		return cmp.Or(cmp.Compare(a.At, b.At), boolFirst(b.Online, a.Online))
	})
	r.Blades = arranged(r.Blades, func(a, b Blade) int {
		return cmp.Or(cmp.Compare(a.At, b.At), cmp.Compare(a.Seq, b.Seq), cmp.Compare(b.Action, a.Action), cmp.Compare(a.Reason, b.Reason))
	})
	r.Missing = arranged(r.Missing, func(a, b Missing) int {
		return cmp.Or(cmp.Compare(a.From, b.From), cmp.Compare(a.To, b.To))
	})
}

// instant reports whether a pass ended at a moment of which it is not known how long
// it took.
func (r *Readings) instant(at Moment) bool {
	i := sort.Search(len(r.Passes), func(i int) bool { return r.Passes[i].To >= at })
	for ; i < len(r.Passes) && r.Passes[i].To == at; i++ {
		if r.Passes[i].From == at {
			return true
		}
	}
	return false
}

func boolFirst(a, b bool) int {
	switch {
	case a == b:
		return 0
	case a:
		return -1
	}
	return 1
}

// arranged is a list in order, each of its members once. What comes from a store is
// in order already and is not copied.
func arranged[T any](list []T, order func(a, b T) int) []T {
	strictly := true
	for i := 1; i < len(list) && strictly; i++ {
		strictly = order(list[i-1], list[i]) < 0
	}
	if strictly {
		return list
	}
	list = slices.Clone(list)
	slices.SortFunc(list, order)
	return slices.CompactFunc(list, func(a, b T) bool { return order(a, b) == 0 })
}

// Bounds is the time that the readings are about, with [from, until) in it.
func (r *Readings) Bounds(from, until Moment) (first, last Moment) {
	note := func(begin, end Moment) { from, until = min(from, begin), max(until, end) }
	for i := range r.Passes {
		note(r.Passes[i].From, r.Passes[i].To)
	}
	for i := range r.States {
		note(r.States[i].At, r.States[i].At)
	}
	for i := range r.Online {
		note(r.Online[i].At, r.Online[i].At)
	}
	for i := range r.Blades {
		note(r.Blades[i].At, r.Blades[i].At)
	}
	return from, until
}

// lost reports whether readings are missing that may have been about [from, to).
func (r *Readings) lost(from, to Moment) bool {
	// Of those that begin before to only the last few can reach beyond from; there are
	// few in all.
	for _, m := range r.Missing {
		if m.From < to && m.To > from {
			return true
		}
	}
	return false
}
