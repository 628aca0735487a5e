package shift

import (
	"fmt"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
)

// One shift a night, from the evening of the first date to the morning of the
// second, around the changes of the clock. Chicago's hours are those of the
// project's domain reference, section 6: 7 h and 9 h.
func TestNightsOnWhichTheClockIsChanged(t *testing.T) {
	for _, c := range []struct {
		name, zone, date, hours string
		breaks                  []string
		want                    string
		working                 []string
	}{
		{"an ordinary night", "America/Chicago", "2026-03-06", "22:00-06:00", nil,
			"2026-03-06 n 06 22:00 -0600 to 07 06:00 -0600, 480 min", nil},
		{"forward", "America/Chicago", "2026-03-07", "22:00-06:00", nil,
			"2026-03-07 n 07 22:00 -0600 to 08 06:00 -0500, 420 min", nil},
		{"back", "America/Chicago", "2026-10-31", "22:00-06:00", nil,
			"2026-10-31 n 31 22:00 -0500 to 01 06:00 -0600, 540 min", nil},
		{"forward in Europe", "Europe/Berlin", "2026-03-28", "22:00-06:00", nil,
			"2026-03-28 n 28 22:00 +0100 to 29 06:00 +0200, 420 min", nil},
		{"back in Europe", "Europe/Berlin", "2026-10-24", "22:00-06:00", nil,
			"2026-10-24 n 24 22:00 +0200 to 25 06:00 +0100, 540 min", nil},
		{"half an hour forward", "Australia/Lord_Howe", "2026-10-03", "22:00-06:00", nil,
			"2026-10-03 n 03 22:00 +1030 to 04 06:00 +1100, 450 min", nil},
		{"half an hour back", "Australia/Lord_Howe", "2026-04-04", "22:00-06:00", nil,
			"2026-04-04 n 04 22:00 +1100 to 05 06:00 +1030, 510 min", nil},
		{"where the clock is never changed", "Asia/Kolkata", "2026-03-28", "22:00-06:00", nil,
			"2026-03-28 n 28 22:00 +0530 to 29 06:00 +0530, 480 min", nil},
		{"a start that is missing", "America/Chicago", "2026-03-08", "02:30-10:30", nil,
			"2026-03-08 n 08 03:00 -0500 to 08 10:30 -0500, 450 min", nil},
		{"an end that is missing", "America/Chicago", "2026-03-07", "18:30-02:30", nil,
			"2026-03-07 n 07 18:30 -0600 to 08 03:00 -0500, 450 min", nil},
		{"a start that comes twice", "America/Chicago", "2026-11-01", "01:30-09:30", nil,
			"2026-11-01 n 01 01:30 -0500 to 01 09:30 -0600, 540 min", nil},
		{"an end that comes twice", "America/Chicago", "2026-10-31", "17:30-01:30", nil,
			"2026-10-31 n 31 17:30 -0500 to 01 01:30 -0500, 480 min", nil},
		{"a break that is missing", "America/Chicago", "2026-03-07", "22:00-06:00", []string{"02:00-02:30"},
			"2026-03-07 n 07 22:00 -0600 to 08 06:00 -0500, 420 min", []string{"07 22:00 -0600 to 08 06:00 -0500"}},
		{"a break that is half missing", "America/Chicago", "2026-03-07", "22:00-06:00", []string{"01:45-02:15"},
			"2026-03-07 n 07 22:00 -0600 to 08 06:00 -0500, 405 min", []string{"07 22:00 -0600 to 08 01:45 -0600", "08 03:00 -0500 to 08 06:00 -0500"}},
		{"a break that comes twice is the first", "America/Chicago", "2026-10-31", "22:00-06:00", []string{"01:00-01:30"},
			"2026-10-31 n 31 22:00 -0500 to 01 06:00 -0600, 510 min", []string{"31 22:00 -0500 to 01 01:00 -0500", "01 01:30 -0500 to 01 06:00 -0600"}},
		{"a whole day forward", "America/Chicago", "2026-03-08", "00:00-00:00", nil,
			"2026-03-08 n 08 00:00 -0600 to 09 00:00 -0500, 1380 min", nil},
	} {
		t.Run(c.name, func(t *testing.T) {
			zone := zoneOf(t, c.zone)
			only := rule(t, "n", c.hours, c.breaks...)
			d := date(t, c.date)
			only.Days = [7]bool{}
			only.Days[weekday(d.day())] = true
			calendar := Calendar{Zone: zone, Rules: []Rule{only}}
			noon := time.Date(d.Year, d.Month, d.Day, 12, 0, 0, 0, zone)
			turns := calendar.Turns("s1", noon.Add(-36*time.Hour), noon.Add(36*time.Hour))
			if diff := cmp.Diff([]string{c.want}, told(turns)); diff != "" {
				t.Fatalf("(-want +got):\n%s", diff)
			}
			if c.working == nil {
				return
			}
			var working []string
			for _, i := range turns[0].Working {
				working = append(working, i.String())
			}
			if diff := cmp.Diff(c.working, working); diff != "" {
				t.Errorf("working (-want +got):\n%s", diff)
			}
		})
	}
}

