package shift

import (
	"testing"
	"time"

	"pgregory.net/rapid"
)

func TestParseClock(t *testing.T) {
	for text, want := range map[string]Clock{"00:00": 0, "06:00": 360, "23:59": 1439} {
		if got, err := ParseClock(text); err != nil || got != want || got.String() != text {
			t.Errorf("%s is read as %d, %v, and written %s", text, got, err, got)
		}
	}
	for _, text := range []string{"", "6:00", "24:00", "06:60", "06:00:00", " 06:00", "06.00", "6 am"} {
		if got, err := ParseClock(text); err == nil {
			t.Errorf("%q is read as %s", text, got)
		}
	}
	_, err := ParseClock("24:00")
	if want := `time of day "24:00": want one such as "06:00", from "00:00" to "23:59"`; err.Error() != want {
		t.Errorf("error %v, want %s", err, want)
	}
}

func TestParseDate(t *testing.T) {
	if got, err := ParseDate("2028-02-29"); err != nil || got != (Date{2028, 2, 29}) || got.String() != "2028-02-29" {
		t.Errorf("read as %v, %v", got, err)
	}
	for _, text := range []string{"", "2026-02-29", "2026-13-01", "26-12-25", "25.12.2026", "2026-12-25 06:00"} {
		if got, err := ParseDate(text); err == nil {
			t.Errorf("%q is read as %s", text, got)
		}
	}
	_, err := ParseDate("2026-02-30")
	if want := `date "2026-02-30": want a day of the calendar such as "2026-12-25"`; err.Error() != want {
		t.Errorf("error %v, want %s", err, want)
	}
}

// The numbering of days agrees with the standard library's calendar, before 1970
// too.
func TestDaysAreNumbered(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		at := time.Unix(rapid.Int64Range(-4e9, 2e10).Draw(t, "s"), 0).UTC()
		d := DateOf(at)
		if dateOf(d.day()) != d {
			t.Fatalf("%s is day %d, which is %s", d, d.day(), dateOf(d.day()))
		}
		if got := weekday(d.day()); got != at.Weekday() {
			t.Fatalf("%s is a %s, want %s", d, got, at.Weekday())
		}
		if next := DateOf(at.AddDate(0, 0, 1)); next.day() != d.day()+1 {
			t.Fatalf("after day %d comes %d", d.day(), next.day())
		}
	})
}
