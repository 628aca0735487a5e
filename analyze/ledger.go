package analyze

import (
	"cmp"
	"slices"
	"time"
)

// tick is the resolution of every time Gullet keeps. A pass that is itself the
// first sign of a blade opens a fitting one tick before it, since a fitting
// covers the passes after its start up to and including its end.
const tick = time.Microsecond

// LedgerAction is what an event does to the blade on a saw. The order of the
// constants is the order in which events of one instant are taken: whatever
// ends a blade counts the pass of that instant to it, and a removal comes
// before the fit that follows it in the same second.
type LedgerAction int

// The actions of the ledger.
const (
	LedgerName   LedgerAction = iota // a person names the blade that was on at that time
	LedgerBreak                      // the blade broke
	LedgerRemove                     // the blade was taken off
	LedgerAway                       // the blade was fitted on another saw
	LedgerFit                        // a blade was fitted
)

// LedgerEvent is one thing that happened to the blade of one saw.
type LedgerEvent struct {
	At        time.Time
	Action    LedgerAction
	Serial    string
	Type      string    // of a fit or a name, "" when not said
	Reason    EndReason // of a removal or a break, "" when not said
	Corrected bool      // a person's record rather than a message
	Saw       string    // of LedgerAway: where the blade went
	Order     string    // decides between events that agree in all else
	Ref       int64     // the caller's number for the event
}

// CompareLedgerEvents orders events as the ledger takes them, whatever the
// order in which they arrived. A correction comes after a message of the same
// instant, so that it has the last word.
func CompareLedgerEvents(a, b LedgerEvent) int {
	return cmp.Or(a.At.Compare(b.At), cmp.Compare(a.Action, b.Action), compareBool(a.Corrected, b.Corrected),
		cmp.Compare(a.Order, b.Order), cmp.Compare(a.Serial, b.Serial))
}

func compareBool(a, b bool) int {
	switch {
	case a == b:
		return 0
	case b:
		return -1
	}
	return 1
}

// LedgerPass is what the ledger wants to know of a pass: when, and which blade
// the saw believed it had ("" when it did not say).
type LedgerPass struct {
	At     time.Time
	Serial string
}

// LedgerSource answers what the ledger asks while it works. The passes of a
// saw are too many to hand over; it asks only where no blade message settles
// which blade was on.
type LedgerSource struct {
	// Next is the first pass after one time and not after another (zero: no
	// bound) whose serial is none of except; of several at one instant the
	// first by serial.
	Next func(after, until time.Time, except ...string) (LedgerPass, bool, error)
	// Away is the first fit of the serial on another saw after a time.
	Away func(serial string, after time.Time) (LedgerEvent, bool, error)
}

// LedgerFitting is a fitting with what is needed to go on from it.
type LedgerFitting struct {
	Fitting
	// Stale is the serial of the blade that had just left the saw when this
	// fitting began. Cuts that still carry it only show that nobody told the
	// controller; they do not hang the blade again.
	Stale string
	// Firm is when a blade message or a correction first vouched for the
	// fitting; until then (or for ever, when zero) a cut with another serial
	// ends it.
	Firm time.Time
}

// Covers reports whether a pass at that time was made in this fitting.
func (f *LedgerFitting) Covers(at time.Time) bool {
	return at.After(f.Start) && (f.End.IsZero() || !at.After(f.End))
}

// Settled reports whether a pass with that serial at that time, which the
// fitting covers, leaves the ledger as it is.
func (f *LedgerFitting) Settled(at time.Time, serial string) bool {
	if serial == "" || !f.Firm.IsZero() && at.After(f.Firm) {
		return true
	}
	// The name a correction gave was not yet known to the passes before it.
	return f.Basis != BasisCorrection && (serial == f.Serial || f.Basis == BasisNone && serial == f.Stale)
}

// LedgerSeed is where the ledger of a saw is taken up again: just before a
// fitting that is known to begin at From. The zero value starts from nothing.
type LedgerSeed struct {
	From  time.Time      // events before it and passes up to it are not asked for
	Stale string         // of the fitting that begins there
	Last  *LedgerFitting // the last fitting with a serial before it, nil when none
}

// LedgerRemark says why an event did not do what it says.
type LedgerRemark struct {
	Event LedgerEvent
	Text  string
}

