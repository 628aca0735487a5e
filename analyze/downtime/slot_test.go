package downtime

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"gullet/analyze/shift"
)

// calendarText is a calendar as a person would write it, in its zone's time, with how
// long each slot takes.
func calendarText(c *Calendar) string {
	var b strings.Builder
	for _, day := range c.Days() {
		fmt.Fprintf(&b, "%s\n", day[0].Date)
		for _, s := range day {
			text := strings.TrimSpace(fmt.Sprintf("%s %s", s.Plan, s.Shift))
			fmt.Fprintf(&b, "  %s %s, %s\n", s.From.Time().In(c.Zone).Format("02 15:04"), text, brief(s.From.to(s.To)))
		}
	}
	fmt.Fprintf(&b, "  %s\n", c.Until().Time().In(c.Zone).Format("02 15:04"))
	return b.String()
}

// brief is a duration without what is zero.
func brief(d time.Duration) string {
	text := strings.TrimSuffix(d.String(), "0s")
	if strings.HasSuffix(text, "h0m") {
		text = strings.TrimSuffix(text, "0m")
	}
	return text
}

// rule is a shift of every day, "22:00-06:00", with its breaks.
func rule(t testing.TB, name, span string, breaks ...string) shift.Rule {
	t.Helper()
	r := shift.Rule{Name: name, Start: spanOf(t, span).From, End: spanOf(t, span).To, Days: [7]bool{true, true, true, true, true, true, true}}
	for _, b := range breaks {
		r.Breaks = append(r.Breaks, spanOf(t, b))
	}
	return r
}

// spanOf reads "10:00-10:30".
func spanOf(t testing.TB, s string) shift.Span {
	t.Helper()
	from, to, _ := strings.Cut(s, "-")
	a, err := shift.ParseClock(from)
	b, err2 := shift.ParseClock(to)
	if err != nil || err2 != nil {
		t.Fatal(err, err2)
	}
	return shift.Span{From: a, To: b}
}

