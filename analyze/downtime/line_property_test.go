package downtime

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"gullet/analyze"
	"gullet/analyze/shift"
)

// changes are dates on which the clock is changed, each with its zone; in Santiago and
// Beirut at midnight, in Lord Howe by half an hour. From the IANA time zone database.
var changes = []struct {
	zone string
	date shift.Date
}{
	{"America/Chicago", shift.Date{Year: 2026, Month: 3, Day: 8}},
	{"America/Chicago", shift.Date{Year: 2026, Month: 11, Day: 1}},
	{"Europe/Berlin", shift.Date{Year: 2026, Month: 3, Day: 29}},
	{"Europe/Berlin", shift.Date{Year: 2026, Month: 10, Day: 25}},
	{"America/Santiago", shift.Date{Year: 2026, Month: 4, Day: 4}},
	{"America/Santiago", shift.Date{Year: 2026, Month: 9, Day: 6}},
	{"Asia/Beirut", shift.Date{Year: 2026, Month: 3, Day: 29}},
	{"Australia/Lord_Howe", shift.Date{Year: 2026, Month: 4, Day: 5}},
	{"America/St_Johns", shift.Date{Year: 2010, Month: 11, Day: 7}}, // a minute after midnight
	{"UTC", shift.Date{Year: 2026, Month: 6, Day: 10}},
}

// floor is a shop around one of the changes.
type floor struct {
	shop *shift.Calendar
	base Moment // midnight, two days before the change
	days int
}

func someFloor(t *rapid.T) floor {
	c := rapid.SampledFrom(changes).Draw(t, "change")
	zone, err := time.LoadLocation(c.zone)
	if err != nil {
		t.Fatal(err)
	}
	noon := time.Date(c.date.Year, c.date.Month, c.date.Day, 12, 0, 0, 0, zone)
	base := shift.Wall(zone, shift.DateOf(noon.AddDate(0, 0, -2)), 0)
	f := floor{shop: &shift.Calendar{Zone: zone, Rules: someShifts(t)}, base: MomentOf(base), days: 4}
	for range rapid.IntRange(0, 1).Draw(t, "holidays") {
		f.shop.Holidays = append(f.shop.Holidays, shift.DateOf(noon.AddDate(0, 0, rapid.IntRange(-2, 2).Draw(t, "holiday"))))
	}
	for range rapid.IntRange(0, 3).Draw(t, "closures") {
		from := base.Add(time.Duration(rapid.IntRange(0, 90*60).Draw(t, "closed from")) * time.Minute)
		long := time.Duration(rapid.IntRange(1, 20*60).Draw(t, "closed for")) * time.Minute
		f.shop.Closed = append(f.shop.Closed, shift.Closure{Saw: rapid.SampledFrom([]string{"", "s1", "s2"}).Draw(t, "saw"), From: from, To: from.Add(long)})
	}
	if err := f.shop.Check(); err != nil {
		t.Fatal(err)
	}
	return f
}

// someShifts are none said, one of 24 hours, none for the saw, or up to three with
// breaks.
func someShifts(t *rapid.T) []shift.Rule {
	every := [7]bool{true, true, true, true, true, true, true}
	switch rapid.IntRange(0, 5).Draw(t, "shifts") {
	case 0:
		return nil
	case 1:
		at := shift.Clock(rapid.IntRange(0, 1439).Draw(t, "at"))
		return []shift.Rule{{Name: "all day", Start: at, End: at, Days: every}}
	case 2:
		return []shift.Rule{{Name: "elsewhere", Start: 360, End: 840, Days: every, Saws: []string{"s2"}}}
	}
	var rules []shift.Rule
	first, at := rapid.IntRange(0, 1439).Draw(t, "first"), 0
	for n := range rapid.IntRange(1, 3).Draw(t, "many") {
		start := at + rapid.IntRange(0, 120).Draw(t, "gap")
		at = start + rapid.IntRange(30, 360).Draw(t, "length")
		r := shift.Rule{Name: fmt.Sprint("shift ", n+1), Start: shift.Clock((first + start) % 1440), End: shift.Clock((first + at) % 1440), Days: every}
		r.Days[rapid.IntRange(0, 6).Draw(t, "day off")] = false
		if rapid.Bool().Draw(t, "lunch") {
			from := rapid.IntRange(start, at-1).Draw(t, "lunch at")
			to := rapid.IntRange(from+1, min(at, from+60)).Draw(t, "lunch until")
			r.Breaks = []shift.Span{{From: shift.Clock((first + from) % 1440), To: shift.Clock((first + to) % 1440)}}
		}
		rules = append(rules, r)
	}
	return rules
}

