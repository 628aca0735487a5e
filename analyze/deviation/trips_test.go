package deviation

import (
	"fmt"
	"math"
	"testing"

	"pgregory.net/rapid"
)

// Wanted limits from R 4.2.2, poisson.test(k)$conf.int; rounded to three places
// they are the usual table of exact Poisson limits: 3.689, 0.025 to 5.572, 1.623
// to 11.668, 4.795 to 18.390.
func TestRateLimitsAgreeWithReference(t *testing.T) {
	for count, want := range map[int][2]float64{
		0: {0, 3.68887945411}, 1: {0.0253178079843, 5.5716433909389}, 5: {1.62348639012, 11.66833207932},
		10: {4.79538869613, 18.39035604202}, 100: {81.3639912509, 121.6267937924},
	} {
		r, err := NewRate(count, 4000)
		if err != nil {
			t.Fatal(err)
		}
		what := fmt.Sprintf("of %d over 4,000 in² the ", count)
		close(t, what+"rate", r.Value, float64(count)/4, 1e-12)
		close(t, what+"lower limit", 4*r.Low, want[0], 1e-8)
		close(t, what+"upper limit", 4*r.High, want[1], 1e-8)
	}
}

// Wanted values from R 4.2.2, poisson.test(c(b, a), c(areaB, areaA)); the first is
// the example of its help page, after Bonita 2008 [from memory].
func TestRateRatioAgreesWithReference(t *testing.T) {
	inf := math.Inf(1)
	for _, c := range []struct {
		b, a         int
		areaB, areaA float64
		want         Estimate
		p            float64
	}{
		{11, 21, 800, 3011, Estimate{1.97148809524, 0.858426403392, 4.27726594365}, 0.0796686330333},
		{7, 2, 12000, 30000, Estimate{8.75, 1.66601695052, 86.3258076336}, 0.00315292756853},
		{0, 5, 10000, 15000, Estimate{0, 0, 1.63691865777}, 0.1648},
		{5, 0, 10000, 10000, Estimate{inf, 0.916355857315, inf}, 0.0625},
		{3, 3, 1, 1, Estimate{1, 0.133937588178, 7.46616400672}, 1},
		{40, 22, 51000, 48000, Estimate{1.71122994652, 0.992879868105, 3.02310263376}, 0.0424440319849},
		{1, 0, 1, 3, Estimate{inf, 0.0769230769231, inf}, 0.25},
	} {
		a, _ := NewRate(c.a, c.areaA)
		b, _ := NewRate(c.b, c.areaB)
		ratio, p := RateRatio(a, b)
		what := fmt.Sprintf("of %d over %v to %d over %v the ", c.b, c.areaB, c.a, c.areaA)
		same(t, what+"ratio", ratio.Value, c.want.Value, 1e-8)
		same(t, what+"lower limit", ratio.Low, c.want.Low, 1e-8)
		same(t, what+"upper limit", ratio.High, c.want.High, 1e-8)
		close(t, what+"chance", p, c.p, 1e-8)
	}
}

// same is close, for a wanted value without end too.
func same(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if math.IsInf(want, 0) && got == want {
		return
	}
	close(t, what, got, want, tolerance)
}

func TestRateRefuses(t *testing.T) {
	for _, area := range []float64{0, -1, math.NaN(), math.Inf(1)} {
		if r, err := NewRate(1, area); err == nil {
			t.Errorf("over an area of %v the rate is %+v", area, r)
		}
	}
	if r, err := NewRate(-1, 10); err == nil {
		t.Errorf("of -1 the rate is %+v", r)
	}
	none, _ := NewRate(0, 10)
	if ratio, p := RateRatio(none, none); !math.IsNaN(ratio.Value) || ratio.Low != 0 || !math.IsInf(ratio.High, 1) || p != 1 {
		t.Errorf("without a count the ratio is %+v with a chance of %v, want one that says nothing", ratio, p)
	}
}

// The rate lies within its limits, and turned round the ratio is one over it.
func TestRateRatioProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		count, area := rapid.IntRange(1, 300), rapid.Float64Range(1, 1e9)
		a, _ := NewRate(count.Draw(t, "a"), area.Draw(t, "area a"))
		b, _ := NewRate(count.Draw(t, "b"), area.Draw(t, "area b"))
		if !(0 < a.Low && a.Low < a.Value && a.Value < a.High) {
			t.Fatalf("the rate is %+v", a)
		}
		ratio, p := RateRatio(a, b)
		turned, q := RateRatio(b, a)
		for _, c := range [][2]float64{{ratio.Value, turned.Value}, {ratio.Low, turned.High}, {ratio.High, turned.Low}} {
			if math.Abs(c[0]*c[1]-1) > 1e-6 {
				t.Fatalf("%+v, turned round %+v", ratio, turned)
			}
		}
		if math.Abs(p-q) > 1e-6 || !(0 <= p && p <= 1) {
			t.Fatalf("chances %v and, turned round, %v", p, q)
		}
	})
}
