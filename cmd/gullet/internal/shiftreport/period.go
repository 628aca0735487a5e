package shiftreport

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"time"

	"gullet/analyze/shift"
)

// Period is the time that a report is of: a shift on the date it begins on, or a week
// of shop days from Monday.
type Period struct {
	Shift    string // "" for a week
	From, To shift.Date
}

// Week is the week from Monday that holds a date (ISO 8601).
func Week(date shift.Date) Period {
	monday := date.Add(-(int(date.Weekday()) + 6) % 7)
	return Period{From: monday, To: monday.Add(6)}
}

// LastWeek is the last whole week before a moment on the wall.
func LastWeek(now time.Time) Period { return Week(shift.DateOf(now).Add(-7)) }

// lookBack is how far a shift that ended is looked for: longer than a shop is closed.
const lookBack = 60 * 24 * time.Hour

// LastShift is the shift that ended last before a moment, of any of the saws; one that
// was closed all along is none.
func LastShift(c *shift.Calendar, saws []string, now time.Time) (Period, error) {
	var last shift.Turn
	for _, saw := range saws {
		for _, t := range c.Turns(saw, now.Add(-lookBack), now) {
			if t.Worked > 0 && !t.End.After(now) && t.End.After(last.End) {
				last = t
			}
		}
	}
	if last.End.IsZero() {
		return Period{}, fmt.Errorf("no shift has ended in the last %.0f days: --date and --shift name an earlier one", lookBack.Hours()/24)
	}
	return ofTurn(&last), nil
}

func ofTurn(t *shift.Turn) Period { return Period{Shift: t.Name, From: t.Date, To: t.Date} }

// ShiftAt is the shift of the saws that a moment falls in. That there is none, or that
// saws have different ones then, is an error.
func ShiftAt(c *shift.Calendar, saws []string, at time.Time) (Period, error) {
	var found []Period
	for _, saw := range saws {
		if t, ok := c.At(saw, at); ok && !slices.Contains(found, ofTurn(&t)) {
			found = append(found, ofTurn(&t))
		}
	}
	switch len(found) {
	case 0:
		return Period{}, fmt.Errorf("allowed is a moment within a shift")
	case 1:
		return found[0], nil
	}
	var names []string
	for _, p := range found {
		names = append(names, p.Shift)
	}
	return Period{}, fmt.Errorf("which is in %s: allowed is one of them, by --date and --shift", strings.Join(names, " and "))
}

// turns are the shifts of the period, by saw; none of a week.
func (p *Period) turns(c *shift.Calendar, saws []string) map[string]shift.Turn {
	found := map[string]shift.Turn{}
	if p.Shift == "" {
		return found
	}
	for _, saw := range saws {
		for _, t := range c.Turns(saw, midnight(c, p.From), midnight(c, p.To.Add(1))) {
			if t.Name == p.Shift && t.Date == p.From {
				found[saw] = t
			}
		}
	}
	return found
}

// ShiftsOn names the shifts that begin on a date, in their order.
func ShiftsOn(c *shift.Calendar, saws []string, date shift.Date) (names []string) {
	var list []shift.Turn
	for _, saw := range saws {
		list = append(list, c.Turns(saw, midnight(c, date), midnight(c, date.Add(1)))...)
	}
	slices.SortStableFunc(list, func(a, b shift.Turn) int { return cmp.Or(a.Start.Compare(b.Start), cmp.Compare(a.Name, b.Name)) })
	for _, t := range list {
		if t.Date == date && !slices.Contains(names, t.Name) {
			names = append(names, t.Name)
		}
	}
	return names
}

// bounds are the first beginning and the last end of it.
func (p *Period) bounds(c *shift.Calendar, turns map[string]shift.Turn) (from, to time.Time) {
	if p.Shift == "" {
		return midnight(c, p.From), midnight(c, p.To.Add(1))
	}
	for _, t := range turns {
		if from.IsZero() || t.Start.Before(from) {
			from = t.Start
		}
		if t.End.After(to) {
			to = t.End
		}
	}
	return from, to
}

func midnight(c *shift.Calendar, d shift.Date) time.Time { return shift.Wall(zone(c), d, 0) }

func zone(c *shift.Calendar) *time.Location {
	if c.Zone == nil {
		return time.UTC
	}
	return c.Zone
}

// Begins is when the first of the saws begins it.
func (p *Period) Begins(c *shift.Calendar, saws []string) time.Time {
	from, _ := p.bounds(c, p.turns(c, saws))
	return from
}