// calendar reaches over everything that someReadings draws.
func (f *floor) calendar() *Calendar {
	return NewCalendar(f.shop, "s1", f.base.add(-24*time.Hour).Time(), f.base.add(time.Duration(f.days+1)*24*time.Hour).Time())
}

// longestPass is that of someReadings.
const longestPass = 5 * time.Hour

// someReadings is a saw that goes from one word to the next, with more of what is
// rare and what cannot be than a saw has.
func someReadings(t *rapid.T, f floor) Readings {
	r := Readings{TellsCuts: rapid.IntRange(0, 4).Draw(t, "tells cuts") > 0}
	at := f.base.add(time.Duration(rapid.IntRange(0, 36*60).Draw(t, "begin")) * time.Minute)
	for range rapid.IntRange(0, 40).Draw(t, "words") {
		step := rapid.SampledFrom([]int{0, 0, 1, 5, 60, 60, 120, 120, 120, 300, 300, 300, 660, 900, 30000}).Draw(t, "step")
		at = at.add(time.Duration(step) * time.Second)
		if at > f.base.add(time.Duration(f.days)*24*time.Hour) {
			break
		}
		someWord(t, &r, at)
	}
	for range rapid.IntRange(0, 2).Draw(t, "missing") {
		from := f.base.add(time.Duration(rapid.IntRange(0, 48*60).Draw(t, "missing from")) * time.Minute)
		r.Missing = append(r.Missing, Missing{from, from.add(time.Duration(rapid.IntRange(0, 120).Draw(t, "missing for")) * time.Minute)})
	}
	return r
}

func someWord(t *rapid.T, r *Readings, at Moment) {
	switch rapid.IntRange(0, 9).Draw(t, "word") {
	default:
		long := rapid.SampledFrom([]time.Duration{0, 7 * time.Second, time.Minute, 2 * time.Minute, 5 * time.Minute, time.Minute, 2 * time.Minute, 20 * time.Minute, longestPass}).Draw(t, "long")
		p := Pass{From: at.add(-long), To: at, Area: math.NaN(), Standard: math.NaN()}
		p.Kind = rapid.SampledFrom([]analyze.Kind{analyze.KindCut, analyze.KindTrip, analyze.KindBreak}).Draw(t, "kind")
		p.Grade = rapid.SampledFrom([]string{"", "A36", "4140"}).Draw(t, "grade")
		p.Piece = rapid.Bool().Draw(t, "piece")
		r.Passes = append(r.Passes, p)
	case 0, 1, 2, 3:
		r.States = append(r.States, State{
			At: at, Seq: int64(rapid.IntRange(0, 2).Draw(t, "seq")),
			State: rapid.SampledFrom(analyze.States()).Draw(t, "state"),
			Cause: rapid.SampledFrom(append(analyze.Causes(), "", "", "", "deviation-trip", "blade-break", "coffee")).Draw(t, "cause"),
		})
	case 4, 5:
		r.Online = append(r.Online, Online{At: at, Online: rapid.Bool().Draw(t, "online")})
	case 6, 7:
		b := Blade{At: at, Seq: int64(rapid.IntRange(0, 1).Draw(t, "seq")), Action: analyze.ActionFit}
		if rapid.Bool().Draw(t, "remove") {
			b.Action, b.Reason = analyze.ActionRemove, rapid.SampledFrom(analyze.EndReasons()).Draw(t, "reason")
		}
		r.Blades = append(r.Blades, b)
	}
}

