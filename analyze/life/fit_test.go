package life

import (
	"errors"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
	"pgregory.net/rapid"
)

// fitOf is FitWeibull of lives that have a fit.
func fitOf(t interface{ Fatal(...any) }, obs []Observation) Weibull {
	w, err := FitWeibull(obs)
	if err != nil {
		t.Fatal(err)
	}
	return w
}

// fitOrSkip is fitOf for drawn lives, which may lie all at the greatest area
// or come all late.
func fitOrSkip(t *rapid.T, obs []Observation) Weibull {
	w, err := FitWeibull(obs)
	if errors.Is(err, ErrNoFit) || errors.Is(err, ErrTooFewEnds) {
		t.Skip(err)
	}
	if err != nil {
		t.Fatal(err)
	}
	return w
}

// drawnLives draws n blades of a Weibull, each pulled at an area drawn evenly
// up to latest unless it ended before.
func drawnLives(random *rand.Rand, n int, shape, scale, latest float64) []Observation {
	obs := make([]Observation, n)
	for i := range obs {
		end := scale * math.Pow(random.ExpFloat64(), 1/shape)
		pull := latest * random.Float64()
		obs[i] = Observation{Area: min(end, pull), Ended: end <= pull}
	}
	return obs
}

func TestFitWeibullPublished(t *testing.T) {
	for _, c := range []struct {
		name         string
		obs          []Observation
		shape, scale float64
	}{
		{
			"NIST/SEMATECH e-Handbook 8.4.1.3",
			lives(54, 187, 216, 240, 244, 335, 361, 373, 375, 386, -500, -500, -500, -500, -500, -500, -500, -500, -500, -500),
			1.7208, 606.528,
		},
		{
			"the same, ended blades only: the naive error",
			lives(54, 187, 216, 240, 244, 335, 361, 373, 375, 386),
			3.06, 308.5,
		},
		{
			"Lieblein and Zelen 1956, ball bearings (data from memory)",
			lives(17.88, 28.92, 33.00, 41.52, 42.12, 45.60, 48.48, 51.84, 51.96, 54.12, 55.56, 67.80, 68.64, 68.64,
				68.88, 84.12, 93.12, 98.64, 105.12, 105.84, 127.92, 128.04, 173.40),
			2.102, 81.88,
		},
		{
			"Meeker and Escobar Table C.2, shock absorbers (data from memory)",
			lives(6700, 9120, 12200, 13150, 14300, 17520, 20100, 20900, 22700, 26510, 27490,
				-6950, -7820, -8790, -9660, -9820, -11310, -11690, -11850, -11880, -12140, -12870, -13330, -13470,
				-14040, -17540, -17890, -18450, -18960, -18980, -19410, -20100, -20150, -20320, -23490, -27410,
				-27890, -28100),
			3.1605, 27718.7,
		},
		{"house example", lives(4100, -5200, 6400, 7100, -7600, 8800, -9900), 3.695, 8853},
	} {
		t.Run(c.name, func(t *testing.T) {
			w := fitOf(t, c.obs)
			near(t, "shape", w.Shape, c.shape, 6e-4)
			near(t, "scale", w.Scale, c.scale, 6e-4)
			if w.Blades != len(c.obs) {
				t.Errorf("%d blades, want %d", w.Blades, len(c.obs))
			}
		})
	}
}

func TestFitWeibullTooFewEnds(t *testing.T) {
	for _, c := range []struct {
		obs  []Observation
		says string
	}{
		{nil, "0 of 0 blades have ended: at least one end is needed"},
		{lives(-5, -6), "0 of 2 blades have ended: at least one end is needed"},
	} {
		_, err := FitWeibull(c.obs)
		if !errors.Is(err, ErrTooFewEnds) || err.Error() != c.says {
			t.Errorf("error %v, want %q", err, c.says)
		}
	}
}

