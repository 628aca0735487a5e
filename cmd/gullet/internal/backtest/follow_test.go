package backtest

import (
	"math"
	"slices"
	"testing"
	"time"

	"gullet/analyze"
	"gullet/analyze/deviation"
	"gullet/cmd/gullet/internal/trend"
	"gullet/store"
)

// worn is a shop of one type whose blades wander off, and that runs every blade to its
// end: what would have come of each under any policy is known.
func worn(t testing.TB, seed uint64, blades int) *Input {
	m := clean(seed, blades)
	m.pulls, m.strips, m.scale = 0, 60_000, 20_000
	in := m.input(t)
	crooked(in, seed, 120, 7000)
	return in
}

// ruled are the blades of an input with what was decided of them.
func ruled(t interface{ Fatal(...any) }, in *Input) []*blade {
	list, weights, _, err := in.blades()
	if err != nil {
		t.Fatal(err)
	}
	in.mark(list)
	if _, err := in.decide(list); err != nil {
		t.Fatal(err)
	}
	if err := in.followAll(list, weights); err != nil {
		t.Fatal(err)
	}
	return slices.DeleteFunc(list, func(b *blade) bool { return b.told == nil })
}

// Where blades come off because they wander off, the plan that sees it changes most of
// them before, and costs less than the plan that sees lives only. With nobody pulling any
// blade that needs no estimate: the cost is the sum over the blades.
func TestFollowingTheDeviationSavesMoney(t *testing.T) {
	in := worn(t, 1, 150)
	list := ruled(t, in)
	early, late, _ := in.Costs.Of(in.Config, "T")
	p := judge("T", policies, newCrowd(list), early, late, 0).answer().Policies
	if !(*p[1].More.Low > 0) {
		t.Errorf("beside the plan, lives only cost %+v more, want more than 0", p[1].More)
	}
	if p[0].Ahead < p[0].Seen*2/3 || *p[0].Given > *p[1].Given*2/3 {
		t.Errorf("the plan is ahead of %d of %d ends and gives away %v each, by lives %v", p[0].Ahead, p[0].Seen, *p[0].Given, *p[1].Given)
	}
	paid, cut := 0.0, 0.0
	for _, b := range list {
		age := math.Inf(1)
		if b.ruling.changed {
			age = b.ruling.age
		} else if !b.ruling.followed {
			age = b.told.plan
		}
		if age < b.life {
			paid, cut = paid+early, cut+age
		} else {
			paid, cut = paid+late, cut+b.life
		}
	}
	near(t, "the plan's cost", p[0].Cost.Value, 1000*paid/cut)
	t.Logf("the plan %.2f (%.2f to %.2f), lives only %.2f more (%.2f to %.2f), ahead of %d and %d of %d ends, gives away %.0f and %.0f",
		p[0].Cost.Value, *p[0].Cost.Low, *p[0].Cost.High, p[1].More.Value, *p[1].More.Low, *p[1].More.High, p[0].Ahead, p[1].Ahead, p[0].Seen, *p[0].Given, *p[1].Given)
}

// One blade that wanders off ever faster is changed before it would have tripped; one that
// stays straight is not changed for it.
func TestABladeThatWandersOffIsChangedInTime(t *testing.T) {
	in := worn(t, 2, 60)
	in.Most = 3
	last := &in.Fittings[59]
	for name, c := range map[string]struct {
		off     func(used float64) float64 // mil per inch
		changed bool
	}{
		"wanders off":    {func(used float64) float64 { return 0.3 + 2.2*used*used }, true},
		"stays straight": {func(float64) float64 { return 0.1 }, false},
	} {
		own := *in
		usual := in.Passes
		own.Passes = func(saw string, from, until time.Time, each func(store.HistoryRow) error) error {
			return usual(saw, from, until, func(h store.HistoryRow) error {
				if saw == last.Saw && h.At.After(last.Start) {
					used := float64(h.At.Sub(last.Start)) / float64(last.LastPass.Sub(last.Start))
					h.Kind, h.Deviation = analyze.KindCut, ptr(*h.Height*0.001*c.off(used))
				}
				return each(h)
			})
		}
		for _, b := range ruled(t, &own) {
			if b.serial != last.Serial {
				continue
			}
			if r := &b.ruling; !r.followed || r.changed != c.changed || r.changed && !(r.age < b.life) {
				t.Errorf("%s: %+v of a blade that cut %v", name, *r, b.life)
			}
		}
	}
}

