package life

import (
	"errors"
	"math"
	"math/rand/v2"
	"testing"

	"pgregory.net/rapid"
)

// caused gives each end of obs the cause at its place.
func caused(obs []Observation, causes ...int) []Caused {
	list := make([]Caused, len(obs))
	for i, o := range obs {
		list[i] = Caused{o, causes[i%len(causes)]}
	}
	return list
}

// With one cause there is nothing to take apart: the answers are those of the
// one curve.
func TestFitWaysOfOneCauseIsTheCurve(t *testing.T) {
	w, err := FitWays(caused(nistLives, 0), 1)
	if err != nil {
		t.Fatal(err)
	}
	one := fitOf(t, nistLives)
	for _, cut := range []float64{0, 100, 480} {
		a, b := w.Remaining(cut, cut), one.Remaining(cut, cut)
		near(t, "10 %", a.Q10, b.Q10, 1e-8)
		near(t, "50 %", a.Q50, b.Q50, 1e-8)
		near(t, "90 %", a.Q90, b.Q90, 1e-8)
		near(t, "chance of 50 more", w.Survives(cut, 0, 50), one.Survives(cut, 0, 50), 1e-12)
	}
	if w.Blades != 20 || w.Ended != 10 || len(w.Curves) != 1 {
		t.Errorf("%d blades, %d ended, %d curves, want 20, 10 and 1", w.Blades, w.Ended, len(w.Curves))
	}
}

// Shock absorbers with two modes (domain reference, section 5.2; checked in the
// tests of causes): each way has the shape found there.
func TestFitWaysHasACurveForEachCause(t *testing.T) {
	random := rand.New(rand.NewPCG(9, 0))
	var obs []Caused
	for range 4000 {
		chance, wear := 20000*random.ExpFloat64(), 10000*math.Pow(random.ExpFloat64(), 1.0/4)
		o := Caused{Observation{Area: min(chance, wear), Ended: true}, 0}
		if wear < chance {
			o.Cause = 1
		}
		obs = append(obs, o)
	}
	w, err := FitWays(obs, 3) // nobody ended by the third
	if err != nil {
		t.Fatal(err)
	}
	if len(w.Curves) != 2 {
		t.Fatalf("%d curves, want 2", len(w.Curves))
	}
	near(t, "shape of the chance", w.Curves[0].Shape, 1, 0.06)
	near(t, "shape of the wear", w.Curves[1].Shape, 4, 0.06)
	near(t, "chance of 5,000 more at 3,000", w.Survives(3000, 0, 5000), math.Exp(-5000.0/20000-math.Pow(0.8, 4)+math.Pow(0.3, 4)), 0.03)
}

// The end of a cause that no curve fits, here the longest life of all, still
// counts: as one that comes by chance, 1 end in all that was cut.
func TestFitWaysKeepsTheEndsNoCurveFits(t *testing.T) {
	obs := caused(lives(3000, 4000, 5000, -6000, 8000), 0, 0, 0, 0, 1)
	w, err := FitWays(obs, 2)
	if err != nil {
		t.Fatal(err)
	}
	if len(w.Curves) != 2 || !w.Curves[1].Borrowed || w.Curves[1].Shape != 1 {
		t.Fatalf("curves %+v, want the second by chance", w.Curves)
	}
	near(t, "scale of what comes by chance", w.Curves[1].Scale, 26000, 1e-12)
	near(t, "its chance of 1000 more", w.Curves[1].Survives(0, 0, 1000), 1/(1+1000.0/26000), 1e-12)
}

func TestFitWaysRefuses(t *testing.T) {
	for _, c := range []struct {
		name string
		obs  []Caused
		want error
		says string
	}{
		{"no ends", caused(lives(-5, -6), 0), ErrTooFewEnds, "0 of 2 blades have ended: at least one end is needed"},
		{"cause too high", caused(lives(5, 6), 0, 2), nil, "observation 2: cause 2: want 0 to 1"},
		{"cause below 0", caused(lives(5), -1), nil, "observation 1: cause -1: want 0 to 1"},
		{"impossible blade", caused(lives(math.NaN()), 0), nil, "ways of ending: observation 1: area NaN: want a number"},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := FitWays(c.obs, 2)
			if err == nil || err.Error() != c.says || c.want != nil && !errors.Is(err, c.want) {
				t.Errorf("error %v, want %q", err, c.says)
			}
		})
	}
}

// Quantiles are where the chance says, they rise, and a unit does not matter.
func TestWaysProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		whole := someLives(t, 3, true)
		w, err := FitWays(caused(whole, 0, 1, 1, 2), 3)
		if err != nil {
			t.Skip(err)
		}
		cut := float64(rapid.IntRange(0, 9000).Draw(t, "cut"))
		q := w.RemainingQuantiles(cut, 0, 0.1, 0.5, 0.9)
		// Late entries can leave a life that is over at once or never possible.
		inRange := func(x float64) bool { return 1e-250 < x && x < 1e250 }
		for i, share := range []float64{0.1, 0.5, 0.9} {
			if got := 1 - w.Survives(cut, 0, q[i]); math.Abs(got-share) > 1e-6 && inRange(q[i]) {
				t.Fatalf("at the %v quantile %v of the blades are done", share, got)
			}
		}
		for i := range whole {
			whole[i].Start *= 6.4516
			whole[i].Area *= 6.4516
		}
		v, err := FitWays(caused(whole, 0, 1, 1, 2), 3)
		if err != nil {
			t.Fatal(err)
		}
		r := v.RemainingQuantiles(cut*6.4516, 0, 0.1, 0.5, 0.9)
		for i := range q {
			if math.Abs(r[i]/(q[i]*6.4516)-1) > 1e-5 && inRange(q[i]) {
				t.Fatalf("%v is %v in a smaller unit", q[i], r[i])
			}
		}
	})
	for _, bad := range []float64{math.NaN(), math.Inf(1)} {
		if q := (Ways{Curves: []Weibull{fitOf(t, nistLives)}}).RemainingQuantiles(bad, 0, 0.5); !math.IsNaN(q[0]) {
			t.Errorf("at a cut of %v: %v, want NaN", bad, q[0])
		}
	}
	if q := (Ways{}).RemainingQuantiles(5, 0, 0.5); !math.IsNaN(q[0]) {
		t.Errorf("without a curve: %v, want NaN", q[0])
	}
}
