package shift

import (
	"cmp"
	"fmt"
	"time"
)

// Clock is a time of day on the wall, in minutes since midnight: 0 to 1439.
type Clock int

// wallDay is the minutes a day has on the wall.
const wallDay = 24 * 60

// ParseClock reads "06:00", from "00:00" to "23:59".
func ParseClock(s string) (Clock, error) {
	t, err := time.Parse("15:04", s)
	if err != nil || len(s) != len("15:04") {
		return 0, fmt.Errorf("time of day %q: want one such as \"06:00\", from \"00:00\" to \"23:59\"", s)
	}
	return Clock(t.Hour()*60 + t.Minute()), nil
}

func (c Clock) String() string { return fmt.Sprintf("%02d:%02d", int(c)/60, int(c)%60) }

func (c Clock) valid() bool { return 0 <= c && c < wallDay }

// after is how many minutes on the wall it takes from one time of day to the
// next time it is the other, 1 to 1440.
func (c Clock) after(from Clock) int { return (int(c-from)+wallDay-1)%wallDay + 1 }

// Date is a day of the calendar on the wall.
type Date struct {
	Year  int
	Month time.Month
	Day   int
}

// ParseDate reads "2026-12-25". A day that no month has is refused.
func ParseDate(s string) (Date, error) {
	t, err := time.Parse(time.DateOnly, s)
	if err != nil {
		return Date{}, fmt.Errorf("date %q: want a day of the calendar such as \"2026-12-25\"", s)
	}
	return DateOf(t), nil
}

// DateOf is the date at t, in the zone that t is in.
func DateOf(t time.Time) Date {
	y, m, d := t.Date()
	return Date{y, m, d}
}

func (d Date) String() string { return fmt.Sprintf("%04d-%02d-%02d", d.Year, d.Month, d.Day) }

// secondsPerDay are those of a day on the wall; walls know no leap seconds.
const secondsPerDay = 24 * 60 * 60

// day numbers the days, 0 on 1970-01-01.
func (d Date) day() int64 {
	return floorDiv(time.Date(d.Year, d.Month, d.Day, 0, 0, 0, 0, time.UTC).Unix(), secondsPerDay)
}

// Before reports whether the date is an earlier one.
func (d Date) Before(other Date) bool {
	return cmp.Or(cmp.Compare(d.Year, other.Year), cmp.Compare(d.Month, other.Month), cmp.Compare(d.Day, other.Day)) < 0
}

// Add is so many days later.
func (d Date) Add(days int) Date { return dateOf(d.day() + int64(days)) }

// Weekday is the day of the week.
func (d Date) Weekday() time.Weekday { return weekday(d.day()) }

func dateOf(day int64) Date { return DateOf(time.Unix(day*secondsPerDay, 0).UTC()) }

// weekday of the numbered day; day 0 was a Thursday.
func weekday(day int64) time.Weekday {
	return time.Weekday(day + 4 - 7*floorDiv(day+4, 7))
}

func floorDiv(a, b int64) int64 {
	if a < 0 {
		return -((-a + b - 1) / b)
	}
	return a / b
}