// someWindow is any stretch around the readings, to the second; mostly it begins near
// one of them.
func someWindow(t *rapid.T, f floor, r *Readings) (from, until Moment) {
	end := f.base.add(time.Duration(f.days) * 24 * time.Hour)
	from = f.base.add(time.Duration(rapid.IntRange(0, f.days*24*60*60-1).Draw(t, "from")) * time.Second)
	if told := words(r); len(told) > 0 && rapid.IntRange(0, 3).Draw(t, "anywhere") > 0 {
		near := rapid.SampledFrom(told).Draw(t, "near").add(time.Duration(rapid.SampledFrom([]int{-60, -1, 0, 1, 60}).Draw(t, "by")) * time.Second)
		from = max(f.base, min(near, end-1))
	}
	long := rapid.SampledFrom([]time.Duration{time.Second, 10 * time.Minute, time.Hour, 24 * time.Hour, 96 * time.Hour}).Draw(t, "for")
	return from, min(end, from.add(long))
}

func somePolicy(t *rapid.T) *Rules {
	r := someRules()
	r.ToldFor = rapid.SampledFrom([]time.Duration{0, 30 * time.Minute, 12 * time.Hour}).Draw(t, "told for")
	r.Restart = rapid.SampledFrom([]time.Duration{0, 10 * time.Minute, 2 * time.Hour}).Draw(t, "restart")
	r.BetweenCuts = rapid.SampledFrom([]time.Duration{0, 10 * time.Minute}).Draw(t, "between cuts")
	return r
}

func someExplanations(t *rapid.T, f floor) []Explanation {
	var said []Explanation
	for i := range rapid.IntRange(0, 4).Draw(t, "explanations") {
		at := f.base.add(time.Duration(rapid.IntRange(0, f.days*24*60).Draw(t, "said of")) * time.Minute)
		said = append(said, Explanation{ID: int64(i + 1), At: at, Cause: rapid.SampledFrom([]analyze.Cause{"fault", "blade-break", "blade-pull", "coffee"}).Draw(t, "said")})
	}
	return said
}

// fullText tells all of a line but where its readings stand in their lists, and of
// the stops what does not hang on when the line ends.
func fullText(l *Line) string {
	var b strings.Builder
	for _, s := range l.Stretches {
		fmt.Fprintf(&b, "%s %s %s %s", s.From.short(), s.To.short(), s.Element, s.Cause)
		if s.Clash {
			b.WriteString(" clash")
		}
		if s.Pass >= 0 {
			fmt.Fprintf(&b, " pass %+v", l.Passes[s.Pass])
		}
		if s.Stop >= 0 {
			fmt.Fprintf(&b, " stop %+v", l.Stops[s.Stop])
		}
		fmt.Fprintf(&b, " slot %+v\n", l.Calendar.Slots[s.Slot])
	}
	return b.String()
}

// The order of readings, and that some come twice, change nothing.
func TestOrderAndRepetitionChangeNothing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		f := someFloor(t)
		r, rules, said, cal := someReadings(t, f), somePolicy(t), someExplanations(t, f), f.calendar()
		from, until := someWindow(t, f, &r)
		want := fullText(Build(r, cal, rules, said, from, until))
		shuffled := Readings{
			Passes: mixed(t, r.Passes), States: mixed(t, r.States), Online: mixed(t, r.Online), Blades: mixed(t, r.Blades),
			Missing: mixed(t, r.Missing), TellsCuts: r.TellsCuts,
		}
		before := slices.Clone(shuffled.Passes)
		got := fullText(Build(shuffled, cal, rules, rapid.Permutation(said).Draw(t, "said in order"), from, until))
		if got != want {
			t.Fatalf("in order\n%s\nmixed\n%s", want, got)
		}
		if fmt.Sprint(before) != fmt.Sprint(shuffled.Passes) {
			t.Fatal("the caller's list was sorted")
		}
	})
}

