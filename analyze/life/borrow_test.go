package life

import (
	"errors"
	"math"
	"math/rand/v2"
	"testing"

	"pgregory.net/rapid"
)

// House example: ages 9000 7500 10000 8200 6100 at a given shape of 2.5 (the
// project's domain reference, section 5.3). r = 2: scale 12000.3; none ended and
// one counted all the same: 15834.5.
func TestBorrowAsWritten(t *testing.T) {
	pool := Weibull{Shape: 2.5, Scale: 1, belief: []belief{{shape: 2.5, weight: 1}}}
	w, err := Borrow(lives(9000, 7500, -10000, -8200, -6100), pool)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "scale", w.Scale, 12000.3, 1e-5)
	if w.Shape != 2.5 || w.Ended != 2 || w.Blades != 5 || !w.Borrowed {
		t.Errorf("fit %+v, want shape 2.5 of 2 ends of 5, borrowed", w)
	}
	bound, err := ScaleBound(lives(-9000, -7500, -10000, -8200, -6100), 2.5)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "scale if one had ended", bound*math.Pow(-math.Log(0.05), 1/2.5), 15834.5, 1e-5)
	near(t, "chance of no end at the bound", math.Exp(-math.Pow(15834.5/bound, 2.5)), 0.05, 1e-3)
}

func TestBorrowRefuses(t *testing.T) {
	pool := fitOf(t, nistLives)
	for _, c := range []struct {
		name string
		obs  []Observation
		pool Weibull
		want error
		says string
	}{
		{"no ends", lives(-5, -6), pool, ErrTooFewEnds, "0 of 2 blades have ended: at least one end is needed"},
		{"no blades", nil, pool, ErrTooFewEnds, "0 of 0 blades have ended: at least one end is needed"},
		{"a pool that was not fitted", lives(5, 6), Weibull{Shape: 2, Scale: 5}, ErrNoFit, "there is no shape to borrow: no Weibull curve fits"},
		{"an impossible blade", lives(5, math.NaN()), pool, nil, "Weibull fit with a borrowed shape: observation 2: area NaN: want a number"},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := Borrow(c.obs, c.pool)
			if err == nil || err.Error() != c.says || (c.want != nil && !errors.Is(err, c.want)) {
				t.Errorf("error %v, want %q", err, c.says)
			}
		})
	}
	for _, shape := range []float64{0, -1, math.NaN(), math.Inf(1)} {
		if _, err := ScaleBound(lives(-5), shape); err == nil {
			t.Errorf("a bound at shape %v", shape)
		}
	}
	if b, err := ScaleBound(nil, 2); err != nil || b != 0 {
		t.Errorf("bound of nothing is %v (%v), want 0", b, err)
	}
	if _, err := ScaleBound(lives(math.Inf(-1)), 2); err == nil {
		t.Error("a bound from an endless blade")
	}
}

// A pool that is sure of its shape leaves the scale the only doubt, whose
// quantiles are those of a chi-square: with r ends Scale^k lies between
// 2M/χ²(0.975; 2r) and 2M/χ²(0.025; 2r). For r = 2 those are 11.1433 and 0.4844
// (tables of chi-square, 4 degrees of freedom).
func TestBorrowedLimitsWithASureShape(t *testing.T) {
	pool := Weibull{Shape: 2, Scale: 1, belief: []belief{{shape: 2, weight: 3}}}
	w, err := Borrow(lives(3000, 4000, -5000), pool)
	if err != nil {
		t.Fatal(err)
	}
	const sum = 3000*3000 + 4000*4000 + 5000*5000
	b := w.QuantileEstimate(1 - math.Exp(-1)) // that quantile is the scale
	near(t, "scale", b.Value, math.Sqrt(sum/2.0), 1e-12)
	near(t, "lower limit", b.Low, math.Sqrt(2*sum/11.143287), 1e-6)
	near(t, "upper limit", b.High, math.Sqrt(2*sum/0.48441856), 1e-6)
	near(t, "standard error of ln scale", math.Sqrt(w.Covariance[1][1]), 1/(2*math.Sqrt2), 1e-12)
}

// A group that is the whole pool gets its own fit back, and the doubt about its
// scale agrees with the curvature.
func TestBorrowFromOneself(t *testing.T) {
	pool := fitOf(t, nistLives)
	w, err := Borrow(nistLives, pool)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "scale", w.Scale, pool.Scale, 1e-12)
	near(t, "log likelihood", w.LogLik, pool.LogLik, 1e-12)
	for i := range w.Covariance {
		for j := range w.Covariance {
			near(t, "covariance", w.Covariance[i][j], pool.Covariance[i][j], 1e-9)
		}
	}
	a, b := w.RemainingQuantiles(100, 0, 0.1, 0.5, 0.9), pool.RemainingQuantiles(100, 0, 0.1, 0.5, 0.9)
	for i := range a {
		near(t, "remaining", a[i], b[i], 1e-9)
	}
}

func TestBorrowProperties(t *testing.T) {
	pool := fitOf(t, drawnLives(rand.New(rand.NewPCG(7, 0)), 60, 2.2, 9000, 15000))
	rapid.Check(t, func(t *rapid.T) {
		obs := someLives(t, 1, true)
		w, err := Borrow(obs, pool)
		if err != nil {
			t.Skip(err)
		}
		unit := math.Pow(10, float64(rapid.IntRange(-6, 6).Draw(t, "unit")))
		scaled := make([]Observation, len(obs))
		for i, o := range obs {
			scaled[i] = Observation{o.Start * unit, o.Area * unit, o.Ended}
		}
		v, err := Borrow(scaled, pool)
		if err != nil {
			t.Fatal(err)
		}
		e, f := w.QuantileEstimate(0.1), v.QuantileEstimate(0.1)
		for _, pair := range [][2]float64{{w.Scale, v.Scale}, {e.Low, f.Low}, {e.Value, f.Value}, {e.High, f.High}} {
			if math.Abs(pair[1]/(pair[0]*unit)-1) > 1e-7 {
				t.Fatalf("%v becomes %v in a unit of 1/%v", pair[0], pair[1], unit)
			}
		}
		if !(e.Low < e.Value && e.Value < e.High) {
			t.Fatalf("limits %+v do not hold the value", e)
		}
	})
}