func TestFitWeibullNoFit(t *testing.T) {
	// All came late and most ended soon after: the risk seems to have no
	// beginning, and ever lower shapes are ever better.
	late := []Observation{{100, 101, true}, {100, 102, true}, {100, 104, true}, {100, 150, true}, {100, 1e5, true}}
	// Found by a search through random lives: scale^shape is a number, the scale 0.
	vast := []Observation{
		{143117.11596478568, 143119.22424512665, true}, {398.7865429674035, 528.4203205793243, true},
		{3.01376084433614e+07, 3.013801959543547e+07, false}, {4.3577471138447866e-15, 1.8333101397336786e-14, true},
		{0.003702671992521423, 0.0037027512841185883, true}, {307226.7951346265, 6.667316931823726e+06, false},
		{1.4529520202489265e+10, 1.762575710878989e+10, true}, {9944.220186655375, 14241.427888054715, true},
	}
	for _, c := range []struct {
		name string
		obs  []Observation
		says string
	}{
		{"all tied", lives(4100, 4100, 4100), "every end is at one area and no blade went further: the shape has no upper limit: no Weibull curve fits"},
		{"all ends at the greatest area", lives(4100, 4100, 4100, -2000, -4100), "every end is at one area and no blade went further: the shape has no upper limit: no Weibull curve fits"},
		{"ends a hair apart", lives(4100, 4100+1e-6, 4100+2e-6), "the ends lie too close together to tell the shape: no Weibull curve fits"},
		{"a scale below all numbers", vast, "no sound maximum at shape 0.00261, scale 0: no Weibull curve fits"},
		{"a scale above all numbers", append(lives(1e296, 1e297, 1e298), lives(slices.Repeat([]float64{-1e300}, 200)...)...), "no sound maximum at shape 0.146, scale +Inf: no Weibull curve fits"},
		{"late entries only", late, "no shape is too low for the data; the beginning of life was not observed: no Weibull curve fits"},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := FitWeibull(c.obs)
			if !errors.Is(err, ErrNoFit) || err.Error() != c.says {
				t.Errorf("error %v, want %q", err, c.says)
			}
		})
	}
}

// Hard data that have a maximum must get a fit, and the maximum must be one:
// the score vanishes there, by differences of the likelihood as written.
func TestFitWeibullOnHardData(t *testing.T) {
	for _, c := range []struct {
		name string
		obs  []Observation
	}{
		{"tied below a survivor", lives(4100, 4100, 4100, -4200)},
		{"tied far below a survivor", lives(1, 1, 1, -1e9)},
		{"three ends, much censoring", append(lives(900, 4000, 5000), lives(slices.Repeat([]float64{-6000}, 200)...)...)},
		{"tiny scale", lives(1e-6, 2e-6, 3e-6, -4e-6)},
		{"huge scale", lives(1e9, 2e9, 3e9, -4e9)},
		{"absurd scale", lives(1e300, 2e300, 3e300, -4e300)},
		{"ends over many powers of ten", lives(1e-6, 1, 1e3, 1e9)},
		{"ends within a thousandth", lives(4100, 4101, 4102, 4104)},
		{"late by all but a hair", []Observation{{0, 500, true}, {999.999, 1000, true}, {0, 1500, true}, {1999, 2000, false}, {100, 1200, true}}},
		{"watched over nothing, far out", append(lives(4000, 5000, 7000), Observation{1e6, 1e6, false})},
	} {
		t.Run(c.name, func(t *testing.T) {
			w := fitOf(t, c.obs)
			if !(w.ShapeLow < w.Shape && w.Shape < w.ShapeHigh) {
				t.Errorf("limits %v to %v do not hold shape %v", w.ShapeLow, w.ShapeHigh, w.Shape)
			}
			at := logLik(c.obs, w.Shape, w.Scale)
			near(t, "log likelihood", w.LogLik, at, 1e-9)
			for _, turn := range [][2]float64{{1e-3, 0}, {-1e-3, 0}, {0, 1e-3}, {0, -1e-3}, {1e-3, 1e-3}, {-1e-3, 1e-3}} {
				if beside := logLik(c.obs, w.Shape*math.Exp(turn[0]), w.Scale*math.Exp(turn[1]/w.Shape)); beside > at {
					t.Errorf("likelihood is higher beside the maximum, by %v at %v", beside-at, turn)
				}
			}
		})
	}
}

