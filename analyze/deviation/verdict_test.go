package deviation

import (
	"math"
	"slices"
	"testing"
)

func factOf(f *Finding, what What) *Fact {
	if f == nil {
		return nil
	}
	if i := slices.IndexFunc(f.Facts, func(x Fact) bool { return x.What == what }); i >= 0 {
		return &f.Facts[i]
	}
	return nil
}

// A worn blade is told at the end of its life and not at its beginning, with its
// slope, its share of the limit, the odds of the next shift and its pace.
func TestWearIsTold(t *testing.T) {
	early, late := 0, 0
	for seed := range uint64(8) {
		list := newModel(seed).fittings(9)
		if finding(looked(list, 60), BladeWear) != nil {
			early++
		}
		trend := looked(list, math.MaxInt)
		f := finding(trend, BladeWear)
		far := math.Abs(trend.Level.Value) >= wornShare*modelLimit || trend.Odds >= soon
		if f != nil && !far {
			t.Errorf("seed %d: told at a level of %v and odds of %v", seed, trend.Level.Value, trend.Odds)
		}
		if f == nil {
			continue
		}
		late++
		for _, what := range []What{FactSlope, FactShare, FactOdds, FactPace, FactSlowing} {
			if x := factOf(f, what); x == nil || math.IsNaN(x.Value) {
				t.Errorf("seed %d: fact %q is %+v", seed, what, x)
			}
		}
		if x := factOf(f, FactShare); math.Abs(x.Value*modelLimit-math.Abs(trend.Level.Value)) > 1e-9 {
			t.Errorf("seed %d: a share of %v at a level of %+v", seed, x.Value, trend.Level)
		}
		if !f.Since.Equal(list[8].Start) {
			t.Errorf("seed %d: since %v, want when the blade was hung", seed, f.Since)
		}
	}
	if early > 0 || late < 4 { // the others are pulled before half of the limit
		t.Errorf("told at the beginning of %d and at the end of %d of 8 blades", early, late)
	}
}

// A step that left with its blade is charged to it while it is on: as the saw's
// while nobody knows, by name where another blade has been told from it.
func TestBladeStepIsNotTheSaws(t *testing.T) {
	for seed := range uint64(4) {
		m := newModel(seed)
		list := m.fittings(8)
		start := m.cuts
		m.fault = func(_ *Cut, i int) fault { return fault{off: pick(i >= start+200, 0, 1)} }
		list = append(list, m.blade())
		m.fault = nil
		list = append(list, m.fittings(2)...)
		trend := looked(list[:9], 260)
		if f := alignment(trend); f == nil || f.Chance > 0.9 || factOf(f, FactStep) == nil {
			t.Errorf("seed %d: a step just now is %+v, want it the saw's with a doubt", seed, trend.Findings)
		}
		for k, n := range map[int]int{10: math.MaxInt, 11: math.MaxInt} {
			if found := kinds(looked(list[:k], n)); len(found) > 0 {
				t.Errorf("seed %d: on blade %d after it %v", seed, k, found)
			}
		}
	}
}

// A stuck sensor and trips of a saw that stands are the sensor's, and nothing else
// is told but wear.
func TestSensorIsNamed(t *testing.T) {
	for seed := range uint64(6) {
		m := newModel(seed)
		list := m.fittings(7)
		on := &list[6]
		stuck := slices.Clone(list)
		stuck[6].Cuts = slices.Clone(on.Cuts[:320])
		for i := 300; i < 320; i++ {
			c := &stuck[6].Cuts[i]
			c.Deviation = 3.5 / c.Height
		}
		trend := Study(Saw{Fittings: stuck, Limit: modelLimit})
		f := finding(trend, SensorFault)
		if x := factOf(f, FactSame); x == nil || x.N != 20 || math.Abs(x.Value-3.5) > 1e-9 || !f.Since.Equal(stuck[6].Cuts[300].At) {
			t.Errorf("seed %d: a sensor stuck at 3.5 is %+v", seed, f)
		}
		idle := slices.Clone(list)
		idle[6].Cuts = slices.Clone(on.Cuts[:320])
		for i := 280; i < 320; i += 10 {
			idle[6].Cuts[i].Tripped, idle[6].Cuts[i].Idle = true, true
		}
		still := Study(Saw{Fittings: idle, Limit: modelLimit})
		if x := factOf(finding(still, SensorFault), FactIdle); x == nil || x.N != 4 {
			t.Errorf("seed %d: four trips of a standing saw are %+v", seed, still.Findings)
		}
		for _, trend := range []Trend{trend, still} {
			if found := kinds(trend); !slices.Equal(found, []Kind{SensorFault}) {
				t.Errorf("seed %d: found %v, want the sensor alone", seed, found)
			}
		}
	}
}

// What a person said is no change of blade is none, whatever the readings say.
func TestPersonsWordOnTheBlade(t *testing.T) {
	for seed := range uint64(4) {
		list := faulty(seed, len(faults)-1)
		list[8].Same = true
		if f := finding(looked(list, 520), UnloggedChange); f != nil {
			t.Errorf("seed %d: a change is told: %+v", seed, f)
		}
	}
}

// An event is dated by the cut it names, and the changes of blade since count.
func TestEventsAreDated(t *testing.T) {
	list := newModel(1).fittings(3)
	x := newIndex(list)
	a, b := len(list[0].Cuts), len(list[1].Cuts)
	for _, c := range []struct{ cut, blade, i, changes int }{{0, 0, 0, 2}, {a - 1, 0, a - 1, 2}, {a, 1, 0, 1}, {a + b + 5, 2, 5, 0}} {
		at, changes := x.of(&Event{Cut: c.cut})
		if !at.Equal(list[c.blade].Cuts[c.i].At) || changes != c.changes {
			t.Errorf("cut %d is dated %v with %d changes since", c.cut, at, changes)
		}
	}
	if at, changes := x.of(&Event{Cut: a + b + len(list[2].Cuts)}); !at.IsZero() || changes != 0 {
		t.Errorf("after all cuts an event is dated %v with %d changes since", at, changes)
	}
}
