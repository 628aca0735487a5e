package downtime

import (
	"fmt"
	"math"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"gullet/analyze"
)

// dayText is a day's sums and events as a person would write them.
func dayText(d *Day) string {
	var b strings.Builder
	fmt.Fprintf(&b, "%s from %s to %s\n", d.Date, d.From.short(), d.To.short())
	for _, t := range d.Times {
		fmt.Fprintf(&b, "%s|%s|%s|%s %s\n", t.Shift, t.Element, t.Cause, t.Grade, t.Took)
	}
	for _, w := range d.Work {
		fmt.Fprintf(&b, "%s|%s: %d pieces, %d good, %d trips, %d breaks, %g in2, %d clashes of %s\n",
			w.Shift, w.Grade, w.Pieces, w.Good, w.Trips, w.Breaks, w.Area, w.Clashes, w.ClashTime)
	}
	for _, s := range d.Stops {
		fmt.Fprintf(&b, "stop %s to %s %s worked %s in %q after %s\n", s.From.short(), s.To.short(), s.Cause, s.Worked, s.Shift, s.Operated)
	}
	for _, m := range d.Marks {
		fmt.Fprintf(&b, "mark %d at %s after %s and %g in2\n", m.Kind, m.At.short(), m.Operated, m.Area)
	}
	return b.String()
}

func TestDays(t *testing.T) {
	in := told(t, `
		05:30 online
		06:00 idle setup
		06:10 cutting
		06:20 cut 10m A36
		06:30 trip 5m A36
		06:34 cutting
		06:40 cut 5m A36
		06:50 cut 5m 1018
		06:50 stopped
		06:52 cutting
		07:00 cut 8m 1018
		13:50 stopped fault
		14:20 cutting
		14:30 cut 10m 1018
		14:30 off
		2d 06:00 cutting`)
	for i := range in.Passes {
		in.Passes[i].Area = 10
	}
	from, to := clock(t, "00:00"), clock(t, "2d 00:00")
	cal := NewCalendar(shop(t), "s1", from.Time(), to.Time())
	rules := someRules()
	rules.ToldFor = time.Hour
	days := Build(in, cal, rules, nil, from, to).Days()
	if len(days) != 2 {
		t.Fatalf("%d days", len(days))
	}
	want := `2026-03-02 from 00:00 to 1d 00:00
|unscheduled|| 6h0m0s
early|setup|setup| 10m0s
early|production||A36 20m0s
early|setup|between-cuts|A36 11m0s
early|delay|deviation-trip|A36 4m0s
early|production||1018 13m0s
early|down|minor-stops|1018 2m0s
early|down|unexplained|1018 6h20m0s
early|unscheduled|unexplained|1018 30m0s
early|down|fault|1018 10m0s
late|down|fault|1018 20m0s
late|production||1018 10m0s
late|down|unexplained|1018 7h30m0s
|unscheduled|unexplained|1018 2h0m0s
early|A36: 2 pieces, 1 good, 1 trips, 0 breaks, 30 in2, 0 clashes of 0s
early|1018: 2 pieces, 2 good, 0 trips, 0 breaks, 20 in2, 0 clashes of 0s
late|1018: 1 pieces, 1 good, 0 trips, 0 breaks, 10 in2, 0 clashes of 0s
stop 06:00 to 06:10 setup worked 10m0s in "early" after 0s
stop 06:30 to 06:34 deviation-trip worked 4m0s in "early" after 30m0s
stop 06:50 to 06:52 unexplained worked 2m0s in "early" after 46m0s
stop 07:00 to 13:50 unexplained worked 6h20m0s in "early" after 54m0s
stop 13:50 to 14:20 fault worked 30m0s in "early" after 54m0s
stop 14:30 to 2d 06:00 unexplained worked 23h0m0s in "late" after 1h4m0s
mark 0 at 06:30 after 30m0s and 20 in2
2026-03-03 from 1d 00:00 to 2d 00:00
|unscheduled|unexplained|1018 8h0m0s
early|down|unexplained|1018 7h30m0s
early|unscheduled|unexplained|1018 30m0s
late|down|unexplained|1018 8h0m0s
`
	if got := dayText(&days[0]) + dayText(&days[1]); got != want {
		t.Errorf("got\n%s\nwant\n%s", got, want)
	}
}

// A day is read as it was written, and not at all when a byte is missing.
func TestPack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := someDay(t)
		sums, events := d.Pack()
		got := Day{Date: d.Date, From: d.From, To: d.To}
		if err := got.UnpackSums(sums); err != nil {
			t.Fatal(err)
		}
		if err := got.UnpackEvents(events); err != nil {
			t.Fatal(err)
		}
		if !reflect.DeepEqual(got, d) {
			t.Fatalf("packed\n%+v\nunpacked\n%+v", d, got)
		}
		cut := rapid.IntRange(0, len(events)-1).Draw(t, "cut")
		if err := got.UnpackEvents(events[:cut]); err == nil {
			t.Fatalf("%d of %d bytes were read", cut, len(events))
		}
	})
}

func someDay(t *rapid.T) Day {
	text := rapid.SampledFrom([]string{"", "early", "late", "A36", "waiting-crane", "Stähle"})
	took := rapid.Custom(func(t *rapid.T) time.Duration {
		return time.Duration(rapid.Int64Range(-1e9, 1e11).Draw(t, "µs")) * time.Microsecond
	})
	d := Day{From: Moment(rapid.Int64Range(-1e15, 1e16).Draw(t, "from")), Times: []Time{}, Work: []Work{}, Stops: []DayStop{}, Marks: []Mark{}}
	for range rapid.IntRange(0, 4).Draw(t, "n") {
		d.Times = append(d.Times, Time{text.Draw(t, "shift"), Element(text.Draw(t, "element")), analyze.Cause(text.Draw(t, "cause")), text.Draw(t, "grade"), took.Draw(t, "took")})
		d.Work = append(d.Work, Work{Shift: text.Draw(t, "shift"), Pieces: rapid.IntRange(0, 1000).Draw(t, "pieces"), Trips: 3, Standard: rapid.Float64().Draw(t, "standard"), ClashTime: took.Draw(t, "clash")})
		from := d.From + Moment(rapid.Int64Range(-1e9, 1e11).Draw(t, "at"))
		d.Stops = append(d.Stops, DayStop{Stop: Stop{
			From: from, To: from + 5, Parent: from - 3, Told: "a", Cause: analyze.Cause(text.Draw(t, "cause")), Explained: 7,
			Worked: took.Draw(t, "worked"), Minor: rapid.Bool().Draw(t, "minor"), Open: rapid.Bool().Draw(t, "open"),
		}, Operated: took.Draw(t, "operated")})
		d.Marks = append(d.Marks, Mark{At: from, Kind: MarkFit, Operated: took.Draw(t, "operated"), Area: rapid.Float64().Draw(t, "area")})
	}
	return d
}

// FuzzUnpack reads bytes that no Pack wrote.
func FuzzUnpack(f *testing.F) {
	d := Day{Times: []Time{{Shift: "early", Took: time.Hour}}, Stops: []DayStop{{Shift: "early"}}, Marks: []Mark{{Area: math.Pi}}}
	sums, events := d.Pack()
	f.Add(sums)
	f.Add(events)
	f.Fuzz(func(t *testing.T, in []byte) {
		var d Day
		for _, err := range []error{d.UnpackSums(in), d.UnpackEvents(slices.Clone(in))} {
			if err != nil && err != ErrPacked {
				t.Fatal(err)
			}
		}
	})
}
