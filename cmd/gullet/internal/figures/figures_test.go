package figures

import (
	"testing"
	"time"
)

func TestNumbers(t *testing.T) {
	inch, metric := Style{}, Style{Metric: true}
	for _, c := range []struct{ what, got, want string }{
		{"thousands of 0", Thousands(0), "0"},
		{"thousands of 999", Thousands(999), "999"},
		{"thousands of 1000", Thousands(1000), "1,000"},
		{"thousands of 1234567", Thousands(1234567), "1,234,567"},
		{"thousands of -1234", Thousands(-1234), "-1,234"},
		{"three figures of 0", inch.Area(0), "0"},
		{"three figures of 0.6", inch.Area(0.6), "1"},
		{"three figures of 12.4", inch.Area(12.4), "12"},
		{"three figures of 999.6", inch.Area(999.6), "1,000"},
		{"three figures of 12,349", inch.Area(12349), "12,300"},
		{"three figures of 987,654", inch.Area(987654), "988,000"},
		// 1 in² is 6.4516 cm² exactly (25.4 mm to the inch, 1959).
		{"100 in² in cm²", metric.Area(100), "645"},
		{"1,234.4 in² counted", inch.Whole(1234.4), "1,234"},
		{"1,000 in² counted in cm²", metric.Whole(1000), "6,452"},
		{"0.01 in in mm", metric.Length(0.01), "+0.25"},
		{"-0.0123 in", inch.Length(-0.0123), "-0.0123"},
		{"zero has no sign", Signed(0, 4), "0.0000"},
		{"less than a figure has no sign", Signed(-0.00001, 4), "0.0000"},
		{"more than a figure has one", Signed(-0.00006, 4), "-0.0001"},
	} {
		if c.got != c.want {
			t.Errorf("%s: %q, want %q", c.what, c.got, c.want)
		}
	}
}

func TestAge(t *testing.T) {
	for d, want := range map[time.Duration]string{
		-time.Minute: "0 s", 0: "0 s", 59 * time.Second: "59 s", time.Minute: "1 min",
		119 * time.Minute: "119 min", 2 * time.Hour: "2 h", 47 * time.Hour: "47 h", 48 * time.Hour: "2 d", 500 * 24 * time.Hour: "500 d",
	} {
		if got := Age(d); got != want {
			t.Errorf("%s: %q, want %q", d, got, want)
		}
	}
}

func TestMoments(t *testing.T) {
	now := time.Date(2026, 3, 4, 1, 30, 0, 0, time.UTC) // Wednesday
	west := Style{Zone: time.FixedZone("west", -6*60*60)}
	utc := Style{Zone: time.UTC}
	for _, c := range []struct {
		what, got, want string
	}{
		{"today", utc.Moment(now.Add(-time.Hour), now), "00:30"},
		{"yesterday", utc.Moment(now.Add(-2*time.Hour), now), "Tue 23:30"},
		{"the same in the shop's zone is today", west.Moment(now.Add(-2*time.Hour), now), "17:30"},
		{"within six days", utc.Moment(now.Add(-6*24*time.Hour+time.Second), now), "Thu 01:30"},
		{"a week ago", utc.Moment(now.Add(-7*24*time.Hour), now), "25 Feb 2026 01:30"},
		{"a day this year", utc.Day(now.Add(24*time.Hour), now), "Thu 5 Mar"},
		{"a day of the shop's zone", west.Day(now, now), "Tue 3 Mar"},
		{"a day of next year", utc.Day(now.AddDate(1, 0, 0), now), "4 Mar 2027"},
	} {
		if c.got != c.want {
			t.Errorf("%s: %q, want %q", c.what, c.got, c.want)
		}
	}
}
