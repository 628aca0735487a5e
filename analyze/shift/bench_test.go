package shift

import (
	"testing"
	"time"
)

// BenchmarkAfter turns the working time of 60 days into a moment, in a shop with
// three shifts a day, three breaks in each, and a change of the clock. Limit 100 µs.
func BenchmarkAfter(b *testing.B) {
	c := Calendar{Zone: zoneOf(b, "America/Chicago"), Rules: []Rule{
		rule(b, "early", "06:00-14:00", "08:00-08:15", "10:00-10:30", "12:00-12:15"),
		rule(b, "late", "14:00-22:00", "16:00-16:15", "18:00-18:30", "20:00-20:15"),
		rule(b, "night", "22:00-06:00", "00:00-00:15", "02:00-02:30", "04:00-04:15"),
	}}
	from := Wall(c.Zone, Date{2026, 10, 1}, 6*60)
	worked := c.Worked("s1", from, from.AddDate(0, 0, 60))
	b.ReportAllocs()
	for b.Loop() {
		if at, ok := c.After("s1", from, worked); !ok || at.Sub(from) < 59*24*time.Hour {
			b.Fatal(at, ok)
		}
	}
	b.ReportMetric(float64(b.Elapsed().Microseconds())/float64(b.N), "µs(limit:100)")
}

// BenchmarkAt is asked for each reading.
func BenchmarkAt(b *testing.B) {
	c := Default(zoneOf(b, "America/Chicago"))
	at := Wall(c.Zone, Date{2026, 6, 10}, 10*60)
	b.ReportAllocs()
	for b.Loop() {
		if _, ok := c.At("s1", at); !ok {
			b.Fatal("no shift")
		}
	}
}

// BenchmarkTurns is a year of one saw.
func BenchmarkTurns(b *testing.B) {
	c := Default(zoneOf(b, "America/Chicago"))
	from := Wall(c.Zone, Date{2026, 1, 1}, 0)
	b.ReportAllocs()
	for b.Loop() {
		if len(c.Turns("s1", from, from.AddDate(1, 0, 0))) < 1000 {
			b.Fatal("too few")
		}
	}
}