// Ledger derives the fittings of one saw from its events, which must be in the
// order of CompareLedgerEvents, and its passes. Its result depends on what
// happened and when, never on the order in which Gullet heard of it.
//
// Blade messages and corrections outrank the serial on a cut: that one counts
// only while the saw has no known blade or its blade itself stands on cuts.
// Passes with no known blade lie in a fitting without a serial. The only
// errors are those of the source.
func Ledger(seed LedgerSeed, events []LedgerEvent, src LedgerSource) ([]LedgerFitting, []LedgerRemark, error) {
	l := ledger{src: src, now: seed.From, gone: seed.Stale}
	if seed.Last != nil {
		last := *seed.Last
		l.last = &last
	}
	for {
		e, more := l.nextEvent(events)
		opened, err := l.openByPass(e.At, more)
		if err != nil {
			return nil, nil, err
		}
		if opened {
			continue // the new blade may have gone to another saw before e
		}
		if !more {
			break
		}
		if e.Action != LedgerAway {
			events = events[1:]
		}
		if err := l.apply(e, seed.From); err != nil {
			return nil, nil, err
		}
		l.now = e.At
	}
	if l.on != nil {
		l.done = append(l.done, l.on)
	}
	fittings := make([]LedgerFitting, len(l.done))
	for i, f := range l.done {
		fittings[i] = *f
	}
	return fittings, l.remarks, nil
}

// ledger is the state between two events.
type ledger struct {
	src     LedgerSource
	now     time.Time        // passes up to here are accounted for
	on      *LedgerFitting   // the blade on the saw, nil when none
	away    *LedgerEvent     // when that blade turns up on another saw
	last    *LedgerFitting   // the last blade with a serial that left
	gone    string           // the serial that left the saw and may linger on cuts
	done    []*LedgerFitting // in order of time
	remarks []LedgerRemark
}

func (l *ledger) nextEvent(events []LedgerEvent) (LedgerEvent, bool) {
	switch {
	case l.away == nil && len(events) == 0:
		return LedgerEvent{}, false
	case l.away == nil:
		return events[0], true
	case len(events) == 0 || CompareLedgerEvents(*l.away, events[0]) < 0:
		return *l.away, true
	}
	return events[0], true
}

// openByPass looks for a pass up to the next event that shows a blade of its
// own, and opens a fitting for it.
func (l *ledger) openByPass(until time.Time, bounded bool) (bool, error) {
	if l.on != nil && !l.on.Firm.IsZero() {
		return false, nil
	}
	if !bounded {
		until = time.Time{}
	}
	var except []string
	if l.on != nil {
		except = []string{"", l.on.Serial}
		if l.on.Basis == BasisNone {
			except[1] = l.on.Stale
		}
	}
	p, ok, err := l.opener(until, except)
	if err != nil || !ok {
		return false, err
	}
	start := p.At.Add(-tick)
	l.now = p.At
	if l.nameless(p) {
		return true, l.open(LedgerFitting{Fitting: Fitting{Start: start, Basis: BasisNone}})
	}
	l.close(start, ReasonUnknown, "ended when a cut named the blade "+p.Serial)
	return true, l.open(LedgerFitting{Fitting: Fitting{Serial: p.Serial, Start: start, Basis: BasisCut}})
}

// opener is the next pass that shows a blade of its own. Where it does not
// tell which, another pass of that very instant may.
func (l *ledger) opener(until time.Time, except []string) (LedgerPass, bool, error) {
	p, ok, err := l.src.Next(l.now, until, except...)
	if err != nil || !ok || !l.nameless(p) {
		return p, ok, err
	}
	q, known, err := l.src.Next(p.At.Add(-tick), p.At, "", l.gone)
	if known {
		p = q
	}
	return p, true, err
}

// nameless reports whether a pass does not tell which blade it was made with.
func (l *ledger) nameless(p LedgerPass) bool {
	return p.Serial == "" || l.on == nil && p.Serial == l.gone
}

func (l *ledger) open(f LedgerFitting) error {
	f.Stale = l.gone
	l.on = &f
	if f.Serial != "" {
		l.gone = ""
	}
	return l.watchOthers(f.Start)
}

// watchOthers asks when the blade on the saw turns up on another one.
func (l *ledger) watchOthers(after time.Time) error {
	l.away = nil
	if l.on.Serial == "" {
		return nil
	}
	e, ok, err := l.src.Away(l.on.Serial, after)
	if ok {
		l.away = &e
	}
	return err
}