func TestCalendar(t *testing.T) {
	weekdays := rule(t, "early", "06:00-14:00")
	weekdays.Days[time.Saturday], weekdays.Days[time.Sunday] = false, false
	elsewhere := rule(t, "elsewhere", "00:00-00:00")
	elsewhere.Saws = []string{"s2"}
	night := rule(t, "night", "22:00-06:00")
	early := rule(t, "early", "06:00-14:00", "10:00-10:30")
	closed := func(saw, from, to string) shift.Closure {
		return shift.Closure{Saw: saw, From: clock(t, from).Time(), To: clock(t, to).Time()}
	}
	for _, c := range []struct {
		name, zone, from, to string // to the hour, in the zone
		shop                 shift.Calendar
		want                 string
	}{
		{"a night shift belongs to the date it starts", "UTC", "2026-03-03 03", "2026-03-03 12", shift.Calendar{Rules: []shift.Rule{night}}, `
			2026-03-02
			  02 06:00 off, 16h
			  02 22:00 working night, 8h
			2026-03-03
			  03 06:00 off, 16h
			  03 22:00 working night, 8h
			  04 06:00`},
		// domain.md, section 6.
		{"the night on which an hour is missing", "America/Chicago", "2026-03-07 23", "2026-03-08 04", shift.Calendar{Rules: []shift.Rule{night}}, `
			2026-03-07
			  07 06:00 off, 16h
			  07 22:00 working night, 7h
			  08 06:00`},
		{"the night on which an hour comes twice", "America/Chicago", "2026-10-31 23", "2026-11-01 04", shift.Calendar{Rules: []shift.Rule{night}}, `
			2026-10-31
			  31 06:00 off, 16h
			  31 22:00 working night, 9h
			  01 06:00`},
		{"a break in the missing hour takes no time", "America/Chicago", "2026-03-07 23", "2026-03-07 23",
			shift.Calendar{Rules: []shift.Rule{rule(t, "night", "22:00-06:00", "02:15-02:45")}}, `
			2026-03-07
			  07 06:00 off, 16h
			  07 22:00 working night, 7h
			  08 06:00`},
		{"a day without shifts on which an hour comes twice", "America/Chicago", "2026-11-01 12", "2026-11-01 12", shift.Calendar{Rules: []shift.Rule{elsewhere}}, `
			2026-11-01
			  01 00:00 off, 25h
			  02 00:00`},
		{"a midnight that is missing", "America/Santiago", "2026-09-05 12", "2026-09-06 12", shift.Calendar{Rules: []shift.Rule{elsewhere}}, `
			2026-09-05
			  05 00:00 off, 24h
			2026-09-06
			  06 01:00 off, 23h
			  07 00:00`},
		{"an hour before midnight that comes twice", "America/Santiago", "2026-04-04 12", "2026-04-05 12", shift.Calendar{Rules: []shift.Rule{night}}, `
			2026-04-04
			  04 06:00 off, 16h
			  04 22:00 working night, 9h
			2026-04-05
			  05 06:00 off, 16h
			  05 22:00 working night, 8h
			  06 06:00`},
		{"a weekend", "UTC", "2026-03-06 12", "2026-03-09 12", shift.Calendar{Rules: []shift.Rule{weekdays}}, `
			2026-03-06
			  06 00:00 off, 6h
			  06 06:00 working early, 8h
			  06 14:00 off, 10h
			2026-03-07
			  07 00:00 off, 24h
			2026-03-08
			  08 00:00 off, 24h
			2026-03-09
			  09 00:00 off, 6h
			  09 06:00 working early, 8h
			  09 14:00 off, 10h
			  10 00:00`},
		{"a holiday has the night shift that began before it", "UTC", "2026-03-03 12", "2026-03-03 12",
			shift.Calendar{Rules: []shift.Rule{night}, Holidays: []shift.Date{{Year: 2026, Month: 3, Day: 3}}}, `
			2026-03-03
			  03 06:00 off, 18h
			  04 00:00`},
		{"around the clock", "UTC", "2026-03-02 12", "2026-03-02 12", shift.Calendar{}, `
			2026-03-02
			  02 06:00 working early, 8h
			  02 14:00 working late, 8h
			  02 22:00 working night, 8h
			  03 06:00`},
		{"a shift of 24 hours", "UTC", "2026-03-02 12", "2026-03-02 12", shift.Calendar{Rules: []shift.Rule{rule(t, "all day", "07:00-07:00")}}, `
			2026-03-02
			  02 07:00 working all day, 24h
			  03 07:00`},
		{"a break, and a closure of the saw and one of another", "UTC", "2026-03-02 12", "2026-03-02 12",
			shift.Calendar{Rules: []shift.Rule{early}, Closed: []shift.Closure{closed("s1", "08:00", "09:00"), closed("s2", "11:00", "12:00")}}, `
			2026-03-02
			  02 00:00 off, 6h
			  02 06:00 working early, 2h
			  02 08:00 closed early, 1h
			  02 09:00 working early, 1h
			  02 10:00 break early, 30m
			  02 10:30 working early, 3h30m
			  02 14:00 off, 10h
			  03 00:00`},
		{"closures over a break, into each other and over the end of the shift", "UTC", "2026-03-02 12", "2026-03-02 12",
			shift.Calendar{Rules: []shift.Rule{early}, Closed: []shift.Closure{
				closed("", "12:00", "13:00"), closed("s1", "10:15", "11:00"), closed("", "12:30", "13:30"), closed("", "13:45", "18:00")}}, `
			2026-03-02
			  02 00:00 off, 6h
			  02 06:00 working early, 4h
			  02 10:00 break early, 15m
			  02 10:15 closed early, 45m
			  02 11:00 working early, 1h
			  02 12:00 closed early, 1h
			  02 13:00 closed early, 30m
			  02 13:30 working early, 15m
			  02 13:45 closed early, 15m
			  02 14:00 off, 10h
			  03 00:00`},
		{"closed for days", "UTC", "2026-03-03 12", "2026-03-03 12",
			shift.Calendar{Rules: []shift.Rule{early}, Closed: []shift.Closure{closed("", "12:00", "5d 12:00")}}, `
			2026-03-03
			  03 00:00 off, 6h
			  03 06:00 closed early, 8h
			  03 14:00 off, 10h
			  04 00:00`},
	} {
		t.Run(c.name, func(t *testing.T) {
			zone, err := time.LoadLocation(c.zone)
			if err != nil {
				t.Fatal(err)
			}
			at := func(s string) time.Time {
				at, err := time.ParseInLocation("2006-01-02 15", s, zone)
				if err != nil {
					t.Fatal(err)
				}
				return at
			}
			c.shop.Zone = zone
			got := calendarText(NewCalendar(&c.shop, "s1", at(c.from), at(c.to)))
			if want := strings.ReplaceAll(strings.TrimPrefix(c.want, "\n"), "\t", "") + "\n"; got != want {
				t.Errorf("got\n%swant\n%s", got, want)
			}
		})
	}
}

