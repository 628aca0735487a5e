package plan

import (
	"math"
	"strings"
	"testing"

	"gonum.org/v1/gonum/mathext"
	"pgregory.net/rapid"
)

// The area under a Weibull survival is a gamma function,
//
//	∫ R(u) du from 0 to x = scale/shape·Γ(1/shape)·P(1/shape, (x/scale)^shape),
//
// P the lower regularised one.
func TestAreaUnderWeibull(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		shape := rapid.Float64Range(0.5, 20).Draw(t, "shape")
		scale := math.Exp(rapid.Float64Range(-13, 20).Draw(t, "ln scale"))
		c, err := tabulate(weibull(shape, scale, 0), beginnings(5*scale))
		if err != nil {
			t.Fatal(err)
		}
		x := 5 * scale * rapid.Float64Range(1e-3, 1).Draw(t, "x")
		want := scale / shape * math.Gamma(1/shape) * mathext.GammaIncReg(1/shape, math.Pow(x/scale, shape))
		under, left := c.to(x)
		near(t, "area", under, want, 1e-7)
		near(t, "survival", left, weibull(shape, scale, 0)(x), 1e-9)
		if under > c.total()*(1+1e-9) {
			t.Fatalf("%v under a part, %v under all", under, c.total())
		}
	})
}

// The quartic through five points, and the areas under its parts, are exact for a
// cubic and a quartic.
func TestPanelOfAQuartic(t *testing.T) {
	f := func(x float64) float64 { return 1 - x/8 - x*x/50 - x*x*x/900 - x*x*x*x/9000 }
	whole := func(x float64) float64 {
		return x - x*x/16 - x*x*x/150 - x*x*x*x/3600 - x*x*x*x*x/45000
	}
	p := look(f, 0.5, 3)
	parts := p.parts()
	for i, got := range []float64{parts[0], parts[1], parts[2], p.under()} {
		to := p.at(i + 1)
		near(t, "area under a part", got, whole(to)-whole(0.5), 1e-13)
		near(t, "value", p.quartic(float64(i)+0.3), f(0.5+0.75*(float64(i)+0.3)), 1e-13)
	}
	if p.doubt() > 1e-15 {
		t.Errorf("a quartic is in doubt by %v", p.doubt())
	}
}

// Five even steps pass through the points of a straight line; the probe tells.
func TestEvenStepsAreInDoubt(t *testing.T) {
	steps := func(x float64) float64 { return 1 - math.Floor(x)/10 }
	if p := look(steps, 0, 4); !(p.doubt() > 0.1) {
		t.Errorf("a doubt of %v, want one above 0.1", p.doubt())
	}
	c, err := tabulate(steps, []float64{0, 4, 8})
	if err != nil {
		t.Fatal(err)
	}
	near(t, "area", c.total(), 1+0.9+0.8+0.7+0.6+0.5+0.4+0.3, 1e-6)
}

func TestTabulateStopsLooking(t *testing.T) {
	looks := 0
	rough := func(x float64) float64 { // a step every 1e-3
		looks++
		return 1 - math.Floor(1000*x)/1000
	}
	c, err := tabulate(rough, beginnings(1))
	if err != nil {
		t.Fatal(err)
	}
	if looks > maxLooks+100 {
		t.Errorf("looked %d times, want some %d", looks, maxLooks)
	}
	near(t, "area", c.total(), 0.5005, 1e-3)
	if _, err := tabulate(func(x float64) float64 { return 2 - x }, []float64{0, 1}); err == nil || !strings.Contains(err.Error(), "want 0 to 1") {
		t.Errorf("a chance of 2: error %v", err)
	}
}