// close ends the blade on the saw, if there is one. A fitting that would end
// where it began covers nothing and is forgotten.
func (l *ledger) close(at time.Time, reason EndReason, note string) {
	f := l.on
	if f == nil {
		return
	}
	l.on, l.away = nil, nil
	if f.Serial != "" {
		l.gone = f.Serial
	}
	if !at.After(f.Start) {
		return
	}
	f.End, f.Reason = at, reason
	f.note(note)
	l.done = append(l.done, f)
	if f.Serial != "" {
		l.last = f
	}
}

func (f *LedgerFitting) note(s string) {
	switch {
	case s == "":
	case f.Note == "":
		f.Note = s
	default:
		f.Note += "; " + s
	}
}

func (l *ledger) remark(e LedgerEvent, text string) {
	l.remarks = append(l.remarks, LedgerRemark{Event: e, Text: text})
}

func (l *ledger) apply(e LedgerEvent, from time.Time) error {
	if l.on == nil && len(l.done) == 0 && e.At.Equal(from) && e.Action != LedgerFit {
		return nil // it ended what came before the seed
	}
	switch e.Action {
	case LedgerName:
		return l.name(e)
	case LedgerBreak:
		reason := e.Reason
		if reason == "" {
			reason = ReasonBroke
		}
		l.close(e.At, reason, "")
	case LedgerRemove:
		l.remove(e)
	case LedgerAway:
		l.close(e.At, ReasonMoved, "fitted on saw "+e.Saw+" without a removal here")
	case LedgerFit:
		return l.fit(e)
	}
	return nil
}

func (l *ledger) name(e LedgerEvent) error {
	if l.on == nil {
		l.remark(e, "no cuts were made on this saw at that time")
		return nil
	}
	f := l.on
	f.Serial, f.Basis, f.Firm = e.Serial, BasisCorrection, e.At
	f.Type = cmp.Or(e.Type, f.Type)
	l.gone = ""
	return l.watchOthers(e.At)
}

func (l *ledger) fit(e LedgerEvent) error {
	if l.on != nil && l.on.Serial == e.Serial {
		// Nothing new, but from now on a message vouches for the blade.
		l.on.Type = cmp.Or(l.on.Type, e.Type)
		if l.on.Firm.IsZero() {
			l.on.Firm = e.At
		}
		return nil
	}
	note := "ended when " + e.Serial + " was fitted without a removal"
	if l.on != nil && l.on.Serial == "" {
		note = ""
	}
	l.close(e.At, ReasonUnknown, note)
	basis := BasisMessage
	if e.Corrected {
		basis = BasisCorrection
	}
	return l.open(LedgerFitting{
		Fitting: Fitting{Serial: e.Serial, Type: e.Type, Start: e.At, Basis: basis}, Firm: e.At,
	})
}

// remove ends the blade on the saw. A removal of the blade that left last (it
// broke, or the next was fitted before this message) tells why it left.
func (l *ledger) remove(e LedgerEvent) {
	reason := cmp.Or(e.Reason, ReasonUnknown)
	fitted := l.on != nil && (e.Serial == "" || l.on.Serial == e.Serial)
	switch {
	case !fitted && l.last != nil && (l.last.Serial == e.Serial || e.Serial == "" || l.on == nil && brokeOff(l.last.Reason)):
		l.refine(reason)
	case l.on == nil:
		l.remark(e, "no blade was known to be on the saw")
	case fitted:
		l.close(e.At, reason, "")
	default:
		l.close(e.At, reason, "the removal names the blade "+e.Serial)
		l.gone = e.Serial
	}
}

func brokeOff(r EndReason) bool {
	return r == ReasonBroke || r == ReasonBrokeWeld || r == ReasonBrokeBody
}

// refine replaces a vague reason by a better one; a break stays an end.
func (l *ledger) refine(reason EndReason) {
	old := l.last.Reason
	if old == ReasonUnknown || old == ReasonBroke && reason.Ends() {
		l.last.Reason = reason
	}
}

// SortLedgerEvents puts events into the order the ledger takes them in.
func SortLedgerEvents(events []LedgerEvent) { slices.SortFunc(events, CompareLedgerEvents) }
