package shift

import (
	"testing"
	"time"

	"pgregory.net/rapid"
)

// someCalendar is sound: shifts of a day one after the other, breaks inside
// them, and closures anywhere near the time someTime draws.
func someCalendar(t *rapid.T) *Calendar {
	name := rapid.SampledFrom(zones).Draw(t, "zone")
	zone, err := time.LoadLocation(name)
	if err != nil {
		t.Fatal(err)
	}
	c := &Calendar{Zone: zone}
	first, at := rapid.IntRange(0, 1439).Draw(t, "first"), 0
	for range rapid.IntRange(0, 3).Draw(t, "shifts") {
		start := at + rapid.IntRange(0, 300).Draw(t, "gap")
		length := rapid.IntRange(1, 700).Draw(t, "length")
		if at = start + length; at > wallDay {
			break
		}
		r := Rule{Name: "shift", Start: Clock((first + start) % wallDay), End: Clock((first + at) % wallDay), Days: everyDay}
		r.Days[rapid.IntRange(0, 6).Draw(t, "day off")] = false
		for lunch := start; lunch+1 < at && rapid.Bool().Draw(t, "a break"); {
			from := rapid.IntRange(lunch, at-1).Draw(t, "from")
			lunch = rapid.IntRange(from+1, at).Draw(t, "to")
			r.Breaks = append(r.Breaks, Span{Clock((first + from) % wallDay), Clock((first + lunch) % wallDay)})
		}
		c.Rules = append(c.Rules, r)
	}
	for range rapid.IntRange(0, 2).Draw(t, "holidays") {
		c.Holidays = append(c.Holidays, someDate(t))
	}
	for range rapid.IntRange(0, 3).Draw(t, "closures") {
		from := someTime(t)
		c.Closed = append(c.Closed, Closure{Saw: rapid.SampledFrom([]string{"", "s1", "s2"}).Draw(t, "saw"),
			From: from, To: from.Add(1 + time.Duration(rapid.Int64Range(0, int64(50*time.Hour)).Draw(t, "closed")))})
	}
	if err := c.Check(); err != nil {
		t.Fatal(err)
	}
	return c
}

func someTime(t *rapid.T) time.Time {
	return time.Unix(someDate(t).day()*secondsPerDay, 0).Add(time.Duration(rapid.Int64Range(0, int64(24*time.Hour)).Draw(t, "in the day")))
}

// Shifts and their working time are in order and apart, begin on their date, sum
// to what was worked, and At finds each by its first and last moment only.
func TestTurnsAreInOrderAndSum(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := someCalendar(t)
		from := someTime(t)
		to := from.Add(time.Duration(rapid.IntRange(1, 200).Draw(t, "hours")) * time.Hour)
		var last time.Time
		for _, turn := range c.Turns("s1", from, to) {
			if turn.Start.Before(last) || !turn.Start.Before(turn.End) || !turn.End.After(from) || !turn.Start.Before(to) {
				t.Fatalf("a shift from %s to %s after one to %s, asked for %s to %s", turn.Start, turn.End, last, from, to)
			}
			last = turn.End
			if got := turn.Start.Location(); got != c.Zone {
				t.Fatalf("told in %s", got)
			}
			worked, at := time.Duration(0), turn.Start
			for _, i := range turn.Working {
				if i.From.Before(at) || !i.From.Before(i.To) || i.To.After(turn.End) {
					t.Fatalf("working %s in a shift from %s, after %s, to %s", i, turn.Start, at, turn.End)
				}
				at = i.To
				worked += i.To.Sub(i.From)
			}
			if got := c.Worked("s1", turn.Start, turn.End); worked != turn.Worked || got != worked {
				t.Fatalf("intervals sum to %s, the shift says %s, Worked %s", worked, turn.Worked, got)
			}
			for _, at := range []time.Time{turn.Start, turn.End.Add(-1)} {
				if found, ok := c.At("s1", at); !ok || !found.Start.Equal(turn.Start) {
					t.Fatalf("at %s the shift is that from %s (%v), want that from %s", at, found.Start, ok, turn.Start)
				}
			}
			if found, ok := c.At("s1", turn.End); ok && found.Start.Equal(turn.Start) {
				t.Fatalf("the end %s is in the shift", turn.End)
			}
		}
	})
}