// mixed is a list in another order, with some of it twice.
func mixed[T any](t *rapid.T, list []T) []T {
	twice := slices.Clone(list)
	for _, v := range list {
		if rapid.IntRange(0, 3).Draw(t, "twice") == 0 {
			twice = append(twice, v)
		}
	}
	return rapid.Permutation(twice).Draw(t, "mixed")
}

// The stretches cover the time asked for, each once, and so sum to the calendar.
func TestStretchesSumToTheCalendar(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		f := someFloor(t)
		r, rules, said, cal := someReadings(t, f), somePolicy(t), someExplanations(t, f), f.calendar()
		from, until := someWindow(t, f, &r)
		checkSums(t, Build(r, cal, rules, said, from, until), from, until)
	})
}

type failer interface {
	Helper()
	Fatalf(string, ...any)
}

// checkSums holds a line against what every line has to keep.
func checkSums(t failer, l *Line, from, until Moment) {
	t.Helper()
	sums := map[int]time.Duration{}
	at := from
	for i, s := range l.Stretches {
		if s.From != at || s.To <= s.From || s.To > until {
			t.Fatalf("stretch %d is from %d to %d, after %d", i, s.From, s.To, at)
		}
		at = s.To
		slot := l.Calendar.Slots[s.Slot]
		if s.From < slot.From || s.To > slot.To {
			t.Fatalf("stretch %+v is not in its slot %+v", s, slot)
		}
		sums[s.Slot] += s.From.to(s.To)
		if !slices.Contains(Elements(), s.Element) {
			t.Fatalf("stretch %+v", s)
		}
		if s.Stop >= 0 {
			if stop := l.Stops[s.Stop]; s.From < stop.From || s.To > stop.To || s.Cause != stop.Cause && s.Element != PlannedDown {
				t.Fatalf("stretch %+v is not of its stop %+v", s, stop)
			}
		}
	}
	if at != until {
		t.Fatalf("the stretches end at %d, want %d", at, until)
	}
	for i, slot := range l.Calendar.Slots {
		if want := max(0, max(from, slot.From).to(min(until, slot.To))); sums[i] != want {
			t.Fatalf("slot %+v sums to %s, want %s", slot, sums[i], want)
		}
	}
	checkStops(t, l, from, until)
}

func checkStops(t failer, l *Line, from, until Moment) {
	t.Helper()
	for i, s := range l.Stops {
		if s.To <= s.From || s.To <= from || s.From >= until {
			t.Fatalf("stop %+v of a line from %d to %d", s, from, until)
		}
		if i > 0 && s.From < l.Stops[i-1].To {
			t.Fatalf("stop %+v is not behind %+v", s, l.Stops[i-1])
		}
		if s.Parent > s.From || s.Explained != 0 && !s.Own() || s.Cause == "" {
			t.Fatalf("stop %+v", s)
		}
		stood := time.Duration(0)
		for _, stretch := range l.Stretches {
			if stretch.Stop == i {
				stood += stretch.From.to(stretch.To)
			}
		}
		if want := max(from, s.From).to(min(until, s.To)); stood != want {
			t.Fatalf("stop %+v has stretches of %s, want %s", s, stood, want)
		}
	}
}

// eachWithin calls f for each stretch that overlaps [from, to).
func eachWithin(l *Line, from, to Moment, f func(*Stretch)) {
	for i := range l.Stretches {
		if s := &l.Stretches[i]; max(s.From, from) < min(s.To, to) {
			f(s)
		}
	}
}

