package config

import (
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"gullet/analyze/shift"
)

// What a file says of its shifts is what the calendar has, with local times in
// the shop's zone wherever the zone comes from.
func TestCalendar(t *testing.T) {
	l := load(t, `
[shop]
zone = "America/Chicago"
holidays = ["2026-12-25", 2027-01-01]
[[saw]]
name = "s1"
[[saw]]
name = "plant-2/saws/s2"
[[shift]]
name = "night"
start = "22:00"
end = "06:30"
days = ["sun", "mon", "sat", "mon"]
breaks = ["23:45-00:15", "02:00-02:30"]
saws = ["saws/s1", "plant-2/saws/s2"]
[[closed]]
saw = "saws/s1"
from = "2026-12-28 06:00"
to = "2026-12-28T15:00:00+02:00"
why = "guides"
[[closed]]
from = 2026-07-01T06:00:00
to = 2026-07-01T14:00:00Z
why = "stock-taking"
`)
	chicago, err := time.LoadLocation("America/Chicago")
	if err != nil {
		t.Fatal(err)
	}
	want := &shift.Calendar{
		Zone: chicago,
		Rules: []shift.Rule{{
			Name: "night", Start: 22 * 60, End: 6*60 + 30, Days: [7]bool{true, true, false, false, false, false, true},
			Breaks: []shift.Span{{From: 23*60 + 45, To: 15}, {From: 120, To: 150}}, Saws: []string{"s1", "plant-2/saws/s2"},
		}},
		Holidays: []shift.Date{{Year: 2026, Month: 12, Day: 25}, {Year: 2027, Month: 1, Day: 1}},
		Closed: []shift.Closure{
			{Saw: "s1", From: time.Date(2026, 12, 28, 12, 0, 0, 0, time.UTC), To: time.Date(2026, 12, 28, 13, 0, 0, 0, time.UTC), Why: "guides"},
			{From: time.Date(2026, 7, 1, 11, 0, 0, 0, time.UTC), To: time.Date(2026, 7, 1, 14, 0, 0, 0, time.UTC), Why: "stock-taking"},
		},
	}
	if diff := cmp.Diff(want, l.Calendar(), cmp.Comparer(sameZone)); diff != "" {
		t.Errorf("-want +got:\n%s", diff)
	}
}

func sameZone(a, b *time.Location) bool { return a.String() == b.String() }

// The example's shop works two shifts a day from Monday to Friday; a file that
// says nothing works around the clock.
func TestCalendarOfTheExample(t *testing.T) {
	c := load(t, Example).Calendar()
	if err := c.Check(); err != nil || c.IsDefault() {
		t.Fatalf("checked %v, default %v", err, c.IsDefault())
	}
	monday := time.Date(2026, 11, 23, 0, 0, 0, 0, time.UTC)
	for _, saw := range []string{"s1", "s5"} {
		turns := c.Turns(saw, monday, monday.AddDate(0, 0, 7))
		if len(turns) != 10 || turns[0].Name != "early" || turns[1].Name != "late" || turns[1].End.Sub(turns[0].Start) != 16*time.Hour {
			t.Errorf("%s has the shifts %v, want ten", saw, turns)
		}
	}
	if got, want := c.Worked("s1", monday, monday.AddDate(0, 0, 1)), 16*time.Hour-75*time.Minute; got != want {
		t.Errorf("a day works %s, want %s", got, want)
	}
	closed := time.Date(2026, 12, 28, 6, 0, 0, 0, time.UTC)
	if got := c.Worked("s4", closed, closed.Add(8*time.Hour)); got != 0 {
		t.Errorf("s4 works %s while it is closed", got)
	}
	if c := nothing(t).Calendar(); !c.IsDefault() || c.Zone != time.UTC {
		t.Errorf("without a file %+v", c)
	}
}

// The zone may come from the environment, above the file.
func TestLocalTimesAreInTheZoneInForce(t *testing.T) {
	file := write(t, "[[closed]]\nfrom = \"2026-12-28 06:00\"\nto = \"2026-12-28 07:00\"\nwhy = \"guides\"\n")
	l, err := Load(Options{File: file, Env: []string{"GULLET_SHOP_ZONE=Europe/Berlin"}})
	if err != nil {
		t.Fatal(err)
	}
	if got, want := l.Closed[0].From, time.Date(2026, 12, 28, 5, 0, 0, 0, time.UTC); !got.Equal(want) {
		t.Errorf("closed from %s, want %s", got, want)
	}
}
