package shift

import (
	"fmt"
	"strings"
	"testing"
	"time"
	_ "time/tzdata" // the zones, whatever the machine has
)

func zoneOf(t testing.TB, name string) *time.Location {
	t.Helper()
	zone, err := time.LoadLocation(name)
	if err != nil {
		t.Fatal(err)
	}
	return zone
}

func clock(t testing.TB, s string) Clock {
	t.Helper()
	c, err := ParseClock(s)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func date(t testing.TB, s string) Date {
	t.Helper()
	d, err := ParseDate(s)
	if err != nil {
		t.Fatal(err)
	}
	return d
}

// moment reads a moment with its offset.
func moment(t testing.TB, s string) time.Time {
	t.Helper()
	at, err := time.Parse("2006-01-02 15:04 -0700", s)
	if err != nil {
		t.Fatal(err)
	}
	return at
}

func span(t testing.TB, s string) Span {
	t.Helper()
	from, to, _ := strings.Cut(s, "-")
	return Span{clock(t, from), clock(t, to)}
}

// rule is a shift on all days; breaks as "10:00-10:15".
func rule(t testing.TB, name, hours string, breaks ...string) Rule {
	t.Helper()
	s := span(t, hours)
	r := Rule{Name: name, Start: s.From, End: s.To, Days: everyDay}
	for _, b := range breaks {
		r.Breaks = append(r.Breaks, span(t, b))
	}
	return r
}

func weekdays(r Rule) Rule {
	r.Days = [7]bool{false, true, true, true, true, true, false}
	return r
}

func (i Interval) String() string {
	const layout = "02 15:04 -0700"
	return i.From.Format(layout) + " to " + i.To.Format(layout)
}

// told is turns as the tables write them.
func told(turns []Turn) []string {
	var out []string
	for _, t := range turns {
		out = append(out, fmt.Sprintf("%s %s %s, %d min", t.Date, t.Name, Interval{t.Start, t.End}, int(t.Worked.Minutes())))
	}
	return out
}