// A blade in the metal is production, whatever was told; and of a saw that tells its
// cuts nothing else is.
func TestProductionIsTheMetal(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		f := someFloor(t)
		r := someReadings(t, f)
		r.TellsCuts = true
		from, until := someWindow(t, f, &r)
		l := Build(r, f.calendar(), somePolicy(t), nil, from, until)
		for _, p := range r.Passes {
			eachWithin(l, p.From, p.To, func(s *Stretch) {
				if s.Element != Production {
					t.Fatalf("%+v while the blade is in the metal of %+v", *s, p)
				}
			})
		}
		for _, s := range l.Stretches {
			if s.Element != Production {
				continue
			}
			at := s.From
			for _, p := range byBeginning(r.Passes) {
				if p.From <= at && at < p.To {
					at = p.To
				}
			}
			if at < s.To {
				t.Fatalf("production without a pass at %s: %+v", at.short(), s)
			}
		}
	})
}

func byBeginning(passes []Pass) []Pass {
	list := slices.Clone(passes)
	slices.SortFunc(list, func(a, b Pass) int { return cmp.Compare(a.From, b.From) })
	return list
}

// words is when a saw told anything but that it is gone.
func words(r *Readings) []Moment {
	var at []Moment
	for _, p := range r.Passes {
		at = append(at, p.To)
	}
	for _, s := range r.States {
		at = append(at, s.At)
	}
	for _, b := range r.Blades {
		at = append(at, b.At)
	}
	for _, o := range r.Online {
		if o.Online {
			at = append(at, o.At)
		}
	}
	slices.Sort(at)
	return at
}

// Before the first word, from a word of being gone to the next, and once a standstill
// is believed no longer, time out of the metal counts neither as uptime nor as
// downtime.
func TestNoDataIsUnknown(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		f := someFloor(t)
		r, rules := someReadings(t, f), somePolicy(t)
		from, until := someWindow(t, f, &r)
		l := Build(r, f.calendar(), rules, someExplanations(t, f), from, until)
		told := words(&r)
		unheard := func(from, to Moment) {
			eachWithin(l, from, to, func(s *Stretch) {
				if s.Element != NoData && s.Element != Unscheduled && s.Element != PlannedDown && s.Element != Production || s.Stop >= 0 {
					t.Fatalf("%+v, but nothing is heard from %s to %s", *s, from.short(), to.short())
				}
			})
		}
		after := func(m Moment, or Moment) Moment {
			if i, _ := slices.BinarySearch(told, m); i < len(told) {
				return told[i]
			}
			return or
		}
		end := max(until, f.base.add(time.Duration(f.days)*24*time.Hour))
		unheard(f.base.add(-48*time.Hour), after(f.base.add(-48*time.Hour), end))
		for _, o := range r.Online {
			if !o.Online {
				unheard(o.At, after(o.At, end))
			}
		}
		if len(r.Online) == 0 && len(told) > 0 {
			unheard(told[len(told)-1].add(max(rules.ToldFor, rules.BetweenCuts)), end)
		}
	})
}

// around is the readings that Build says are enough.
func around(r Readings, rules *Rules, from, until Moment) Readings {
	r.arrange()
	before := func(by Moment) *Pass {
		for i := len(r.Passes) - 1; i >= 0; i-- {
			if p := &r.Passes[i]; p.From < p.To && p.To <= by {
				return p
			}
		}
		return nil
	}
	first := Moment(math.MinInt64)
	if p := before(from); p != nil {
		if p = before(p.From.add(-rules.Restart)); p != nil {
			first = p.To
		}
	}
	last := Moment(math.MaxInt64)
	for i := len(r.Passes) - 1; i >= 0; i-- {
		if p := &r.Passes[i]; p.From < p.To && p.From >= until {
			last = p.To
		}
	}
	if last < math.MaxInt64 {
		last = max(last, until).add(longestPass)
	}
	return Readings{
		Passes:  keep(r.Passes, first, first, last, func(p Pass) Moment { return p.To }),
		States:  keep(r.States, latest(r.States, first, func(s State) Moment { return s.At }), first, last, func(s State) Moment { return s.At }),
		Online:  keep(r.Online, latest(r.Online, first, func(o Online) Moment { return o.At }), first, last, func(o Online) Moment { return o.At }),
		Blades:  keep(r.Blades, latest(r.Blades, first, func(b Blade) Moment { return b.At }), first, last, func(b Blade) Moment { return b.At }),
		Missing: r.Missing, TellsCuts: r.TellsCuts,
	}
}