func TestWorkedIsAdditive(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := someCalendar(t)
		from := someTime(t)
		split := from.Add(time.Duration(rapid.Int64Range(0, int64(100*time.Hour)).Draw(t, "split")))
		to := split.Add(time.Duration(rapid.Int64Range(0, int64(100*time.Hour)).Draw(t, "to")))
		whole, first, second := c.Worked("s1", from, to), c.Worked("s1", from, split), c.Worked("s1", split, to)
		if whole != first+second {
			t.Fatalf("%s from %s to %s, but %s and %s around %s", whole, from, to, first, second, split)
		}
		if whole < 0 || whole > to.Sub(from) {
			t.Fatalf("%s worked of %s", whole, to.Sub(from))
		}
	})
}

// Worked of After is what was asked for unless 400 days hold less, a moment earlier it is less, and After
// of Worked comes back to where the work ended.
func TestAfterAndWorkedInvertEachOther(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := someCalendar(t)
		from := someTime(t)
		want := time.Duration(rapid.Int64Range(1, int64(300*time.Hour)).Draw(t, "worked"))
		at, ok := c.After("s1", from, want)
		if !ok {
			if could := c.Worked("s1", from, from.Add(horizon)); could >= want {
				t.Fatalf("%s of work never done, but %s in 400 days", want, could)
			}
			return
		}
		if got := c.Worked("s1", from, at); got != want {
			t.Fatalf("worked %s at %s, want %s", got, at, want)
		}
		if got := c.Worked("s1", from, at.Add(-1)); got != want-1 {
			t.Fatalf("worked %s just before %s, want a moment less than %s", got, at, want)
		}
		to := from.Add(time.Duration(rapid.Int64Range(1, int64(300*time.Hour)).Draw(t, "elapsed")))
		done := c.Worked("s1", from, to)
		if back, ok := c.After("s1", from, done); !ok || back.After(to) || c.Worked("s1", back, to) != 0 {
			t.Fatalf("%s of work by %s is done at %s (%v)", done, to, back, ok)
		}
	})
}

// In a week in which the clock is not changed each shift has its rule's length.
func TestAnOrdinaryWeekHasTheRulesLengths(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := someCalendar(t)
		c.Closed, c.Holidays = nil, nil
		monday := Wall(c.Zone, Date{2026, 6, 8}, 0)
		turns := c.Turns("s1", monday, monday.AddDate(0, 0, 7))
		if len(turns) == 0 {
			t.Fatal("no shift in a week")
		}
		for _, turn := range turns {
			var want, breaks int
			for _, r := range c.rules() {
				if turn.Start.Equal(Wall(c.Zone, turn.Date, r.Start)) {
					want = r.minutes()
					for _, b := range r.Breaks {
						breaks += b.To.after(b.From)
					}
				}
			}
			if got := turn.End.Sub(turn.Start); got != time.Duration(want)*time.Minute || turn.Worked != time.Duration(want-breaks)*time.Minute {
				t.Fatalf("a shift of %s with %s of work, want %d and %d min", got, turn.Worked, want, want-breaks)
			}
		}
	})
}

// The boundaries that Next goes through are those of Turns.
func TestNextGoesThroughTheBoundaries(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := someCalendar(t)
		from := someTime(t)
		to := from.Add(100 * time.Hour)
		at, ok := c.Next("s1", from)
		for _, turn := range c.Turns("s1", from, to) {
			for _, want := range []time.Time{turn.Start, turn.End} {
				if !want.After(from) {
					continue
				}
				if !ok || !at.Equal(want) {
					t.Fatalf("after %s comes %s (%v), want %s", from, at, ok, want)
				}
				from = want
				at, ok = c.Next("s1", from)
			}
		}
	})
}

func TestAnswersDoNotDependOnTheOrderOfTheLists(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := someCalendar(t)
		from := someTime(t)
		other := *c
		other.Rules = rapid.Permutation(c.Rules).Draw(t, "rules")
		other.Closed = rapid.Permutation(c.Closed).Draw(t, "closed")
		a, b := c.Turns("s1", from, from.Add(72*time.Hour)), other.Turns("s1", from, from.Add(72*time.Hour))
		if len(a) != len(b) {
			t.Fatalf("%d shifts and %d", len(a), len(b))
		}
		for i := range a {
			if !a[i].Start.Equal(b[i].Start) || a[i].Worked != b[i].Worked || len(a[i].Working) != len(b[i].Working) {
				t.Fatalf("%v and %v", a[i], b[i])
			}
		}
	})
}
