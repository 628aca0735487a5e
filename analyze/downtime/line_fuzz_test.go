package downtime

import (
	"math"
	"slices"
	"testing"
	"time"

	"gullet/analyze"
	"gullet/analyze/shift"
)

// tape is bytes read as choices; behind its end all are 0.
type tape []byte

func (b *tape) next() int {
	if len(*b) == 0 {
		return 0
	}
	v := (*b)[0]
	*b = (*b)[1:]
	return int(v)
}

// calendar is a shop with one shift, a break and a closure at any time around one of
// the changes of the clock.
func (b *tape) calendar() (c *shift.Calendar, base time.Time, err error) {
	change := changes[b.next()%len(changes)]
	zone, err := time.LoadLocation(change.zone)
	if err != nil {
		return nil, base, err
	}
	base = time.Date(change.date.Year, change.date.Month, change.date.Day, 0, 0, 0, 0, zone).AddDate(0, 0, -1)
	start, long := b.next()*1440/256, 1+b.next()*1439/256
	lunch := b.next() % long
	clock := func(minutes int) shift.Clock { return shift.Clock((start + minutes) % 1440) }
	r := shift.Rule{Name: "shift", Start: clock(0), End: clock(long), Days: [7]bool{true, true, true, true, true, true, true}}
	if lunch > 0 {
		r.Breaks = []shift.Span{{From: clock(lunch - 1), To: clock(lunch)}}
	}
	from := base.Add(time.Duration(b.next()) * 20 * time.Minute)
	closed := shift.Closure{From: from, To: from.Add(time.Duration(1+b.next()) * 10 * time.Minute)}
	c = &shift.Calendar{Zone: zone, Rules: []shift.Rule{r}, Closed: []shift.Closure{closed}}
	return c, base, c.Check()
}

// readings takes three bytes for a word, which may be earlier than the one before.
func (b *tape) readings(base Moment) Readings {
	r := Readings{TellsCuts: b.next()%4 > 0}
	kinds := []analyze.Kind{analyze.KindCut, analyze.KindTrip, analyze.KindBreak}
	causes := append(analyze.Causes(), "")
	reasons := analyze.EndReasons()
	for at := base; len(*b) > 0; {
		step := b.next()
		at = at.add(time.Duration((step-64)*step) * time.Second)
		what, how := b.next(), b.next()
		switch what % 8 {
		case 0, 1, 2:
			long := time.Duration(how*how) * 100 * time.Millisecond
			r.Passes = append(r.Passes, Pass{From: at.add(-long), To: at, Kind: kinds[what/8%3], Area: math.NaN(), Standard: math.NaN()})
		case 3, 4, 5:
			r.States = append(r.States, State{At: at, State: analyze.States()[what/8%4], Cause: causes[how%len(causes)]})
		case 6:
			r.Online = append(r.Online, Online{At: at, Online: how%2 == 0})
		default:
			r.Blades = append(r.Blades, Blade{At: at, Action: []analyze.BladeAction{analyze.ActionFit, analyze.ActionRemove}[how%2], Reason: reasons[what/8%len(reasons)]})
		}
	}
	return r
}

// FuzzBuild holds that whatever a saw tells, in whatever shop, the line covers the
// time and sums to the calendar, and is the same with the readings the other way round
// and twice.
func FuzzBuild(f *testing.F) {
	f.Add([]byte{0, 64, 85, 30, 20, 6, 12, 200, 1, 70, 6, 0, 80, 0, 40, 90, 11, 9, 100, 3, 0, 90, 0, 60})
	f.Add([]byte{1, 235, 85, 0, 0, 0, 0, 255, 2, 90, 16, 0, 80, 7, 1, 80, 7, 0, 70, 6, 1, 100, 6, 0, 120, 1, 50})
	f.Add([]byte{4, 0, 255, 9, 99, 255, 40, 3, 0, 65, 3, 18, 64, 11, 0, 0, 19, 18, 200, 2, 255})
	f.Fuzz(func(t *testing.T, data []byte) {
		b := tape(data)
		shop, base, err := b.calendar()
		if err != nil {
			t.Fatal(err)
		}
		from := MomentOf(base).add(time.Duration(b.next()) * 11 * time.Minute)
		until := from.add(time.Duration(1+b.next()*b.next()) * time.Second)
		said := []Explanation{{ID: 1, At: from.add(time.Duration(b.next()) * time.Minute), Cause: BladePull}}
		r := b.readings(MomentOf(base))
		first, last := r.Bounds(from, until)
		cal := NewCalendar(shop, "s1", first.Time(), last.Time())
		line := Build(r, cal, someRules(), said, from, until)
		checkSums(t, line, from, until)
		again := Readings{Passes: twice(r.Passes), States: twice(r.States), Online: twice(r.Online), Blades: twice(r.Blades), TellsCuts: r.TellsCuts}
		if want, got := fullText(line), fullText(Build(again, cal, someRules(), said, from, until)); got != want {
			t.Fatalf("in order\n%s\nthe other way round and twice\n%s", want, got)
		}
	})
}

// twice is a list backwards, each of it twice.
func twice[T any](list []T) []T {
	both := append(slices.Clone(list), list...)
	slices.Reverse(both)
	return both
}
