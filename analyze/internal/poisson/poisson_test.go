package poisson

import (
	"fmt"
	"math"
	"testing"

	"pgregory.net/rapid"
)

func near(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if got != want && !(math.Abs(got-want) <= tolerance*math.Abs(want)) {
		t.Errorf("%s is %.12g, want %.12g", what, got, want)
	}
}

// Wanted values by bisection of the sums of Poisson chances in 50 digits (Python's
// decimal); 4 at 80 % is that of the domain reference, section 5.1 (1000/125.10).
// Limits at 95 % are held against R in analyze/deviation.
func TestLimits(t *testing.T) {
	for _, c := range []struct {
		k                int
		level, low, high float64
	}{
		{0, 0.9, 0, 2.99573227355},
		{4, 0.8, 1.74476956282, 7.99358958605},
		{3, 0.9, 0.817691447164, 7.75365652793},
		{27, 0.99, 15.490626391, 43.4968775804},
		{60, 0.95, 45.78632095, 77.2318934066},
	} {
		low, high := Limits(c.k, c.level)
		near(t, fmt.Sprintf("lower limit of %d at %v", c.k, c.level), low, c.low, 1e-11)
		near(t, fmt.Sprintf("upper limit of %d at %v", c.k, c.level), high, c.high, 1e-11)
	}
}

// Of no event the upper limit is -ln(1 - level): exp(-m) is the chance of none.
func TestAtMostOfNone(t *testing.T) {
	for _, level := range []float64{0.5, 0.9, 0.95, 0.999} {
		near(t, fmt.Sprint("upper limit of 0 at ", level), AtMost(0, level), -math.Log1p(-level), 1e-12)
	}
}

func TestLimitsOfNothingSensible(t *testing.T) {
	for _, c := range []struct {
		k     int
		level float64
	}{{-1, 0.95}, {3, 0}, {3, 1}, {3, -0.5}, {3, 95}, {3, math.NaN()}, {0, 2}} {
		if low, high := Limits(c.k, c.level); !math.IsNaN(low) || !math.IsNaN(high) {
			t.Errorf("limits of %d at %v are %v and %v, want none", c.k, c.level, low, high)
		}
	}
}

// Wanted values by bisection of the sums of binomial chances in 50 digits (Python's
// decimal). 40 to 22 has limits that hold 1 and a chance of 0.042 of counts as
// uneven (R's poisson.test, see analyze/deviation): Central does not contradict
// the limits.
func TestPair(t *testing.T) {
	inf := math.Inf(1)
	for _, c := range []struct {
		Pair
		level, low, high, central float64
	}{
		{Pair{21, 11, 3011, 800}, 0.9, 0.977584347497, 3.82738640785, 0.112017319575},
		{Pair{2, 7, 30000, 12000}, 0.95, 1.66601695052, 86.3258076336, 0.00630585513706},
		{Pair{5, 0, 15000, 10000}, 0.99, 0, 2.82809971772, 0.15552},
		{Pair{0, 5, 1, 1}, 0.95, 0.916355857315, inf, 0.0625},
		{Pair{22, 40, 48000, 51000}, 0.95, 0.992879868105, 3.02310263376, 0.0533669684772},
		{Pair{3, 3, 1, 1}, 0.8, 0.251421738449, 3.97738081905, 1},
		{Pair{19, 8, 4200, 900}, 0.9975, 0.426320325775, 7.0765896205, 0.178130779316},
	} {
		what := fmt.Sprintf("of %d over %v to %d over %v the ", c.B, c.OverB, c.A, c.OverA)
		low, high := c.RatioLimits(c.level)
		near(t, what+"lower limit", low, c.low, 1e-10)
		near(t, what+"upper limit", high, c.high, 1e-10)
		near(t, what+"chance", c.Central(), c.central, 1e-10)
	}
}

// Wanted values from R 4.2.2, poisson.test, as in analyze/deviation.
func TestUneven(t *testing.T) {
	for want, p := range map[float64]Pair{
		0.0796686330333: {21, 11, 3011, 800}, 0.00315292756853: {2, 7, 30000, 12000}, 0.1648: {5, 0, 15000, 10000},
		0.0625: {0, 5, 1, 1}, 1: {3, 3, 1, 1}, 0.0424440319849: {22, 40, 48000, 51000}, 0.25: {0, 1, 3, 1},
	} {
		chance := p.Uneven()
		near(t, fmt.Sprintf("of %+v the chance", p), chance, want, 1e-8)
		if turned := (Pair{p.B, p.A, p.OverB, p.OverA}).Uneven(); math.Abs(turned-chance) > 1e-9 {
			t.Errorf("of %+v the chance is %v and, turned round, %v", p, chance, turned)
		}
	}
}

func TestPairWithoutEvents(t *testing.T) {
	p := Pair{0, 0, 10, 20}
	low, high := p.RatioLimits(0.95)
	if !math.IsNaN(p.Ratio()) || low != 0 || !math.IsInf(high, 1) || p.Central() != 1 || p.Uneven() != 1 {
		t.Errorf("the ratio is %v (%v to %v) with chances %v and %v, want one that says nothing",
			p.Ratio(), low, high, p.Central(), p.Uneven())
	}
}

func drawPair(t *rapid.T) Pair {
	count, over := rapid.IntRange(0, 300), rapid.Float64Range(1e-3, 1e9)
	return Pair{count.Draw(t, "a"), count.Draw(t, "b"), over.Draw(t, "over a"), over.Draw(t, "over b")}
}

// Central is below 1 - level where the limits leave 1 out, and only there.
func TestCentralAgreesWithLimits(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p, level := drawPair(t), rapid.Float64Range(0.5, 0.999).Draw(t, "level")
		low, high := p.RatioLimits(level)
		if math.Abs(low-1) < 1e-6 || math.Abs(high-1) < 1e-6 {
			t.Skip("on the border")
		}
		if out, chance := low > 1 || high < 1, p.Central(); out != (chance < 1-level) {
			t.Fatalf("limits %v to %v at %v with a chance of %v", low, high, level, chance)
		}
	})
}

// Turned round, a ratio is one over it; a higher level has wider limits.
func TestPairProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := drawPair(t)
		turned := Pair{p.B, p.A, p.OverB, p.OverA}
		low, high := p.RatioLimits(0.9)
		turnedLow, turnedHigh := turned.RatioLimits(0.9)
		if math.Abs(low*turnedHigh-1) > 1e-6 && p.B > 0 || math.Abs(high*turnedLow-1) > 1e-6 && p.A > 0 {
			t.Fatalf("%v to %v and, turned round, %v to %v", low, high, turnedLow, turnedHigh)
		}
		if x, y := p.Central(), turned.Central(); math.Abs(x-y) > 1e-6 {
			t.Fatalf("chances %v and, turned round, %v", x, y)
		}
		if wideLow, wideHigh := p.RatioLimits(0.99); wideLow > low || wideHigh < high {
			t.Fatalf("at 99 %% %v to %v, at 90 %% %v to %v", wideLow, wideHigh, low, high)
		}
		if r := p.Ratio(); p.A+p.B > 0 && !(low <= r && r <= high) {
			t.Fatalf("ratio %v, limits %v to %v", r, low, high)
		}
	})
}