// Three shifts a day: those of the night sum to 420 and 540 minutes on the two
// nights, all others to 480, and the year to its hours.
func TestAYearAroundTheClock(t *testing.T) {
	zone := zoneOf(t, "America/Chicago")
	calendar := Default(zone)
	from, to := Wall(zone, Date{2026, 1, 1}, 6*60), Wall(zone, Date{2027, 1, 1}, 6*60)
	turns := calendar.Turns("s1", from, to)
	if len(turns) != 3*365 {
		t.Fatalf("%d shifts in a year, want %d", len(turns), 3*365)
	}
	odd := map[string]int{}
	end := from
	for _, turn := range turns {
		if !turn.Start.Equal(end) {
			t.Fatalf("a shift begins at %s, want %s", turn.Start, end)
		}
		if end = turn.End; turn.Worked != 8*time.Hour {
			odd[fmt.Sprint(turn.Date, " ", turn.Name)] = int(turn.Worked.Minutes())
		}
	}
	if diff := cmp.Diff(map[string]int{"2026-03-07 night": 420, "2026-10-31 night": 540}, odd); diff != "" {
		t.Errorf("not 480 min (-want +got):\n%s", diff)
	}
	if got := calendar.Worked("s1", from, to); got != 365*24*time.Hour {
		t.Errorf("worked %s in the year, want %s", got, 365*24*time.Hour)
	}
}

// shop is two shifts from Monday to Friday, a night on s2 alone, in a week with a
// holiday and two closures; 2026-11-23 is a Monday.
func shop(t testing.TB) *Calendar {
	night := rule(t, "night", "22:00-06:00", "02:00-02:30")
	night.Saws = []string{"s2"}
	return &Calendar{
		Zone: zoneOf(t, "America/Chicago"),
		Rules: []Rule{
			weekdays(rule(t, "late", "14:00-22:00", "18:00-18:30")),
			weekdays(rule(t, "early", "06:00-14:00", "10:00-10:30", "08:00-08:15")),
			weekdays(night),
		},
		Holidays: []Date{{2026, 11, 26}},
		Closed: []Closure{
			{From: moment(t, "2026-11-24 10:15 -0600"), To: moment(t, "2026-11-24 11:00 -0600"), Why: "drill"},
			{Saw: "s2", From: moment(t, "2026-11-27 13:00 -0600"), To: moment(t, "2026-11-28 12:00 -0600"), Why: "bearings"},
		},
	}
}