// latest is when the latest of a list by a moment was.
func latest[T any](list []T, by Moment, at func(T) Moment) Moment {
	found := by
	for _, v := range list {
		if at(v) <= by {
			found = at(v)
		}
	}
	return found
}

// keep is those of a list from one moment to another, and those of an early moment.
func keep[T any](list []T, early, first, last Moment, at func(T) Moment) []T {
	var kept []T
	for _, v := range list {
		if m := at(v); m == early || first <= m && m <= last {
			kept = append(kept, v)
		}
	}
	return kept
}

func TestReadingsAroundAreEnough(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		f := someFloor(t)
		r, rules, said, cal := someReadings(t, f), somePolicy(t), someExplanations(t, f), f.calendar()
		from, until := someWindow(t, f, &r)
		want := fullText(Build(r, cal, rules, said, from, until))
		some := around(r, rules, from, until)
		first, last := some.Bounds(from, until)
		if !slices.ContainsFunc(some.Passes, func(p Pass) bool { return until <= p.From && p.From < p.To }) {
			last = cal.Until()
		}
		near := NewCalendar(f.shop, "s1", first.Time(), last.Time())
		said = slices.DeleteFunc(said, func(e Explanation) bool { return e.At < first || e.At >= last })
		if got := fullText(Build(some, near, rules, said, from, until)); got != want {
			t.Fatalf("from all\n%s\nfrom %+v\n%s", want, some, got)
		}
	})
}

// A line is the same built at once or in two parts, but that a stop which is not known
// to be over when the first part ends is not known to be short.
func TestPartsMakeTheWhole(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		f := someFloor(t)
		r, rules, said, cal := someReadings(t, f), somePolicy(t), someExplanations(t, f), f.calendar()
		a, c := someWindow(t, f, &r)
		b := a + Moment(rapid.Int64Range(1, int64(c-a)).Draw(t, "split"))
		whole, parts := Build(r, cal, rules, said, a, c), []*Line{Build(r, cal, rules, said, a, b)}
		if b < c {
			parts = append(parts, Build(r, cal, rules, said, b, c))
		}
		for _, s := range parts[0].Stops {
			for _, l := range append(parts, whole) {
				if i := slices.IndexFunc(l.Stops, func(other Stop) bool { return s.Open && other.From == s.From }); i >= 0 {
					l.Stops[i].Minor = false
				}
			}
		}
		var got strings.Builder
		for _, part := range parts {
			text := lineText(part)
			got.WriteString(text[:strings.LastIndex(strings.TrimSuffix(text, "\n"), "\n")+1])
		}
		got.WriteString(c.short() + "\n")
		if want := lineText(cutAt(whole, b)); got.String() != want {
			t.Fatalf("at once\n%s\nin parts\n%s", want, got.String())
		}
	})
}

// cutAt is a line with a boundary between stretches at a moment.
func cutAt(l *Line, at Moment) *Line {
	cut := *l
	cut.Stretches = nil
	for _, s := range l.Stretches {
		if s.From < at && at < s.To {
			left := s
			left.To, s.From = at, at
			cut.Stretches = append(cut.Stretches, left)
		}
		cut.Stretches = append(cut.Stretches, s)
	}
	return &cut
}