// logLik is the log likelihood as written in FitWeibull's comment.
func logLik(obs []Observation, shape, scale float64) (l float64) {
	for _, o := range obs {
		if o.Ended {
			l += math.Log(shape/scale) + (shape-1)*math.Log(o.Area/scale)
		}
		l -= math.Pow(o.Area/scale, shape) - math.Pow(o.Start/scale, shape)
	}
	return l
}

// The covariance is that of the likelihood as written, by second differences.
func TestCovarianceIsTheInverseCurvature(t *testing.T) {
	random := rand.New(rand.NewPCG(2, 0))
	obs := drawnLives(random, 40, 2.2, 9000, 15000)
	for i := range obs[:20] {
		obs[i].Start = obs[i].Area / 2
	}
	w := fitOf(t, obs)
	const h = 1e-4
	f := func(a, b float64) float64 {
		return -logLik(obs, w.Shape*math.Exp(a*h), w.Scale*math.Exp(b*h)) / (h * h)
	}
	iaa := f(1, 0) - 2*f(0, 0) + f(-1, 0)
	ibb := f(0, 1) - 2*f(0, 0) + f(0, -1)
	iab := (f(1, 1) - f(1, -1) - f(-1, 1) + f(-1, -1)) / 4
	det := iaa*ibb - iab*iab
	want := [2][2]float64{{ibb / det, -iab / det}, {-iab / det, iaa / det}}
	if diff := cmp.Diff(want, w.Covariance, cmpopts.EquateApprox(1e-4, 1e-7)); diff != "" {
		t.Errorf("covariance (-by differences +got):\n%s", diff)
	}
}

func TestFitWeibullProperties(t *testing.T) {
	about := cmpopts.EquateApprox(1e-7, 1e-9)
	hidden := cmpopts.IgnoreUnexported(Weibull{})
	t.Run("unit", rapid.MakeCheck(func(t *rapid.T) {
		obs := someLives(t, 4, true)
		want := fitOrSkip(t, obs)
		unit := math.Pow(10, float64(rapid.IntRange(-9, 9).Draw(t, "unit")))
		for i := range obs {
			obs[i].Start *= unit
			obs[i].Area *= unit
		}
		got := fitOf(t, obs)
		want.Scale *= unit
		want.LogLik -= float64(want.Ended) * math.Log(unit)
		if diff := cmp.Diff(want, got, about, hidden); diff != "" {
			t.Fatalf("in another unit (-want +got):\n%s", diff)
		}
	}))
	t.Run("order", rapid.MakeCheck(func(t *rapid.T) {
		obs := someLives(t, 4, true)
		before := slices.Clone(obs)
		want := fitOrSkip(t, obs)
		if diff := cmp.Diff(before, obs); diff != "" {
			t.Fatalf("the caller's observations changed:\n%s", diff)
		}
		got := fitOf(t, rapid.Permutation(obs).Draw(t, "shuffled"))
		if diff := cmp.Diff(want, got, about, hidden); diff != "" {
			t.Fatalf("order matters (-want +got):\n%s", diff)
		}
	}))
	t.Run("split", rapid.MakeCheck(func(t *rapid.T) {
		obs := someLives(t, 4, false)
		want := fitOrSkip(t, obs)
		var split []Observation
		for _, o := range obs {
			at := o.Area * rapid.Float64Range(0, 0.9).Draw(t, "at")
			split = append(split, Observation{Area: at}, Observation{Start: at, Area: o.Area, Ended: o.Ended})
		}
		got := fitOf(t, split)
		got.Blades = want.Blades
		if diff := cmp.Diff(want, got, about, hidden); diff != "" {
			t.Fatalf("in two pieces (-want +got):\n%s", diff)
		}
	}))
	t.Run("sound or a reason", rapid.MakeCheck(func(t *rapid.T) {
		obs := someLives(t, 0, rapid.Bool().Draw(t, "delayed"))
		w, err := FitWeibull(obs)
		if err != nil {
			if !errors.Is(err, ErrTooFewEnds) && !errors.Is(err, ErrNoFit) {
				t.Fatal(err)
			}
			return
		}
		if !(w.Shape > 0 && w.Scale > 0 && w.Covariance[0][0] > 0 && w.Covariance[1][1] > 0) ||
			!(0 <= w.ShapeLow && w.ShapeLow < w.Shape && w.Shape < w.ShapeHigh) {
			t.Fatalf("unsound fit %+v", w)
		}
	}))
}

