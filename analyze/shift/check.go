package shift

import (
	"errors"
	"fmt"
	"strings"
	"time"
)

// Problem is one thing that is wrong with a calendar.
type Problem struct {
	Closure bool   // of Closed, else of Rules
	Index   int    // in that list
	Key     string // of it: "name", "start", "days", "breaks", "to"
	Text    string // what is wrong and what is allowed, one clause
}

func (p *Problem) Error() string {
	list := "shift"
	if p.Closure {
		list = "closed"
	}
	return fmt.Sprintf("%s[%d].%s: %s", list, p.Index+1, p.Key, p.Text)
}

// Check says what is wrong, nil when nothing is: every Problem, one line each. A
// calendar that fails gives no sound answers.
func (c *Calendar) Check() error {
	var errs []error
	for _, p := range c.Problems() {
		errs = append(errs, p)
	}
	return errors.Join(errs...)
}

// Problems is what is wrong, in the order of the lists; of one rule the first
// thing only. A rule is held against those before it.
func (c *Calendar) Problems() []*Problem {
	var all []*Problem
	for i := range c.Rules {
		p := c.Rules[i].check()
		for k := 0; k < i && p == nil; k++ {
			p = overlap(&c.Rules[k], &c.Rules[i])
		}
		if p != nil {
			p.Index = i
			all = append(all, p)
		}
	}
	for i, cl := range c.Closed {
		if !cl.From.Before(cl.To) {
			all = append(all, &Problem{Closure: true, Index: i, Key: "to", Text: fmt.Sprintf("%s is not after from, %s; allowed is a later time",
				cl.To.Format(time.RFC3339), cl.From.Format(time.RFC3339))})
		}
	}
	return all
}

func (r *Rule) check() *Problem {
	switch {
	case r.Name == "":
		return &Problem{Key: "name", Text: "is empty; allowed is a name"}
	case !r.Start.valid():
		return &Problem{Key: "start", Text: fmt.Sprintf("is %d minutes; allowed is a time of day", r.Start)}
	case !r.End.valid():
		return &Problem{Key: "end", Text: fmt.Sprintf("is %d minutes; allowed is a time of day", r.End)}
	case r.Days == [7]bool{}:
		return &Problem{Key: "days", Text: "are none; allowed is one day at least"}
	}
	return r.checkBreaks()
}

func (r *Rule) checkBreaks() *Problem {
	for i, b := range r.Breaks {
		if !b.From.valid() || !b.To.valid() || b.From == b.To {
			return &Problem{Key: "breaks", Text: fmt.Sprintf("%s is no stretch of a day; allowed is one such as 10:00-10:15", b)}
		}
		from, to := r.within(b)
		if to > r.minutes() {
			return &Problem{Key: "breaks", Text: fmt.Sprintf("%s is not inside the shift; allowed is from %s to %s", b, r.Start, r.End)}
		}
		for _, other := range r.Breaks[:i] {
			if f, t := r.within(other); from < t && f < to {
				return &Problem{Key: "breaks", Text: fmt.Sprintf("%s overlaps %s; allowed are breaks apart", b, other)}
			}
		}
	}
	return nil
}

const wallWeek = 7 * wallDay

// overlap says where rule b runs into rule a on the wall; nil where it does not
// or no saw has both. What is apart on the wall is apart in time, as a later
// time on the wall is never an earlier moment.
func overlap(a, b *Rule) *Problem {
	saw, shared := sharedSaw(a, b)
	if !shared {
		return nil
	}
	for i := range 7 {
		day := (i + 1) % 7 // the week begins on Monday
		for other := range 7 {
			if !a.Days[day] || !b.Days[other] {
				continue
			}
			// How long after a's start b begins, around the week.
			gap := ((other-day)*wallDay + int(b.Start-a.Start) + wallWeek) % wallWeek
			if gap < a.minutes() || wallWeek-gap < b.minutes() {
				return &Problem{Key: "start", Text: fmt.Sprintf("%q on %s from %s runs into %q on %s from %s, on %s; allowed are shifts of a saw that do not overlap",
					b.Name, time.Weekday(other), b.hours(), a.Name, time.Weekday(day), a.hours(), saw)}
			}
		}
	}
	return nil
}

func (r *Rule) hours() string { return fmt.Sprintf("%s to %s", r.Start, r.End) }

// sharedSaw names the saws that two rules are both about.
func sharedSaw(a, b *Rule) (string, bool) {
	switch {
	case len(a.Saws) == 0 && len(b.Saws) == 0:
		return "every saw", true
	case len(a.Saws) == 0:
		return "saw " + strings.Join(b.Saws, ", "), true
	}
	for _, saw := range a.Saws {
		if b.on(saw) {
			return "saw " + saw, true
		}
	}
	return "", false
}
