package shift

import (
	"testing"
	"time"

	"pgregory.net/rapid"
)

// The dates and offsets are those of the IANA time zone database.
func TestWall(t *testing.T) {
	for _, c := range []struct {
		name, zone, date, at, want string
	}{
		{"an ordinary day", "America/Chicago", "2026-11-25", "06:00", "2026-11-25 06:00 -0600"},
		{"before a missing hour", "America/Chicago", "2026-03-08", "01:59", "2026-03-08 01:59 -0600"},
		{"in a missing hour", "America/Chicago", "2026-03-08", "02:30", "2026-03-08 03:00 -0500"},
		{"after a missing hour", "America/Chicago", "2026-03-08", "03:00", "2026-03-08 03:00 -0500"},
		{"before an hour that comes twice", "America/Chicago", "2026-11-01", "00:59", "2026-11-01 00:59 -0500"},
		{"in an hour that comes twice", "America/Chicago", "2026-11-01", "01:30", "2026-11-01 01:30 -0500"},
		{"after an hour that comes twice", "America/Chicago", "2026-11-01", "02:00", "2026-11-01 02:00 -0600"},
		{"a missing hour in Europe", "Europe/Berlin", "2026-03-29", "02:00", "2026-03-29 03:00 +0200"},
		{"an hour twice in Europe", "Europe/Berlin", "2026-10-25", "02:59", "2026-10-25 02:59 +0200"},
		{"a missing half hour", "Australia/Lord_Howe", "2026-10-04", "02:15", "2026-10-04 02:30 +1100"},
		{"behind a missing half hour", "Australia/Lord_Howe", "2026-10-04", "02:30", "2026-10-04 02:30 +1100"},
		{"a half hour twice", "Australia/Lord_Howe", "2026-04-05", "01:45", "2026-04-05 01:45 +1100"},
		{"behind a half hour twice", "Australia/Lord_Howe", "2026-04-05", "02:00", "2026-04-05 02:00 +1030"},
		{"no daylight saving", "Asia/Kolkata", "2026-03-29", "02:30", "2026-03-29 02:30 +0530"},
		{"UTC", "UTC", "2026-03-29", "02:30", "2026-03-29 02:30 +0000"},
		{"a midnight that is missing", "America/Santiago", "2026-09-06", "00:00", "2026-09-06 01:00 -0300"},
		{"an hour before midnight twice", "America/Santiago", "2026-04-04", "23:30", "2026-04-04 23:30 -0300"},
		{"behind it", "America/Santiago", "2026-04-05", "00:00", "2026-04-05 00:00 -0400"},
		{"a day that is missing", "Pacific/Apia", "2011-12-30", "12:00", "2011-12-31 00:00 +1400"},
		{"as far ahead as rules go", "America/Chicago", "2199-07-01", "06:00", "2199-07-01 06:00 -0500"},
	} {
		t.Run(c.name, func(t *testing.T) {
			want := moment(t, c.want)
			got := Wall(zoneOf(t, c.zone), date(t, c.date), clock(t, c.at))
			if !got.Equal(want) {
				t.Errorf("%s %s in %s is %s, want %s", c.date, c.at, c.zone, got, want)
			}
		})
	}
}

var zones = []string{"America/Chicago", "Europe/Berlin", "Australia/Lord_Howe", "Asia/Kolkata", "UTC",
	"America/Santiago", "Pacific/Apia", "Africa/Casablanca", "America/St_Johns"}

// someDate is mostly one near a change of the clock.
func someDate(t *rapid.T) Date {
	near := []int64{date0("2026-03-08"), date0("2026-11-01"), date0("2026-03-29"), date0("2026-10-25"),
		date0("2026-10-04"), date0("2026-04-05"), date0("2026-09-06"), date0("2011-12-30")}
	if rapid.IntRange(0, 3).Draw(t, "any") == 0 {
		near = []int64{rapid.Int64Range(10000, 30000).Draw(t, "day")}
	}
	return dateOf(rapid.SampledFrom(near).Draw(t, "near") + rapid.Int64Range(-2, 2).Draw(t, "off"))
}

func date0(s string) int64 { d, _ := ParseDate(s); return d.day() }

// Wall is the earliest moment that shows the time or a later one: a second before,
// and at every quarter of an hour before that within a day and a half, the wall
// shows an earlier one. Whatever was asked before.
func TestWallIsTheEarliest(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		zone, err := time.LoadLocation(rapid.SampledFrom(zones).Draw(t, "zone"))
		if err != nil {
			t.Fatal(err)
		}
		shown := func(at time.Time) int64 { _, offset := at.In(zone).Zone(); return at.Unix() + int64(offset) }
		w := wall{zone: zone}
		for range 3 {
			want := someDate(t).day()*secondsPerDay + rapid.Int64Range(0, 1439).Draw(t, "at")*60
			got := w.moment(want)
			if shown(got) < want {
				t.Fatalf("%s shows an earlier time", got)
			}
			for before := time.Second; before < 36*time.Hour; before += 15 * time.Minute {
				if at := got.Add(-before); shown(at) >= want {
					t.Fatalf("%s shows it before %s", at, got)
				}
			}
		}
	})
}
