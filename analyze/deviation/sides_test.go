package deviation

import (
	"math"
	"math/rand/v2"
	"testing"

	"pgregory.net/rapid"
)

// linesOf are the lines of blades that lead to either side, with the noise of each in
// its drift.
func linesOf(n int, mean, sd, noise float64) (list []bladeLine) {
	r := rand.New(rand.NewPCG(3, 9))
	for range n {
		v := mean + sd*r.NormFloat64()
		if r.IntN(2) == 0 {
			v = -v
		}
		list = append(list, bladeLine{drift: v + noise*r.NormFloat64(), driftVar: noise * noise, level: v / 5, levelVar: 1e-4})
	}
	return list
}

func TestSidesAreLearned(t *testing.T) {
	for _, c := range []struct {
		name            string
		blades          int
		mean, sd, noise float64
		usual, near     float64
	}{
		{"of many blades", 200, 1, 0.3, 0, 3, 0.05},
		{"through the noise of their lines", 200, 1, 0.3, 0.5, 3, 0.1},
		{"of a dozen, whatever is usual", 12, 1, 0.3, 0.1, 10, 0.3},
		{"of a dozen that go further than usual", 12, 1, 0.3, 0.1, 0.1, 0.3},
	} {
		got := leads(linesOf(c.blades, c.mean, c.sd, c.noise), c.usual/5, c.usual).drift
		if math.Abs(got.mean-c.mean) > c.near || math.Abs(got.sd-c.sd) > c.near {
			t.Errorf("%s: %+v, want a mean of %v and a spread of %v", c.name, got, c.mean, c.sd)
		}
	}
	none := leads(nil, 0.2, 1)
	if !(none.drift.mean > 0.5 && none.drift.sd > none.drift.mean) {
		t.Errorf("with no blade seen %+v, want the usual size with a spread as wide", none.drift)
	}
}

// Which side a blade went to says nothing of how far blades go.
func TestSidesAreAlike(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		lines := linesOf(rapid.IntRange(0, 15).Draw(t, "n"), 1, 0.3, 0.1)
		other := append([]bladeLine{}, lines...)
		for i := range other {
			if rapid.Bool().Draw(t, "other side") {
				other[i].drift, other[i].level = -other[i].drift, -other[i].level
			}
		}
		if a, b := leads(lines, 1, 1), leads(other, 1, 1); a != b {
			t.Fatalf("%+v and, on other sides, %+v", a, b)
		}
	})
}

// A fresh blade of the two accounts has the mean 0 and leads to either side alike; its
// readings settle which.
func TestReadingsSettleTheSide(t *testing.T) {
	m := newModel(4)
	p, _ := Learn(m.past(12), modelLimit)
	f := follower(t, p, Standard{})
	f.Fit(0)
	s := f.sided(&p)
	if level, _ := s.mixture(); math.Abs(level) > 1e-12 || len(s.stories) != 2*len(f.stories) {
		t.Fatalf("a new blade stands at %v by %d accounts, want 0 by %d", level, len(s.stories), 2*len(f.stories))
	}
	cuts := m.blade().Cuts
	addAll(t, s, cuts[:len(cuts)/2])
	last, same := cuts[len(cuts)-1].Deviation, 0.0
	for i := range s.stories {
		if s.stories[i].drift*last > 0 {
			same += s.stories[i].weight / s.total()
		}
	}
	if same < 0.99 {
		t.Errorf("half way the accounts of its side have the chance %v; the blade ends at %v", same, last)
	}
}
