package alert

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strconv"
	"time"
)

// Step takes a look and says what changed, by number of the condition. A fact at or
// beyond the rule's Raise is raised when that has held for Hold; it stands until the
// level has been better than Clear for Rest, or there is no such fact any more for as
// long. What lies between Raise and Clear changes nothing.
func (b *Book) Step(rules *Rules, look *Look, now time.Time) []Change {
	b.looks++
	var changes []Change
	for i := range look.Facts {
		f := &look.Facts[i]
		rule := rules.Of(f.Kind, f.Saw)
		if rule.Off {
			continue // as if there were no such fact
		}
		e := b.stands[f.Key]
		if e == nil {
			if !begins(f, &rule, now) {
				continue
			}
			e = &entry{Condition: Condition{Key: f.Key, First: now}}
			b.stands[f.Key] = e
		}
		e.seen = b.looks
		changes = b.meet(changes, e, f, &rule, now)
	}
	changes = b.miss(changes, rules, look, now)
	slices.SortStableFunc(changes, func(a, b Change) int { return cmp.Compare(a.ID, b.ID) })
	return changes
}

// begins reports whether a condition can begin with a fact: one that is history, or
// already lasted its time, cannot.
func begins(f *Fact, rule *Rule, now time.Time) bool {
	switch {
	case !reached(f, rule), !f.At.IsZero() && now.Sub(f.At) > rule.Fresh:
		return false
	case rule.Lasts > 0 && !f.Since.IsZero():
		return now.Sub(f.Since) < rule.Lasts
	}
	return true
}

func reached(f *Fact, rule *Rule) bool {
	if SpecOf(f.Kind).Falls {
		return f.Level <= rule.Raise
	}
	return f.Level >= rule.Raise
}

func better(f *Fact, rule *Rule) bool {
	if SpecOf(f.Kind).Falls {
		return f.Level > rule.Clear
	}
	return f.Level < rule.Clear
}

// meet holds a condition against its fact.
func (b *Book) meet(changes []Change, e *entry, f *Fact, rule *Rule, now time.Time) []Change {
	switch {
	case math.IsNaN(f.Level): // not known: nothing is said for or against it
		return changes
	case e.Raised.IsZero() && !begins(f, rule, now):
		delete(b.stands, e.Key)
		return changes
	case e.Raised.IsZero():
		e.tell(f, rule, now)
		if now.Sub(e.First) < rule.Hold {
			return changes
		}
		return append(changes, b.raise(e, rule, now))
	case rule.Lasts > 0 && now.Sub(e.Since) >= rule.Lasts:
		return append(changes, b.clear(e, "it has stood for "+rule.Lasts.String()+", and is told no longer", now))
	}
	if better(f, rule) {
		return b.improve(changes, e, rule, now, func() string {
			e.Level = f.Level
			return fmt.Sprintf("%s: %s, closed %s", SpecOf(e.Kind).Unit, number(f.Level), from(e.Kind, rule.Clear, true))
		})
	}
	if !e.Better.IsZero() {
		e.Better, e.unsaved = time.Time{}, true
	}
	if old := !f.At.IsZero() && now.Sub(f.At) > rule.Fresh; old {
		return changes // a late reading tells nothing new of what stands
	}
	mark := e.Mark
	e.tell(f, rule, now)
	if mark == f.Mark || now.Sub(e.Changed) < rule.Again {
		e.Mark = mark
		return changes
	}
	e.Version++
	e.Changed, e.Mark, e.unsaved = now, f.Mark, true
	e.Reason = "what it says has changed"
	return append(changes, e.change(PhaseUpdated, now))
}

// miss closes what was looked for and not found.
func (b *Book) miss(changes []Change, rules *Rules, look *Look, now time.Time) []Change {
	for _, e := range b.stands {
		if e.seen == b.looks || !slices.Contains(look.Kinds, e.Kind) || look.Saws != nil && !slices.Contains(look.Saws, e.Saw) {
			continue
		}
		if e.Raised.IsZero() {
			delete(b.stands, e.Key)
			continue
		}
		rule := rules.Of(e.Kind, e.Saw)
		changes = b.improve(changes, e, &rule, now, func() string {
			if rule.Off {
				return "switched off in the configuration"
			}
			return "it is no more"
		})
	}
	return changes
}

// improve closes a condition that has been better for long enough; why is asked then.
func (b *Book) improve(changes []Change, e *entry, rule *Rule, now time.Time, why func() string) []Change {
	if e.Better.IsZero() {
		e.Better, e.unsaved = now, true
	}
	if now.Sub(e.Better) < rule.Rest && !rule.Off {
		return changes
	}
	return append(changes, b.clear(e, why(), now))
}

func (b *Book) raise(e *entry, rule *Rule, now time.Time) Change {
	b.last++
	e.ID, e.Raised, e.Changed, e.Version, e.unsaved = b.last, now, now, 1, true
	e.Reason = fmt.Sprintf("%s: %s, raised %s", SpecOf(e.Kind).Unit, number(e.Level), from(e.Kind, rule.Raise, false))
	if rule.Hold > 0 {
		e.Reason += " for " + rule.Hold.String()
	}
	b.byID[e.ID] = e
	return e.change(PhaseRaised, now)
}

func (b *Book) clear(e *entry, why string, now time.Time) Change {
	e.Cleared, e.Reason, e.unsaved = now, why, true
	delete(b.stands, e.Key)
	b.leaving[e.ID] = e
	return e.change(PhaseCleared, now)
}

// tell takes the fact's words.
func (e *entry) tell(f *Fact, rule *Rule, now time.Time) {
	if e.Since.IsZero() || !f.Since.IsZero() {
		e.Since = f.Since
	}
	if e.Since.IsZero() {
		e.Since = now
	}
	e.Level, e.Severity, e.Mark, e.Words, e.newer = f.Level, rule.Severity, f.Mark, f.Words, true
}

func (e *entry) change(what Phase, now time.Time) Change {
	return Change{ID: e.ID, What: what, At: now, Level: e.Level, Reason: e.Reason}
}

// from says on which side of a threshold a condition begins, or ends.
func from(k Kind, threshold float64, ends bool) string {
	switch falls := SpecOf(k).Falls; {
	case ends && falls:
		return "above " + number(threshold)
	case ends:
		return "below " + number(threshold)
	case falls:
		return "at " + number(threshold) + " or less"
	}
	return "at " + number(threshold) + " or more"
}

// number writes a level with three figures that count.
func number(x float64) string {
	if math.Abs(x) >= 1000 {
		return strconv.FormatFloat(x, 'f', 0, 64)
	}
	return strconv.FormatFloat(x, 'g', 3, 64)
}
