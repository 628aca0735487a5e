package life

import (
	"errors"
	"math"
	"strings"
	"testing"

	"gonum.org/v1/gonum/mat"
	"pgregory.net/rapid"
)

func TestMaximiseKnownMaxima(t *testing.T) {
	for _, c := range []struct {
		name        string
		f           logLikelihood
		start, want []float64
		variance    []float64
	}{
		{"quadratic in one step", func(x, g []float64, h *mat.SymDense) float64 {
			// -(2(x-1)² + 2(x-1)(y+3) + 3(y+3)²)/2
			a, b := x[0]-1, x[1]+3
			g[0], g[1] = -2*a-b, -a-3*b
			h.SetSym(0, 0, -2)
			h.SetSym(0, 1, -1)
			h.SetSym(1, 1, -3)
			return -(2*a*a + 2*a*b + 3*b*b) / 2
		}, []float64{50, 80}, []float64{1, -3}, []float64{0.6, 0.4}},
		// A Poisson count of 7 and its logarithm: the full step from far right
		// or left overshoots by far.
		{"overshooting", func(x, g []float64, h *mat.SymDense) float64 {
			e := math.Exp(x[0])
			g[0] = 7 - e
			h.SetSym(0, 0, -e)
			return 7*x[0] - e
		}, []float64{-8}, []float64{math.Log(7)}, []float64{1. / 7}},
		// ln of a Cauchy density: convex away from the middle.
		{"start where the curve is convex", func(x, g []float64, h *mat.SymDense) float64 {
			q := 1 + x[0]*x[0]
			g[0] = -2 * x[0] / q
			h.SetSym(0, 0, -2/q+4*x[0]*x[0]/(q*q))
			return -math.Log(q)
		}, []float64{40}, []float64{0}, []float64{0.5}},
		// 3·ln x - x, domain x > 0.
		{"edge of the domain", func(x, g []float64, h *mat.SymDense) float64 {
			if x[0] <= 0 {
				return math.Inf(-1)
			}
			g[0] = 3/x[0] - 1
			h.SetSym(0, 0, -3/(x[0]*x[0]))
			return 3*math.Log(x[0]) - x[0]
		}, []float64{11}, []float64{3}, []float64{3}},
	} {
		t.Run(c.name, func(t *testing.T) {
			m, err := maximise(c.f, c.start)
			if err != nil {
				t.Fatal(err)
			}
			for i, want := range c.want {
				if math.Abs(m.at[i]-want) > 1e-9 {
					t.Errorf("parameter %d is %.12g, want %.12g", i+1, m.at[i], want)
				}
				near(t, "variance", m.covariance.At(i, i), c.variance[i], 1e-9)
			}
		})
	}
}

func TestMaximiseWithoutMaximum(t *testing.T) {
	for _, c := range []struct {
		name      string
		f         logLikelihood
		start     []float64
		parameter int
		words     string
	}{
		{"flat to the left", func(x, g []float64, h *mat.SymDense) float64 {
			e := math.Exp(x[1])
			g[0], g[1] = -x[0], -e
			h.SetSym(0, 0, -1)
			h.SetSym(1, 1, -e)
			return -x[0]*x[0]/2 - e
		}, []float64{3, 0}, 1, "no longer changes with parameter 2"},
		{"rises for ever", func(x, g []float64, h *mat.SymDense) float64 {
			if x[0] <= 0 {
				return math.Inf(-1)
			}
			g[0] = 1 / x[0]
			h.SetSym(0, 0, -1/(x[0]*x[0]))
			return math.Log(x[0])
		}, []float64{1}, 0, "no longer changes"},
		{"straight", func(x, g []float64, _ *mat.SymDense) float64 {
			g[0] = 1
			return x[0]
		}, []float64{1}, -1, "keeps rising"},
		{"only the sum counts", func(x, g []float64, h *mat.SymDense) float64 {
			d := x[0] + x[1] - 2
			g[0], g[1] = -d, -d
			h.SetSym(0, 0, -1)
			h.SetSym(0, 1, -1+1e-13)
			h.SetSym(1, 1, -1)
			return -d * d / 2
		}, []float64{3, 0}, 0, "cannot tell parameter 1 from the others"},
		{"start outside", func(x, _ []float64, _ *mat.SymDense) float64 { return math.NaN() },
			[]float64{3}, -1, "no likelihood at the starting values"},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := maximise(c.f, c.start)
			var none noMaximum
			if !errors.As(err, &none) || !errors.Is(err, ErrNoFit) {
				t.Fatalf("error %v, want noMaximum", err)
			}
			if none.parameter != c.parameter || !strings.Contains(err.Error(), c.words) {
				t.Errorf("blames parameter %d, %q; want %d, %q", none.parameter, err, c.parameter, c.words)
			}
		})
	}
}

// A logistic regression's log likelihood is concave: the maximum does not
// depend on where the climb starts.
func TestMaximiseFromAnywhere(t *testing.T) {
	f := func(x, g []float64, h *mat.SymDense) (l float64) {
		for i, won := range []bool{false, true, false, true, true, false, true} {
			v := [2]float64{1, float64(i)}
			p := 1 / (1 + math.Exp(-(x[0] + x[1]*v[1])))
			hit := 0.0
			if won {
				hit = 1
			}
			l += hit*(x[0]+x[1]*v[1]) - softplus(x[0]+x[1]*v[1])
			for j := range v {
				g[j] += (hit - p) * v[j]
				for k := range j + 1 {
					h.SetSym(j, k, h.At(j, k)-p*(1-p)*v[j]*v[k])
				}
			}
		}
		return l
	}
	want, err := maximise(f, []float64{0, 0})
	if err != nil {
		t.Fatal(err)
	}
	rapid.Check(t, func(t *rapid.T) {
		// Beyond a few units the curvature is lost in rounding.
		start := []float64{rapid.Float64Range(-6, 6).Draw(t, "level"), rapid.Float64Range(-2, 2).Draw(t, "slope")}
		got, err := maximise(f, start)
		if err != nil {
			t.Fatal(err)
		}
		for i := range want.at {
			if math.Abs(got.at[i]-want.at[i]) > 1e-8 {
				t.Fatalf("from %v to %v, want %v", start, got.at, want.at)
			}
		}
	})
}