// Where no saw tells a deviation, the plan is that by lives, and is told once.
func TestWithoutDeviationsThePlanIsByLives(t *testing.T) {
	in := worn(t, 3, 60)
	usual := in.Passes
	in.Passes = func(saw string, from, until time.Time, each func(store.HistoryRow) error) error {
		return usual(saw, from, until, func(h store.HistoryRow) error { h.Deviation = nil; return each(h) })
	}
	for _, b := range ruled(t, in) {
		if got := b.age(PolicyPlan); got != math.Min(b.told.plan, b.life) && got != b.told.plan {
			t.Errorf("%s is changed at %v, by lives at %v", b.serial, got, b.told.plan)
		}
	}
	r := build(t, in)
	for i := range r.Types[0].Policies {
		if r.Types[0].Policies[i].Policy == PolicyLives {
			t.Error("both plans are told where they are one")
		}
	}
	if r.Followed != 0 || len(r.Windows) != 2 {
		t.Errorf("%d followed, %d stages of windows", r.Followed, len(r.Windows))
	}
}

// What the plan changes it changes at the end of a shift in which the saw worked, while
// the blade was on, at the age that the blade had then; and by then it had an outlook.
func TestChangesFallOnTheEndsOfShifts(t *testing.T) {
	in := worn(t, 4, 70)
	rows := map[string]*store.FittingRow{}
	for i := range in.Fittings {
		rows[in.Fittings[i].Serial] = &in.Fittings[i]
	}
	calendar, changed := in.Config.Calendar(), 0
	for _, b := range ruled(t, in) {
		r, f := &b.ruling, rows[b.serial]
		if !r.changed || !r.followed {
			continue
		}
		changed++
		turn, ok := calendar.At(f.Saw, r.at.Add(-time.Second))
		if !ok || !turn.End.Equal(r.at) || !r.at.After(f.Start) || r.at.After(f.End) {
			t.Errorf("%s is changed at %s, on from %s to %s", b.serial, r.at, f.Start, f.End)
		}
		cut := 0.0
		if err := in.Passes(f.Saw, f.Start, r.at, func(h store.HistoryRow) error {
			cut += *h.Area
			return nil
		}); err != nil {
			t.Fatal(err)
		}
		if math.Abs(r.age/cut-1) > 1e-9 {
			t.Errorf("%s is changed at %v, it had cut %v", b.serial, r.age, cut)
		}
	}
	if changed < 20 {
		t.Errorf("%d blades were changed: this tries little", changed)
	}
}

// turned is a history that was the same up to a time and went another way after: the
// passes cut and wander otherwise, the blades that were on ended later and otherwise, and
// no other was hung.
func turned(in *Input, when time.Time, area, wander float64) *Input {
	out := *in
	out.Fittings = nil
	for _, f := range in.Fittings {
		if f.Start.After(when) {
			continue
		}
		if f.End.After(when) {
			f.End, f.Reason = f.End.Add(7*time.Hour), analyze.ReasonStripped
		}
		out.Fittings = append(out.Fittings, f)
	}
	out.Passes = func(saw string, from, until time.Time, each func(store.HistoryRow) error) error {
		return in.Passes(saw, from, until, func(h store.HistoryRow) error {
			if h.At.After(when) {
				h.Area, h.Deviation, h.Limit, h.Kind = ptr(area**h.Area), ptr(wander**h.Deviation), ptr(0.3**h.Limit), analyze.KindCut
			}
			return each(h)
		})
	}
	out.Totals = func(saw string, from, until time.Time) ([]analyze.GradeTotal, error) {
		var list []store.HistoryRow
		err := out.Passes(saw, from, until, func(h store.HistoryRow) error { list = append(list, h); return nil })
		return totalOf(list), err
	}
	for i := range out.Fittings {
		f := &out.Fittings[i]
		f.Totals, _ = out.Totals(f.Saw, f.Start, f.End)
		f.Area, f.Cuts = f.Totals[0].Area, f.Totals[0].Cuts
	}
	return &out
}

// What was decided by a time is decided whatever the cuts after it say. (Of carbon steel
// only, where an area is one in any measure.)
func TestNoCutIsSeenAhead(t *testing.T) {
	in := worn(t, 5, 60)
	list := ruled(t, in)
	for _, c := range []struct {
		blade        int // of the list
		on           time.Duration
		area, wander float64
	}{
		{30, 30 * time.Hour, 1.5, 6}, {len(list) - 3, 40 * time.Hour, 0.5, -4},
	} {
		when := list[c.blade].hung.Add(c.on)
		is := map[string]ruling{}
		for _, b := range ruled(t, turned(in, when, c.area, c.wander)) {
			is[b.serial] = b.ruling
		}
		decided, later := 0, 0
		for _, b := range list {
			was, is := b.ruling, is[b.serial]
			by := func(r ruling) bool { return r.changed && !r.at.After(when) }
			if by(was) != by(is) || by(was) && (!was.at.Equal(is.at) || math.Abs(was.age-is.age) > 1e-6*was.age) {
				t.Errorf("%s: %+v, with another future %+v, told apart by %s", b.serial, was, is, when)
			}
			switch {
			case by(was):
				decided++
			case was != is:
				later++
			}
		}
		if decided < 10 || later == 0 {
			t.Errorf("%d changes were decided by %s, %d otherwise after: this tries nothing", decided, when, later)
		}
	}
}