// Simulated, seed 4: 5,000 blades, about half pulled early, a third of those
// seen only from part of their life on. The truth lies within 3 standard
// errors; the mean of the ended alone is far short.
func TestFitWeibullFindsTheTruth(t *testing.T) {
	const shape, scale = 2.5, 10000.0
	random := rand.New(rand.NewPCG(4, 0))
	var obs []Observation
	for _, o := range drawnLives(random, 5000, shape, scale, 16000) {
		if start := 9000 * random.Float64(); random.IntN(3) == 0 {
			if start >= o.Area {
				continue // gone before anyone kept count
			}
			o.Start = start
		}
		obs = append(obs, o)
	}
	w := fitOf(t, obs)
	if off := math.Log(w.Shape/shape) / math.Sqrt(w.Covariance[0][0]); math.Abs(off) > 3 {
		t.Errorf("shape %v is %.1f standard errors from the truth", w.Shape, off)
	}
	if off := math.Log(w.Scale/scale) / math.Sqrt(w.Covariance[1][1]); math.Abs(off) > 3 {
		t.Errorf("scale %v is %.1f standard errors from the truth", w.Scale, off)
	}
	if got := curveOf(t, obs).at(9000); math.Abs(got-w.Survival(9000)) > 0.03 {
		t.Errorf("the curve is %v at 9000, the fit %v", got, w.Survival(9000))
	}
}

func TestWeibullAsWritten(t *testing.T) {
	// House example: Weibull(2.5, 10000) has B5 3048, B10 4065, mean 8873.
	w := Weibull{Shape: 2.5, Scale: 10000}
	near(t, "B5", w.Quantile(0.05), 3048, 2e-4)
	near(t, "B10", w.Quantile(0.10), 4065, 2e-4)
	near(t, "mean", w.Mean(), 8873, 2e-4)
	near(t, "odds of ending in the next 1000 at 6000", 1-w.Survival(7000)/w.Survival(6000), 0.1229, 5e-4)
	for _, c := range []struct{ area, want float64 }{{-5, 1}, {0, 1}, {10000, math.Exp(-1)}, {math.Inf(1), 0}} {
		near(t, "survival", w.Survival(c.area), c.want, 1e-15)
	}
	if w.Quantile(0) != 0 || !math.IsInf(w.Quantile(1), 1) || !math.IsNaN(w.Quantile(1.5)) || !math.IsNaN(w.Quantile(-0.5)) {
		t.Errorf("quantiles at and beyond the ends: %v %v %v %v", w.Quantile(0), w.Quantile(1), w.Quantile(1.5), w.Quantile(-0.5))
	}
	rapid.Check(t, func(t *rapid.T) {
		w := Weibull{Shape: rapid.Float64Range(0.3, 8).Draw(t, "shape"), Scale: rapid.Float64Range(1e-3, 1e6).Draw(t, "scale")}
		p := rapid.Float64Range(0.001, 0.999).Draw(t, "p")
		if got := 1 - w.Survival(w.Quantile(p)); math.Abs(got-p) > 1e-9 {
			t.Fatalf("survival at the %v quantile leaves %v", p, got)
		}
	})
}
