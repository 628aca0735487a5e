package downtime

import "gullet/analyze"

// known is what is known of a saw from its latest words on.
type known struct {
	heard Moment // the latest word
	any   bool   // there was one

	state    analyze.State // "" when nobody said
	cause    analyze.Cause // of the state
	stateAt  Moment
	event    analyze.Cause // a trip or break after which nothing else was told, "" for none
	bladeOff bool          // a blade came off and none went on
	online   bool          // said to be there
	gone     bool          // said to be gone, and not heard of since
}

// hear is any word but that of being gone.
func (k *known) hear(at Moment) {
	k.heard, k.any, k.gone = at, true, false
}

// pass is the end of a cut, trip or break. A state told before the pass began is
// outdated by it: the saw has cut since.
func (k *known) pass(p *Pass) {
	k.hear(p.To)
	if p.From > k.stateAt || k.state == "" {
		k.state, k.cause = analyze.StateCutting, ""
	}
	k.event = ""
	switch p.Kind {
	case analyze.KindTrip:
		k.event = deviationTrip
	case analyze.KindBreak:
		k.event = bladeBreak
	case analyze.KindCut:
		k.bladeOff = false // or it could not have cut
	}
}

func (k *known) said(s *State) {
	k.hear(s.At)
	k.state, k.cause, k.stateAt = s.State, s.Cause, s.At
	if s.Cause == unknownCause {
		k.cause = ""
	}
	if s.State == analyze.StateCutting || k.cause != "" {
		k.event = ""
	}
}

func (k *known) blade(b *Blade) {
	k.hear(b.At)
	k.bladeOff = b.Action == analyze.ActionRemove
}

func (k *known) link(o *Online) {
	if o.Online {
		k.hear(o.At)
		k.online = true
		return
	}
	k.heard, k.any, k.gone, k.online = o.At, true, true, false
}

// stands is why the saw stands; ok is false when it is not known to.
func (k *known) stands() (c analyze.Cause, ok bool) {
	told := k.state != "" && k.state != analyze.StateCutting
	switch {
	case told && k.cause != "":
		return k.cause, true
	case k.event != "":
		return k.event, true
	case k.bladeOff:
		return bladeChange, true
	case told:
		return Unexplained, true
	}
	return "", false
}
