package shift

import (
	"slices"
	"time"
)

// Rule is one shift as the shop plans it.
type Rule struct {
	Name       string
	Start, End Clock    // End not after Start is on the next day; the same is 24 hours
	Days       [7]bool  // on which it begins, by time.Weekday
	Breaks     []Span   // lunch and the like, inside the shift
	Saws       []string // nil for all
}

// Span is a stretch of a day on the wall. One that ends at or before its
// beginning goes over midnight.
type Span struct{ From, To Clock }

func (s Span) String() string { return s.From.String() + "-" + s.To.String() }

// Closure is a stretch in which a saw does not work, whatever the shifts:
// planned maintenance, stock-taking.
type Closure struct {
	Saw      string // "" for all
	From, To time.Time
	Why      string
}

// Calendar is the shop's shifts. The zero Calendar works around the clock in
// UTC. A saw that no rule names has no shift.
type Calendar struct {
	Zone     *time.Location // of the wall; nil is UTC
	Rules    []Rule         // none is three shifts a day, see Default
	Holidays []Date         // on which no shift begins
	Closed   []Closure
}

// Default is the calendar of a shop that has said nothing: three shifts of
// eight hours from 06:00, every day.
func Default(zone *time.Location) *Calendar { return &Calendar{Zone: zone} }

// IsDefault reports whether the shop said nothing of its shifts.
func (c *Calendar) IsDefault() bool { return len(c.Rules) == 0 }

// Note is what a person must know of where the shifts come from, "" where the
// shop said it.
func (c *Calendar) Note() string {
	if c.IsDefault() {
		return "around the clock: no [[shift]] is configured"
	}
	return ""
}

// defaultRules are common practice.
var defaultRules = [...]Rule{
	{Name: "early", Start: 6 * 60, End: 14 * 60, Days: everyDay},
	{Name: "late", Start: 14 * 60, End: 22 * 60, Days: everyDay},
	{Name: "night", Start: 22 * 60, End: 6 * 60, Days: everyDay},
}

var everyDay = [7]bool{true, true, true, true, true, true, true}

func (c *Calendar) zone() *time.Location {
	if c.Zone == nil {
		return time.UTC
	}
	return c.Zone
}

func (c *Calendar) rules() []Rule {
	if c.IsDefault() {
		return defaultRules[:]
	}
	return c.Rules
}

func (r *Rule) on(saw string) bool { return len(r.Saws) == 0 || slices.Contains(r.Saws, saw) }

// minutes is how long the shift is on the wall.
func (r *Rule) minutes() int { return r.End.after(r.Start) }

// within is the stretch in minutes on the wall after the shift's start.
func (r *Rule) within(s Span) (from, to int) {
	from = s.From.after(r.Start) % wallDay
	return from, from + s.To.after(s.From)
}

// Effective is the rules in force: the shop's own, or those of Default.
func (c *Calendar) Effective() []Rule { return slices.Clone(c.rules()) }
