package plan

import (
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

func weibull(shape, scale, cut float64) func(float64) float64 {
	return func(x float64) float64 {
		return math.Exp(math.Pow(cut/scale, shape) - math.Pow((cut+x)/scale, shape))
	}
}

func combined(t testing.TB, ways ...Way) *Combined {
	t.Helper()
	c, err := Combine(ways, 60000)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// Two ways by chance end a blade as one of both rates does, and share its ends by
// their rates.
func TestTwoWaysByChance(t *testing.T) {
	c := combined(t, Way{"strip", weibull(1, 6000, 0)}, Way{"weld", weibull(1, 3000, 0)})
	if got, want := c.Left(1234.5), math.Exp(-1234.5/2000); math.Abs(got-want) > 1e-12 {
		t.Errorf("left after 1,234.5: %v, want %v", got, want)
	}
	if got, want := c.Quantile(0.5), 2000*math.Ln2; math.Abs(got-want) > 1e-9*want {
		t.Errorf("half are done by %v, want %v", got, want)
	}
	shares := c.Shares(60000)
	if math.Abs(shares[0]-1.0/3) > 1e-9 || math.Abs(shares[1]-2.0/3) > 1e-9 {
		t.Errorf("shares %v, want one third and two thirds", shares)
	}
}

// House example (domain reference 5.3): Weibull(2.5, 10000), a blade at 6,000 fails
// in the next 1,000 with 0.1229.
func TestAWornBlade(t *testing.T) {
	if got := 1 - combined(t, Way{"wear", weibull(2.5, 10000, 6000)}).Left(1000); math.Abs(got-0.1229) > 5e-5 {
		t.Errorf("ends within 1,000 with %v, want 0.1229", got)
	}
}

// The truth of one stratum (domain reference 10): ends by cause, dull 0.638, strip
// 0.208, fatigue 0.124, weld 0.030, and B10 4,291, B50 13,502.
func TestTheOneStratum(t *testing.T) {
	weld := func(x float64) float64 { return 0.97 + 0.03*math.Exp(-x/800) }
	dull := func(x float64) float64 { return math.Erfc(math.Log(x/15000)/0.18/math.Sqrt2) / 2 }
	c := combined(t, Way{"dull", dull}, Way{"strip", weibull(1, 60000, 0)}, Way{"fatigue", weibull(3, 28177, 0)}, Way{"weld", weld})
	for chance, want := range map[float64]float64{0.1: 4291, 0.5: 13502} {
		if got := c.Quantile(chance); math.Abs(got-want) > 0.001*want {
			t.Errorf("%v are done by %v, want %v", chance, got, want)
		}
	}
	for i, want := range []float64{0.638, 0.208, 0.124, 0.030} {
		if got := c.Shares(60000)[i]; math.Abs(got-want) > 0.003 {
			t.Errorf("%s ends %v of the blades, want %v", c.Causes[i], got, want)
		}
	}
}

func TestCombineRefuses(t *testing.T) {
	fine := weibull(2, 9000, 0)
	for _, c := range []struct {
		name     string
		ways     []Way
		furthest float64
		want     string
	}{
		{"no way", nil, 100, "no way"},
		{"no area", []Way{{"x", fine}}, 0, "want an area above 0"},
		{"an endless area", []Way{{"x", fine}}, math.Inf(1), "want an area above 0"},
		{"a chance above 1", []Way{{"x", func(float64) float64 { return 2 }}}, 100, "want 0 to 1"},
		{"no number", []Way{{"x", func(float64) float64 { return math.NaN() }}}, 100, "want 0 to 1"},
		{"a chance that rises", []Way{{"x", func(a float64) float64 { return 0.5 + a/1000 }}}, 100, "rises"},
	} {
		if _, err := Combine(c.ways, c.furthest); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: error %v, want one with %q", c.name, err, c.want)
		}
	}
}

func TestCombinedProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		way := rapid.Custom(func(t *rapid.T) Way {
			return Way{"w", weibull(rapid.Float64Range(0.5, 5).Draw(t, "shape"), rapid.Float64Range(100, 50000).Draw(t, "scale"), rapid.Float64Range(0, 20000).Draw(t, "cut"))}
		})
		ways := rapid.SliceOfN(way, 1, 4).Draw(t, "ways")
		c, err := Combine(ways, 30000)
		if err != nil {
			t.Fatal(err)
		}
		x := rapid.Float64Range(30000/finest, 30000).Draw(t, "x")
		product := 1.0
		for _, w := range ways {
			product *= w.Left(x)
		}
		if got := c.Left(x); math.Abs(got-product) > 0.01 {
			t.Fatalf("left after %v: %v, the ways' product %v", x, got, product)
		}
		chance := rapid.Float64Range(0.01, 0.99).Draw(t, "chance")
		if q := c.Quantile(chance); !math.IsInf(q, 1) && math.Abs(1-c.Left(q)-chance) > 1e-6 {
			t.Fatalf("by the %v quantile %v %v have ended", chance, q, 1-c.Left(q))
		}
		sum := 0.0
		for _, s := range c.Shares(x) {
			sum += s
		}
		if math.Abs(sum-1) > 1e-9 && sum != 0 {
			t.Fatalf("shares sum to %v", sum)
		}
	})
}