func TestTurns(t *testing.T) {
	for _, c := range []struct {
		name, saw, from, to string
		want                []string
	}{
		{"two shifts", "s1", "2026-11-23 06:00 -0600", "2026-11-23 22:00 -0600", []string{
			"2026-11-23 early 23 06:00 -0600 to 23 14:00 -0600, 435 min",
			"2026-11-23 late 23 14:00 -0600 to 23 22:00 -0600, 450 min"}},
		{"a shift that only overlaps is whole", "s1", "2026-11-23 13:59 -0600", "2026-11-23 14:00 -0600", []string{
			"2026-11-23 early 23 06:00 -0600 to 23 14:00 -0600, 435 min"}},
		{"a shift begun the day before", "s2", "2026-11-24 05:00 -0600", "2026-11-24 06:00 -0600", []string{
			"2026-11-23 night 23 22:00 -0600 to 24 06:00 -0600, 450 min"}},
		{"a closure over the end of a break", "s1", "2026-11-24 07:00 -0600", "2026-11-24 08:00 -0600", []string{
			"2026-11-24 early 24 06:00 -0600 to 24 14:00 -0600, 405 min"}},
		{"a closure before what is asked for", "s1", "2026-11-24 13:00 -0600", "2026-11-24 13:30 -0600", []string{
			"2026-11-24 early 24 06:00 -0600 to 24 14:00 -0600, 405 min"}},
		{"no shift begins on a holiday, but one ends", "s2", "2026-11-26 00:00 -0600", "2026-11-27 00:00 -0600", []string{
			"2026-11-25 night 25 22:00 -0600 to 26 06:00 -0600, 450 min"}},
		{"closed to the end and beyond", "s2", "2026-11-27 06:00 -0600", "2026-11-28 12:00 -0600", []string{
			"2026-11-27 early 27 06:00 -0600 to 27 14:00 -0600, 375 min",
			"2026-11-27 late 27 14:00 -0600 to 27 22:00 -0600, 0 min",
			"2026-11-27 night 27 22:00 -0600 to 28 06:00 -0600, 0 min"}},
		{"the closure is of one saw", "s1", "2026-11-27 13:00 -0600", "2026-11-27 14:00 -0600", []string{
			"2026-11-27 early 27 06:00 -0600 to 27 14:00 -0600, 435 min"}},
		{"a weekend", "s1", "2026-11-28 00:00 -0600", "2026-11-30 06:00 -0600", nil},
		{"nothing", "s1", "2026-11-23 08:00 -0600", "2026-11-23 08:00 -0600", nil},
		{"backwards", "s1", "2026-11-24 08:00 -0600", "2026-11-23 08:00 -0600", nil},
		{"asked in another zone", "s1", "2026-11-23 20:00 +0000", "2026-11-24 04:00 +0000", []string{
			"2026-11-23 late 23 14:00 -0600 to 23 22:00 -0600, 450 min"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			got := told(shop(t).Turns(c.saw, moment(t, c.from), moment(t, c.to)))
			if diff := cmp.Diff(c.want, got); diff != "" {
				t.Errorf("(-want +got):\n%s", diff)
			}
		})
	}
}

// Unsorted breaks and closures that meet give intervals in order and apart, in
// the calendar's zone.
func TestWorkingIsInOrder(t *testing.T) {
	turn, ok := shop(t).At("s1", moment(t, "2026-11-24 18:00 +0000"))
	want := []string{"24 06:00 -0600 to 24 08:00 -0600", "24 08:15 -0600 to 24 10:00 -0600", "24 11:00 -0600 to 24 14:00 -0600"}
	var got []string
	for _, i := range turn.Working {
		got = append(got, i.String())
	}
	if diff := cmp.Diff(want, got); !ok || diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
}

func TestAtIsHalfOpen(t *testing.T) {
	for at, want := range map[string]string{
		"2026-11-23 05:59 -0600": "", "2026-11-23 06:00 -0600": "early", "2026-11-23 13:59 -0600": "early",
		"2026-11-23 14:00 -0600": "late", "2026-11-23 22:00 -0600": "night", "2026-11-24 06:00 -0600": "early",
		"2026-11-26 05:59 -0600": "night", "2026-11-26 06:00 -0600": "", "2026-11-23 10:15 -0600": "early", // at lunch
	} {
		turn, ok := shop(t).At("s2", moment(t, at))
		if turn.Name != want || ok != (want != "") {
			t.Errorf("at %s the shift is %q (%v), want %q", at, turn.Name, ok, want)
		}
	}
}

