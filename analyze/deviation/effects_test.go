package deviation

import (
	"math"
	"testing"
	"time"
)

// blades of the model with an effect on the cuts that are meant.
func affected(seed uint64, set func(*model), of func(*Cut) fault) ([]Fitting, *Pool, *Standard) {
	m := newModel(seed)
	if set != nil {
		set(m)
	}
	past := m.past(6)
	p, _ := Learn(past, modelLimit)
	pace := NewStandard(past, p.Power)
	m.fault = func(c *Cut, _ int) fault { return of(c) }
	list := m.fittings(2)
	pace.mark(list)
	return list, &p, &pace
}

// An effect is told with its size, the cuts it shows on and its first and last of
// them, and is off the cuts that are left.
func TestEffectsAreTakenOff(t *testing.T) {
	list, p, pace := affected(1, graded, func(c *Cut) fault { return fault{outward: pick(c.Grade == "A500", 0, 0.7)} })
	found, rest := p.effects(list, pace)
	if len(found) != 1 || found[0].Kind != GradeOnly {
		t.Fatalf("found %+v, want one grade", found)
	}
	with, n, others := found[0].Facts[0], 0, 0
	var first, last time.Time
	for _, f := range list {
		for i := range f.Cuts {
			if f.Cuts[i].Grade != "A500" {
				others++
				continue
			}
			if n++; n == 1 {
				first = f.Cuts[i].At
			}
			last = f.Cuts[i].At
		}
	}
	if with.What != FactWith || with.Name != "A500" || with.N != n || with.Low > 0.7 || with.High < 0.7 {
		t.Errorf("the fact is %+v, want 0.7 on %d cuts of A500", with, n)
	}
	if x := found[0].Facts[1]; x.What != FactOthers || x.N != others || !found[0].Since.Equal(first) || !found[0].Last.Equal(last) {
		t.Errorf("beside %+v, from %v to %v, want %d others from %v to %v", x, found[0].Since, found[0].Last, others, first, last)
	}
	if again, _ := p.effects(rest, pace); len(again) != 0 {
		t.Errorf("once taken off, %+v is found", again)
	}
	if list[0].Cuts[0] == rest[0].Cuts[0] && list[0].Cuts[1] == rest[0].Cuts[1] && list[0].Cuts[2] == rest[0].Cuts[2] && list[0].Cuts[3] == rest[0].Cuts[3] {
		t.Error("nothing was taken off")
	}
}

// Two effects are told beside each other, the plainer one first.
func TestTwoEffects(t *testing.T) {
	list, p, pace := affected(2, func(m *model) { mitred(m); graded(m) }, func(c *Cut) fault {
		return fault{outward: pick(c.Grade == "A36", 0, 0.5), off: 0.9 * math.Abs(c.Mitre) / 45}
	})
	found, _ := p.effects(list, pace)
	if len(found) != 2 || found[0].Kind != MitreOnly || found[1].Kind != GradeOnly {
		t.Errorf("found %+v, want mitres and a grade", found)
	}
}

// Effects inward, of grades hardly cut, and heights that hardly differ are none.
func TestNoEffects(t *testing.T) {
	for name, c := range map[string]struct {
		set func(*model)
		of  func(*Cut) fault
	}{
		"sound":                      {func(m *model) { mitred(m); graded(m) }, func(*Cut) fault { return fault{} }},
		"one grade only":             {nil, func(*Cut) fault { return fault{outward: 0.7} }},
		"a grade nearer to square":   {graded, func(c *Cut) fault { return fault{outward: pick(c.Grade == "A500", 0, -0.2)} }},
		"heights within a half more": {func(m *model) { m.heights = []float64{10, 12, 14} }, func(c *Cut) fault { return fault{outward: 0.1 * (c.Height - 10)} }},
	} {
		list, p, pace := affected(3, c.set, c.of)
		if found, _ := p.effects(list, pace); len(found) != 0 {
			t.Errorf("%s: found %+v", name, found)
		}
	}
	if found, rest := usualPool.effects(nil, &Standard{}); len(found)+len(rest) != 0 {
		t.Errorf("of nothing: %+v and %+v", found, rest)
	}
}

// Tall sections are told with the heights and what the tallest add.
func TestTallSections(t *testing.T) {
	list, p, pace := affected(4, nil, func(c *Cut) fault { return fault{outward: 0.05 * (c.Height - 4)} })
	found, _ := p.effects(list, pace)
	if len(found) != 1 || found[0].Kind != GuideGap {
		t.Fatalf("found %+v, want the guides", found)
	}
	tall, heights := found[0].Facts[0], found[0].Facts[1]
	if want := 0.05 * (heights.High - heights.Low); tall.What != FactTall || tall.Low > want || tall.High < want || heights.What != FactHeights {
		t.Errorf("facts %+v, want %v between %v and %v in", found[0].Facts, want, heights.Low, heights.High)
	}
}