// What is left of a blade is the chance that it does not trip, times that it does not end
// in another way, given its age: pulls for crooked cuts, of which the first takes the
// place, do not count twice. The change comes where going on, to the next ends of shifts
// or further, costs no less than it saves.
func TestWhatIsLeftByHand(t *testing.T) {
	in := worn(t, 7, 60)
	m, err := in.learn(in.Now)
	if err != nil {
		t.Fatal(err)
	}
	w := m.weigher("T", "s1")
	others := func(area float64) float64 {
		left := 1.0
		for _, p := range m.shop.NewParts("T") {
			if p.Cause != analyze.ReasonCrooked {
				left *= p.Survives(area, math.NaN())
			}
		}
		return left
	}
	var c deviation.Course
	for i := range in.Fittings {
		if f := &in.Fittings[i]; f.Saw == "s1" {
			c.Fit("T", 0, crookedAt)
			then := 0.0
			if err := in.Passes("s1", f.Start, f.End, func(h store.HistoryRow) error {
				if then > 3000 {
					return nil
				}
				cut := trend.CutOf(&h, then, 1)
				then = cut.Area
				return c.Add(&cut)
			}); err != nil {
				t.Fatal(err)
			}
		}
	}
	o := c.Outlook(crookedAt)
	left, err := w.left(3000, o)
	if err != nil {
		t.Fatal(err)
	}
	for _, x := range []float64{500, 1500, 3000} {
		want := (1 - o.Chance(x)) * others(3000+x) / others(3000)
		if got := left.Left(x); math.Abs(got-want) > 0.01 {
			t.Errorf("after %v more %v are left, by hand %v", x, got, want)
		}
	}
	// What going on saves at most, on a grid as fine as a tenth of a shift.
	seen := map[bool]bool{}
	for _, w.unplanned = range []float64{190, 3000, 60_000} {
		saves, under, before := 0.0, 0.0, 1.0
		for x := 90.0; x < 20_000; x += 90 {
			after := left.Left(x)
			under += 90 * (before + after) / 2
			before = after
			saves = math.Max(saves, w.rate*under-(w.unplanned-w.planned)*(1-after))
		}
		got := w.now(left, 900)
		if want := saves < 0.02*w.planned; got != want {
			t.Errorf("an unplanned change costs %v: changed now %v, by hand going on saves %v", w.unplanned, got, saves)
		}
		seen[got] = true
	}
	if len(seen) != 2 {
		t.Errorf("always the same decision: this tries nothing")
	}
}

// With a target risk the plan changes a blade at the first end of a shift from which on
// going on for another is riskier.
func TestNowByRisk(t *testing.T) {
	in := worn(t, 6, 60)
	in.Costs.Risk, in.Most = 0.02, 25
	list := ruled(t, in)
	in.Costs.Risk = 0.5
	bold := ruled(t, in)
	earlier := 0
	for i, b := range list {
		if !b.ruling.followed {
			continue
		}
		a, z := b.age(PolicyPlan), bold[i].age(PolicyPlan)
		if a > z {
			t.Errorf("%s is changed at %v for 2 %% risk, at %v for 50 %%", b.serial, a, z)
		}
		if a < z {
			earlier++
		}
	}
	if earlier < 12 {
		t.Errorf("%d blades are changed earlier for less risk: this tries little", earlier)
	}
}

// A blade that trips after its deviation was seen has ended for the windows told there,
// and for nothing else.
func TestWindowsGoUpToTheFirstTrip(t *testing.T) {
	list := []*blade{
		{serial: "A", life: 90, off: true, ruling: ruling{seen: 20, tripped: 60}},
		{serial: "B", life: 80, ended: true, off: true, ruling: ruling{seen: 20}},
	}
	got := toTrip(list)
	if a := got[0]; a.life != 60 || !a.ended || list[0].life != 90 || list[0].ended {
		t.Errorf("up to its trip %+v, the blade itself %+v", *a, *list[0])
	}
	if got[1] != list[1] {
		t.Errorf("a blade that did not trip is %+v", *got[1])
	}
}

// A blade of two saws is changed in the fitting that comes to it first.
func TestRulingsGoOnFromFittingToFitting(t *testing.T) {
	first := ruling{followed: true, seen: 10, tripped: 15}
	first.then(ruling{changed: true, age: 30, seen: 25})
	if !first.followed || !first.changed || first.age != 30 || first.seen != 10 || first.tripped != 15 {
		t.Errorf("after the second fitting %+v", first)
	}
	done := first
	if done.then(ruling{changed: true, age: 50}); done != first {
		t.Errorf("a change was followed by another: %+v", done)
	}
}
