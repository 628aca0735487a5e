package downtime

import "gullet/analyze"

// known is what is known of a saw from its latest words on. It hangs on the latest
// word of each kind alone, so that readings of long ago are not needed.
type known struct {
	heard Moment // the latest word
	any   bool   // there was one

	last   State         // as told last, "" when nobody said
	state  analyze.State // that, or cutting when it is outdated; "" when nothing tells
	cause  analyze.Cause // of the state
	event  analyze.Cause // a trip or break after which nothing else was told, "" for none
	hung   Blade         // what was done last with a blade, "" for nothing
	off    bool          // a blade came off and none went on
	online bool          // said to be there
	gone   bool          // said to be gone, and not heard of since
}

// hear is any word but that of being gone.
func (k *known) hear(at Moment) {
	k.heard, k.any, k.gone = at, true, false
}

// pass is the end of a cut, trip or break. What was told before it began is outdated
// by it: the saw has cut since, and not without a blade.
func (k *known) pass(p *Pass) {
	k.hear(p.To)
	k.state, k.cause = k.last.State, k.last.Cause
	if k.state == "" || k.last.At <= p.From {
		k.state, k.cause = analyze.StateCutting, ""
	}
	k.off = k.hung.Action == analyze.ActionRemove && k.hung.At > p.From
	k.event = ""
	switch p.Kind {
	case analyze.KindTrip:
		k.event = deviationTrip
	case analyze.KindBreak:
		k.event = bladeBreak
	}
}

func (k *known) said(s *State) {
	k.hear(s.At)
	k.last = *s
	if s.Cause == unknownCause {
		k.last.Cause = ""
	}
	k.state, k.cause = k.last.State, k.last.Cause
	if s.State == analyze.StateCutting || k.cause != "" {
		k.event = ""
	}
}

// blade outdates a trip: the blade was looked at, and what is told of it says more.
func (k *known) blade(b *Blade) {
	k.hear(b.At)
	if k.event == deviationTrip {
		k.event = ""
	}
	k.hung, k.off = *b, b.Action == analyze.ActionRemove
}

func (k *known) link(o *Online) {
	if o.Online {
		k.hear(o.At)
		k.online = true
		return
	}
	k.heard, k.any, k.gone, k.online = o.At, true, true, false
}

// told reports whether the saw's own word is that it stands.
func (k *known) told() bool {
	return k.state != "" && k.state != analyze.StateCutting
}

// stands is why the saw stands; ok is false when it is not known to.
func (k *known) stands() (c analyze.Cause, ok bool) {
	switch {
	case k.told() && k.cause != "":
		return k.cause, true
	case k.event != "":
		return k.event, true
	case k.off:
		return bladeChange, true
	case k.told():
		return Unexplained, true
	}
	return "", false
}