func TestWorked(t *testing.T) {
	for _, c := range []struct {
		name, from, to string
		minutes        int
	}{
		{"a week with a holiday and a closure", "2026-11-23 00:00 -0600", "2026-11-30 00:00 -0600", 4*(435+450) - 30},
		{"up to a break", "2026-11-23 07:00 -0600", "2026-11-23 08:00 -0600", 60},
		{"inside a break", "2026-11-23 10:05 -0600", "2026-11-23 10:25 -0600", 0},
		{"over a break", "2026-11-23 09:50 -0600", "2026-11-23 10:40 -0600", 20},
		{"over the change of shift", "2026-11-23 13:00 -0600", "2026-11-23 15:00 -0600", 120},
		{"outside", "2026-11-23 22:00 -0600", "2026-11-24 06:00 -0600", 0},
		{"backwards", "2026-11-24 06:00 -0600", "2026-11-23 06:00 -0600", 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			if got := shop(t).Worked("s1", moment(t, c.from), moment(t, c.to)); got != time.Duration(c.minutes)*time.Minute {
				t.Errorf("worked %s, want %d min", got, c.minutes)
			}
		})
	}
}

func TestAfter(t *testing.T) {
	for _, c := range []struct {
		name, from string
		worked     time.Duration
		want       string
	}{
		{"within a shift", "2026-11-23 06:00 -0600", time.Hour, "2026-11-23 07:00 -0600"},
		{"up to a break is its beginning", "2026-11-23 06:00 -0600", 2 * time.Hour, "2026-11-23 08:00 -0600"},
		{"a minute more is behind it", "2026-11-23 06:00 -0600", 121 * time.Minute, "2026-11-23 08:16 -0600"},
		{"to the end of a shift is that end", "2026-11-23 12:00 -0600", 10*time.Hour - 30*time.Minute, "2026-11-23 22:00 -0600"},
		{"over a night", "2026-11-23 21:00 -0600", 2 * time.Hour, "2026-11-24 07:00 -0600"},
		{"over a holiday", "2026-11-25 21:30 -0600", time.Hour, "2026-11-27 06:30 -0600"},
		{"no time", "2026-11-28 21:30 -0600", 0, "2026-11-28 21:30 -0600"},
		{"less than none", "2026-11-28 21:30 -0600", -time.Hour, "2026-11-28 21:30 -0600"},
	} {
		t.Run(c.name, func(t *testing.T) {
			got, ok := shop(t).After("s1", moment(t, c.from), c.worked)
			if want := moment(t, c.want); !ok || !got.Equal(want) {
				t.Errorf("after %s it is %s (%v), want %s", c.worked, got, ok, want)
			}
		})
	}
}

func TestAfterGivesUp(t *testing.T) {
	only := rule(t, "early", "06:00-07:00")
	only.Saws = []string{"s1"}
	from := moment(t, "2026-11-23 06:00 +0000")
	calendar := &Calendar{Rules: []Rule{only}}
	if at, ok := calendar.After("s1", from, 400*time.Hour); !ok || !at.Equal(from.AddDate(0, 0, 399).Add(time.Hour)) {
		t.Errorf("400 shifts of an hour end at %s (%v)", at, ok)
	}
	for _, c := range []struct {
		saw    string
		worked time.Duration
	}{{"s1", 400*time.Hour + 1}, {"s1", 1<<63 - 1}, {"s2", 1}} {
		if at, ok := calendar.After(c.saw, from, c.worked); ok || !at.IsZero() {
			t.Errorf("%s has worked %s at %s", c.saw, c.worked, at)
		}
	}
	calendar.Closed = []Closure{{From: from, To: from.AddDate(2, 0, 0)}}
	if at, ok := calendar.After("s1", from, 1); ok {
		t.Errorf("a closed shop has worked at %s", at)
	}
}

