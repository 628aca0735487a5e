package plan

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

func TestPlacesOfTheWork(t *testing.T) {
	w := Work{
		Jobs:  []Leg{{"A", 100, 130, 40, 2}, {"B", 50, 160, 30, 1.5}},
		Usual: Leg{"", 60, 90, 25, 1},
	}
	for _, c := range []struct {
		name string
		got  Place
		want Place
	}{
		{"now", w.At(0), Place{}},
		{"before now", w.At(-5), Place{}},
		{"half of A", w.At(65), Place{50, 65, 20, 1}},
		{"A is done", w.At(130), Place{100, 130, 40, 2}},
		{"half of B", w.At(210), Place{125, 210, 55, 2.75}},
		{"two hours of the usual", w.At(470), Place{270, 470, 120, 5.5}},
		{"by hours", w.AtHours(2.75), Place{125, 210, 55, 2.75}},
		{"by hours beyond the jobs", w.AtHours(5.5), Place{270, 470, 120, 5.5}},
		{"B begins", w.Starts()[1], Place{100, 130, 40, 2}},
		{"all done", w.Starts()[2], Place{150, 290, 70, 3.5}},
	} {
		if c.got != c.want {
			t.Errorf("%s: %+v, want %+v", c.name, c.got, c.want)
		}
	}
	if p := (&Work{Usual: Leg{Weighted: 90}}).AtHours(3); !math.IsNaN(p.Area) {
		t.Errorf("with usual work of no hours %+v, want nothing known", p)
	}
}

// The counts rise together, and either finds the place of the other.
func TestPlacesAgree(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		leg := rapid.Custom(func(t *rapid.T) Leg {
			amount := rapid.Float64Range(0.1, 500)
			return Leg{"j", amount.Draw(t, "area"), amount.Draw(t, "weighted"), amount.Draw(t, "bends"), amount.Draw(t, "hours")}
		})
		w := Work{Jobs: rapid.SliceOfN(leg, 0, 5).Draw(t, "jobs"), Usual: leg.Draw(t, "usual")}
		x := rapid.Float64Range(0, 3000).Draw(t, "weighted")
		p, further := w.At(x), w.At(x+1)
		if math.Abs(p.Weighted-x) > 1e-9*(1+x) || further.Area < p.Area || further.Bends < p.Bends || further.Hours < p.Hours {
			t.Fatalf("at %v %+v, one more %+v", x, p, further)
		}
		if q := w.AtHours(p.Hours); math.Abs(q.Weighted-x) > 1e-6*(1+x) {
			t.Fatalf("the hours of %v lead to %v", x, q.Weighted)
		}
	})
}