// Slots follow each other, whole shop days hold what was asked for, and each slot is
// what the shifts say.
func TestCalendarIsThatOfTheShifts(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		f := someFloor(t)
		from := f.base.add(time.Duration(rapid.IntRange(-24*60, 96*60).Draw(t, "from")) * time.Minute)
		until := from.add(time.Duration(rapid.IntRange(0, 72*60).Draw(t, "long")) * time.Minute)
		cal := NewCalendar(f.shop, "s1", from.Time(), until.Time())
		if cal.From() > from || cal.Until() <= until {
			t.Fatalf("from %s to %s, want %s to %s in it", cal.From().short(), cal.Until().short(), from.short(), until.short())
		}
		at := cal.From()
		for i, s := range cal.Slots {
			if s.From != at || s.To <= s.From {
				t.Fatalf("slot %+v after %s", s, at.short())
			}
			if at = s.To; i > 0 && s.Date.Before(cal.Slots[i-1].Date) {
				t.Fatalf("slot %+v after %+v", s, cal.Slots[i-1])
			}
			checkSlot(t, f.shop, &s)
		}
		wider := NewCalendar(f.shop, "s1", from.add(-30*time.Hour).Time(), until.add(30*time.Hour).Time())
		if text := calendarText(wider); !strings.Contains(text, strings.TrimSuffix(calendarText(cal), "  "+cal.Until().Time().In(cal.Zone).Format("02 15:04")+"\n")) {
			t.Fatalf("days\n%s\nof\n%s", calendarText(cal), text)
		}
	})
}

func checkSlot(t *rapid.T, shop *shift.Calendar, s *Slot) {
	t.Helper()
	took, worked := s.From.to(s.To), shop.Worked("s1", s.From.Time(), s.To.Time())
	if want := map[bool]time.Duration{true: took}[s.Plan == Working]; worked != want {
		t.Fatalf("slot %+v has %s of work, want %s", s, worked, want)
	}
	turns := shop.Turns("s1", s.From.Time(), s.To.Time())
	if s.Plan == Off {
		if len(turns) > 0 || s.Shift != "" {
			t.Fatalf("slot %+v is in the shifts %+v", s, turns)
		}
		return
	}
	if len(turns) != 1 || turns[0].Name != s.Shift || turns[0].Date != s.Date || turns[0].Start.After(s.From.Time()) || turns[0].End.Before(s.To.Time()) {
		t.Fatalf("slot %+v is in the shifts %+v", s, turns)
	}
	closed := false
	for _, c := range shop.Closed {
		if (c.Saw == "" || c.Saw == "s1") && c.From.Before(s.To.Time()) && s.From.Time().Before(c.To) {
			closed = true
		}
	}
	if s.Plan != Working && closed != (s.Plan == Closed) {
		t.Fatalf("slot %+v, with closures %+v", s, shop.Closed)
	}
}

func TestWorkedIsThatOfTheShifts(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		f := someFloor(t)
		cal := f.calendar()
		from := f.base.add(time.Duration(rapid.Int64Range(0, int64(84*time.Hour)).Draw(t, "from")))
		to := from.add(time.Duration(rapid.Int64Range(1000, int64(30*time.Hour)).Draw(t, "long")))
		if got, want := cal.Worked(from, to), f.shop.Worked("s1", from.Time(), to.Time()); got != want {
			t.Fatalf("%s worked from %s to %s, want %s", got, from.short(), to.short(), want)
		}
		at, ok := cal.firstWorked(from, to)
		if ok != (cal.Worked(from, to) > 0) || ok && (cal.Worked(from, at) > 0 || cal.Worked(at, at+1) == 0) {
			t.Fatalf("the first working moment from %s to %s is %s (%v)", from.short(), to.short(), at.short(), ok)
		}
	})
}
