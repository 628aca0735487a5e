package shift

import (
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"
)

func TestCheck(t *testing.T) {
	early, late := rule(t, "early", "06:00-14:00"), rule(t, "late", "14:00-22:00")
	only := func(r Rule, saws ...string) Rule { r.Saws = saws; return r }
	on := func(r Rule, day time.Weekday) Rule { r.Days = [7]bool{}; r.Days[day] = true; return r }
	noon := time.Date(2026, 11, 25, 12, 0, 0, 0, time.UTC)
	for _, c := range []struct {
		name     string
		calendar Calendar
		want     string
	}{
		{"nothing", Calendar{}, ""},
		{"two that meet", Calendar{Rules: []Rule{early, late}}, ""},
		{"a whole day, every day", Calendar{Rules: []Rule{rule(t, "day", "06:00-06:00", "06:00-06:30", "05:30-06:00")}}, ""},
		{"two that overlap", Calendar{Rules: []Rule{early, rule(t, "late", "13:00-22:00")}},
			`shift[2].start: "late" on Monday from 13:00 to 22:00 runs into "early" on Monday from 06:00 to 14:00, on every saw; allowed are shifts of a saw that do not overlap`},
		{"the same one twice", Calendar{Rules: []Rule{on(early, time.Friday), on(early, time.Friday)}},
			`shift[2].start: "early" on Friday from 06:00 to 14:00 runs into "early" on Friday from 06:00 to 14:00, on every saw; allowed are shifts of a saw that do not overlap`},
		{"the same one on two days", Calendar{Rules: []Rule{on(early, time.Friday), on(early, time.Monday)}}, ""},
		{"a night into the next week", Calendar{Rules: []Rule{on(rule(t, "night", "22:00-06:30"), time.Sunday), on(early, time.Monday)}},
			`shift[2].start: "early" on Monday from 06:00 to 14:00 runs into "night" on Sunday from 22:00 to 06:30, on every saw; allowed are shifts of a saw that do not overlap`},
		{"a night that ends with the week", Calendar{Rules: []Rule{on(rule(t, "night", "22:00-06:30"), time.Saturday), on(early, time.Monday)}}, ""},
		{"on different saws", Calendar{Rules: []Rule{only(early, "s1"), only(early, "s2", "s3")}}, ""},
		{"on one saw of several", Calendar{Rules: []Rule{only(on(early, time.Monday), "s1", "s3"), only(on(early, time.Monday), "s2", "s3")}},
			`shift[2].start: "early" on Monday from 06:00 to 14:00 runs into "early" on Monday from 06:00 to 14:00, on saw s3; allowed are shifts of a saw that do not overlap`},
		{"one of all saws and one of some", Calendar{Rules: []Rule{on(early, time.Monday), only(on(early, time.Monday), "s1", "s2")}},
			`shift[2].start: "early" on Monday from 06:00 to 14:00 runs into "early" on Monday from 06:00 to 14:00, on saw s1, s2; allowed are shifts of a saw that do not overlap`},
		{"no name", Calendar{Rules: []Rule{rule(t, "", "06:00-14:00")}}, "shift[1].name: is empty; allowed is a name"},
		{"no days", Calendar{Rules: []Rule{{Name: "early", Start: 360, End: 840}}}, "shift[1].days: are none; allowed is one day at least"},
		{"no time of day", Calendar{Rules: []Rule{{Name: "early", Start: 1440, Days: everyDay}, {Name: "late", End: -1, Days: everyDay}}},
			"shift[1].start: is 1440 minutes; allowed is a time of day\nshift[2].end: is -1 minutes; allowed is a time of day"},
		{"a break before the shift", Calendar{Rules: []Rule{rule(t, "early", "06:00-14:00", "05:45-06:15")}},
			"shift[1].breaks: 05:45-06:15 is not inside the shift; allowed is from 06:00 to 14:00"},
		{"a break over the end", Calendar{Rules: []Rule{rule(t, "night", "22:00-06:00", "05:45-06:15")}},
			"shift[1].breaks: 05:45-06:15 is not inside the shift; allowed is from 22:00 to 06:00"},
		{"a break over midnight", Calendar{Rules: []Rule{rule(t, "night", "22:00-06:00", "23:45-00:15")}}, ""},
		{"a break backwards", Calendar{Rules: []Rule{rule(t, "early", "06:00-14:00", "10:15-10:00")}},
			"shift[1].breaks: 10:15-10:00 is not inside the shift; allowed is from 06:00 to 14:00"},
		{"a break without length", Calendar{Rules: []Rule{rule(t, "early", "06:00-14:00", "10:00-10:00")}},
			"shift[1].breaks: 10:00-10:00 is no stretch of a day; allowed is one such as 10:00-10:15"},
		{"breaks that overlap", Calendar{Rules: []Rule{rule(t, "early", "06:00-14:00", "10:00-10:15", "10:10-10:20")}},
			"shift[1].breaks: 10:10-10:20 overlaps 10:00-10:15; allowed are breaks apart"},
		{"a closure backwards", Calendar{Closed: []Closure{{From: noon, To: noon}}},
			"closed[1].to: 2026-11-25T12:00:00Z is not after from, 2026-11-25T12:00:00Z; allowed is a later time"},
	} {
		t.Run(c.name, func(t *testing.T) {
			got := ""
			if err := c.calendar.Check(); err != nil {
				got = err.Error()
			}
			if got != c.want {
				t.Errorf("got  %s\nwant %s", got, c.want)
			}
		})
	}
}

// Check refuses exactly the pairs whose shifts overlap in some week without a
// change of the clock.
func TestCheckFindsEveryOverlap(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		// Few times of day, so that many meet and some overlap.
		draw := func(name string) Rule {
			r := Rule{
				Name: name, Start: Clock(rapid.IntRange(0, 11).Draw(t, "start") * 120),
				End: Clock(rapid.IntRange(0, 11).Draw(t, "end") * 120),
			}
			for i := range r.Days {
				r.Days[i] = rapid.IntRange(0, 2).Draw(t, "day") == 0
			}
			r.Days[rapid.IntRange(0, 6).Draw(t, "a day")] = true
			return r
		}
		c := Calendar{Rules: []Rule{draw("a"), draw("b")}}
		monday := time.Date(2026, 11, 2, 0, 0, 0, 0, time.UTC)
		overlaps := false
		turns := c.Turns("s1", monday, monday.AddDate(0, 0, 14))
		for i := range turns {
			for k := range i {
				overlaps = overlaps || turns[k].End.After(turns[i].Start) && turns[i].End.After(turns[k].Start)
			}
		}
		if err := c.Check(); (err != nil) != overlaps || err != nil && !strings.Contains(err.Error(), "runs into") {
			t.Fatalf("checked %v; they overlap: %v", err, overlaps)
		}
	})
}