func TestNext(t *testing.T) {
	calendar := shop(t)
	for at, want := range map[string]string{
		"2026-11-23 05:00 -0600": "2026-11-23 06:00 -0600",
		"2026-11-23 06:00 -0600": "2026-11-23 14:00 -0600",
		"2026-11-23 13:59 -0600": "2026-11-23 14:00 -0600",
		"2026-11-23 22:00 -0600": "2026-11-24 06:00 -0600",
		"2026-11-25 23:00 -0600": "2026-11-27 06:00 -0600",
	} {
		if got, ok := calendar.Next("s1", moment(t, at)); !ok || !got.Equal(moment(t, want)) {
			t.Errorf("after %s comes %s (%v), want %s", at, got, ok, want)
		}
	}
	if at, ok := (&Calendar{Rules: []Rule{{Name: "never", Start: 1, Saws: []string{"s9"}, Days: everyDay}}}).Next("s1", time.Time{}); ok {
		t.Errorf("a saw without shifts has a boundary at %s", at)
	}
}

func TestTheDefault(t *testing.T) {
	calendar := Default(time.UTC)
	if !calendar.IsDefault() || calendar.Note() != "around the clock: no [[shift]] is configured" || calendar.Check() != nil {
		t.Errorf("default %v, noted %q, checked %v", calendar.IsDefault(), calendar.Note(), calendar.Check())
	}
	want := []string{
		"2026-11-23 night 23 22:00 +0000 to 24 06:00 +0000, 480 min",
		"2026-11-24 early 24 06:00 +0000 to 24 14:00 +0000, 480 min",
		"2026-11-24 late 24 14:00 +0000 to 24 22:00 +0000, 480 min",
		"2026-11-24 night 24 22:00 +0000 to 25 06:00 +0000, 480 min",
	}
	from := moment(t, "2026-11-24 00:00 +0000")
	for name, c := range map[string]*Calendar{"default": calendar, "the zero calendar": {}} {
		if diff := cmp.Diff(want, told(c.Turns("any", from, from.AddDate(0, 0, 1)))); diff != "" {
			t.Errorf("%s (-want +got):\n%s", name, diff)
		}
	}
	if s := shop(t); s.IsDefault() || s.Note() != "" {
		t.Errorf("a configured shop is default (%v): %q", s.IsDefault(), s.Note())
	}
}

// A shift on a date that the clock skips is left out.
func TestASkippedDay(t *testing.T) {
	zone := zoneOf(t, "Pacific/Apia")
	from := Wall(zone, Date{2011, 12, 29}, 0)
	got := told((&Calendar{Zone: zone, Rules: []Rule{rule(t, "day", "06:00-14:00")}}).Turns("s1", from, from.Add(48*time.Hour)))
	want := []string{
		"2011-12-29 day 29 06:00 -1000 to 29 14:00 -1000, 480 min",
		"2011-12-31 day 31 06:00 +1400 to 31 14:00 +1400, 480 min",
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
}

// The clock of St. John's went back at 00:01, over midnight: the shift of the
// next date had begun when the wall showed the evening before again.
func TestAShiftBegunBeforeTheDayCameTwice(t *testing.T) {
	zone := zoneOf(t, "America/St_Johns")
	c := &Calendar{Zone: zone, Rules: []Rule{rule(t, "night", "00:00-08:00")}}
	turn, ok := c.At("s1", moment(t, "2010-11-06 23:15 -0330"))
	if want := "2010-11-07 night 07 00:00 -0230 to 07 08:00 -0330, 540 min"; !ok || told([]Turn{turn})[0] != want {
		t.Errorf("in %s (%v), want %s", told([]Turn{turn}), ok, want)
	}
}
