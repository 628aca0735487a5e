package life

import (
	"errors"
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/mathext"
	"pgregory.net/rapid"
)

// Wanted values: direct maximum likelihood in R 4.2.2, see each case's SOURCE.
func TestLognormalAgreesWithReference(t *testing.T) {
	for _, name := range referenceCases {
		t.Run(name, func(t *testing.T) {
			var want struct {
				Lognormal struct {
					Mu, Sigma, LogLik, AIC float64
					MuSE                   float64 `json:"mu_se"`
					LogSigmaSE             float64 `json:"log_sigma_se"`
				}
			}
			readJSON(t, referencePath(name, "expected.json"), &want)
			l, err := FitLognormal(readLives(t, referencePath(name, "input.csv")))
			if err != nil {
				t.Fatal(err)
			}
			near(t, "mu", l.Mu, want.Lognormal.Mu, 1e-8)
			near(t, "sigma", l.Sigma, want.Lognormal.Sigma, 1e-7)
			near(t, "standard error of mu", math.Sqrt(l.Covariance[0][0]), want.Lognormal.MuSE, 1e-6)
			near(t, "standard error of log sigma", math.Sqrt(l.Covariance[1][1]), want.Lognormal.LogSigmaSE, 1e-6)
			near(t, "log likelihood", l.LogLik, want.Lognormal.LogLik, 1e-12)
			near(t, "AIC", l.AIC(), want.Lognormal.AIC, 1e-12)
		})
	}
}

// With every life seen to its end the maximum is in closed form: mean and
// standard deviation (over n) of ln area, variances σ²/n and 1/2n.
func TestLognormalOfWholeLives(t *testing.T) {
	obs := lives(4100, 6400, 8800, 5200)
	l, err := FitLognormal(obs)
	if err != nil {
		t.Fatal(err)
	}
	var mean, square float64
	for _, o := range obs {
		mean += math.Log(o.Area) / 4
		square += math.Log(o.Area) * math.Log(o.Area) / 4
	}
	near(t, "mu", l.Mu, mean, 1e-12)
	near(t, "sigma", l.Sigma, math.Sqrt(square-mean*mean), 1e-9)
	near(t, "variance of mu", l.Covariance[0][0], l.Sigma*l.Sigma/4, 1e-9)
	near(t, "variance of log sigma", l.Covariance[1][1], 1./8, 1e-9)
	if math.Abs(l.Covariance[0][1]) > 1e-9 || l.Blades != 4 || l.Ended != 4 {
		t.Errorf("%+v, want no covariance, 4 blades that ended", l)
	}
}

func TestLognormalRefuses(t *testing.T) {
	for _, c := range []struct {
		name string
		obs  []Observation
		want error
	}{
		{"nothing", nil, ErrTooFewEnds},
		{"no ends", lives(-400, -500), ErrTooFewEnds},
		{"one end, nothing beyond", lives(400, -300), ErrNoFit},
		{"all tied", lives(400, 400, 400), ErrNoFit},
		{"tied at a tiny area", lives(1e-6, 1e-6), ErrNoFit},
	} {
		t.Run(c.name, func(t *testing.T) {
			if l, err := FitLognormal(c.obs); !errors.Is(err, c.want) {
				t.Errorf("%+v, %v; want error %v", l, err, c.want)
			}
		})
	}
	for name, o := range map[string]Observation{
		"NaN": {Area: math.NaN()}, "Inf": {Area: math.Inf(1)}, "less than nothing": {Area: -1}, "backwards": {Start: 2, Area: 1},
	} {
		if _, err := FitLognormal(append(lives(3, 5), o)); err == nil {
			t.Errorf("%s: no error", name)
		}
	}
}

func TestLognormalOnHardData(t *testing.T) {
	for _, c := range []struct {
		name string
		obs  []Observation
	}{
		{"one end among many", append(lives(500), lives(-900, -800, -1000, -950, -1200)...)},
		{"ends at one area, others beyond", lives(500, 500, 500, -600)},
		{"apart by a thousandth", lives(10000, 10001, 10002, 10004)},
		{"apart by many powers of ten", lives(1e-6, 1, 1e9, -1e6)},
		{"tight ends, one blade far beyond", lives(100, 100.1, 100.3, -1e9)},
		{"early end, others far beyond", lives(1, -1e6, -1e6, -1e6, -1e6)},
		{"seen over nothing", append(lives(300, 500), Observation{Start: 7, Area: 7})},
		{"late entry just before the end", []Observation{{499, 500, true}, {0, 300, true}, {0, 700, false}, {2, 350, true}}},
	} {
		t.Run(c.name, func(t *testing.T) {
			l, err := FitLognormal(c.obs)
			if err != nil {
				t.Fatal(err)
			}
			if !(l.Sigma > 0) || !(l.Covariance[0][0] > 0) || !(l.Covariance[1][1] > 0) || math.IsNaN(l.LogLik+l.Mu) {
				t.Fatalf("unsound %+v", l)
			}
			best := logLikNormal(c.obs, l.Mu, l.Sigma)
			near(t, "log likelihood", l.LogLik, best, 1e-9)
			for _, d := range [][2]float64{{1e-3, 0}, {-1e-3, 0}, {0, 1e-3}, {0, -1e-3}} {
				if more := logLikNormal(c.obs, l.Mu+d[0]*l.Sigma, l.Sigma*math.Exp(d[1])); more > best+1e-9 {
					t.Errorf("%v further the log likelihood is %v, more than %v", d, more, best)
				}
			}
		})
	}
}

// logLikNormal is the log likelihood as written.
func logLikNormal(obs []Observation, mu, sigma float64) (l float64) {
	survival := func(area float64) float64 {
		l, _, _ := logSurvivalNormal((math.Log(area) - mu) / sigma)
		return l
	}
	for _, o := range obs {
		if o.Area == o.Start {
			continue
		}
		if o.Ended {
			z := (math.Log(o.Area) - mu) / sigma
			l += -z*z/2 - math.Log(sigma*o.Area*math.Sqrt(2*math.Pi))
		} else {
			l += survival(o.Area)
		}
		if o.Start > 0 {
			l -= survival(o.Start)
		}
	}
	return l
}

func TestLognormalProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		obs := someLives(t, 2, rapid.Bool().Draw(t, "delayed"))
		l, err := FitLognormal(obs)
		if err != nil {
			if !errors.Is(err, ErrNoFit) && !errors.Is(err, ErrTooFewEnds) {
				t.Fatal(err)
			}
			t.SkipNow()
		}
		best := logLikNormal(obs, l.Mu, l.Sigma)
		for range 5 {
			mu := l.Mu + rapid.Float64Range(-1, 1).Draw(t, "aside")*math.Sqrt(l.Covariance[0][0])
			sigma := l.Sigma * math.Exp(rapid.Float64Range(-1, 1).Draw(t, "apart")*math.Sqrt(l.Covariance[1][1]))
			if more := logLikNormal(obs, mu, sigma); more > best+1e-7*(1+math.Abs(best)) {
				t.Fatalf("at %v, %v the log likelihood is %v, more than %v at %+v", mu, sigma, more, best, l)
			}
		}
		unit := math.Pow(10, float64(rapid.IntRange(-6, 9).Draw(t, "unit")))
		for i := range obs {
			obs[i].Start *= unit
			obs[i].Area *= unit
		}
		scaled, err := FitLognormal(obs)
		if err != nil {
			t.Fatal(err)
		}
		if math.Abs(scaled.Sigma/l.Sigma-1) > 1e-6 || math.Abs(scaled.Mu-l.Mu-math.Log(unit)) > 1e-6*l.Sigma {
			t.Fatalf("in another unit %+v, were %+v", scaled, l)
		}
		if q := l.Quantile(rapid.Float64Range(0, 1).Draw(t, "p")); !(q >= 0) {
			t.Fatalf("quantile %v", q)
		}
	})
}

func TestLognormalQuantile(t *testing.T) {
	l := Lognormal{Mu: 8, Sigma: 0.5}
	// Φ⁻¹ at 0.1 and 0.975: tables of the normal distribution.
	near(t, "median", l.Quantile(0.5), math.Exp(8), 1e-14)
	near(t, "B10", l.Quantile(0.1), math.Exp(8-0.5*1.2815515655446004), 1e-13)
	near(t, "97.5 %", l.Quantile(0.975), math.Exp(8+0.5*z95), 1e-13)
	if l.Quantile(0) != 0 || !math.IsInf(l.Quantile(1), 1) {
		t.Errorf("quantiles at 0 and 1 are %v and %v, want 0 and +Inf", l.Quantile(0), l.Quantile(1))
	}
	for _, p := range []float64{-0.1, 1.1, math.NaN()} {
		if q := l.Quantile(p); !math.IsNaN(q) {
			t.Errorf("quantile at %v is %v, want NaN", p, q)
		}
	}
}

// Wanted: pnorm(z, lower.tail = FALSE, log.p = TRUE) as in R; recomputed with 60
// digits.
func TestLogSurvivalNormal(t *testing.T) {
	for _, c := range []struct{ z, want float64 }{
		{-10, -7.619853024160526066e-24},
		{-3, -0.0013508099647481937988},
		{-0.5, -0.36894641528865639307},
		{0, -0.69314718055994530942},
		{0.5, -1.1759117615936186089},
		{1, -1.8410216450092635058},
		{3, -6.6077262215103495433},
		{8, -35.013437159914549896},
		{20, -203.91715537109726394},
		{24.9, -314.14041276161316294},
		{25, -316.63940800802025894},
		{25.1, -319.14838740588863448},
		{30, -454.32124395634319711},
		{37, -689.0305855768905936},
		{50, -1254.8313611394199013},
		{1000, -500007.82669481218431},
	} {
		l, dl, _ := logSurvivalNormal(c.z)
		near(t, "ln Φ(-z)", l, c.want, 1e-13)
		hazard := math.Exp(-c.z*c.z/2-c.want) / math.Sqrt(2*math.Pi)
		if c.z < 35 && hazard > 1e-300 {
			near(t, "hazard", -dl, hazard, 1e-11)
		}
	}
}

func TestLogSurvivalNormalDerivatives(t *testing.T) {
	for z := -40.0; z <= 200; z += 0.37 {
		const h = 1e-4
		_, dl, ddl := logSurvivalNormal(z)
		high, dHigh, _ := logSurvivalNormal(z + h)
		low, dLow, _ := logSurvivalNormal(z - h)
		if got := (high - low) / (2 * h); math.Abs(got-dl) > 1e-7*(1+z*z) {
			t.Errorf("slope at %v is %v, by differences %v", z, dl, got)
		}
		if got := (dHigh - dLow) / (2 * h); math.Abs(got-ddl) > 1e-6 {
			t.Errorf("curvature at %v is %v, by differences %v", z, ddl, got)
		}
		if ddl > 0 || ddl < -1 {
			t.Errorf("curvature at %v is %v, want -1 to 0", z, ddl)
		}
	}
}

// Simulated, seed 12: 400 blades, about a third pulled early, a third entered
// late. Estimates within 3 standard errors of the truth.
func TestLognormalFindsTheTruth(t *testing.T) {
	random := rand.New(rand.NewPCG(12, 0))
	var obs []Observation
	for len(obs) < 400 {
		area, start := math.Exp(9+0.6*random.NormFloat64()), 0.0
		if random.IntN(3) == 0 {
			start = 8000 * random.Float64()
		}
		if area <= start {
			continue // ended before anyone kept count
		}
		pulled := start + 20000*random.Float64()
		obs = append(obs, Observation{Start: start, Area: min(area, pulled), Ended: area <= pulled})
	}
	l, err := FitLognormal(obs)
	if err != nil {
		t.Fatal(err)
	}
	if off := (l.Mu - 9) / math.Sqrt(l.Covariance[0][0]); math.Abs(off) > 3 {
		t.Errorf("mu %v is %.1f standard errors off", l.Mu, off)
	}
	if off := math.Log(l.Sigma/0.6) / math.Sqrt(l.Covariance[1][1]); math.Abs(off) > 3 {
		t.Errorf("sigma %v is %.1f standard errors off", l.Sigma, off)
	}
}

// The covariance is held against the inverse of a Hessian by differences.
func TestLognormalCovarianceIsTheInverseCurvature(t *testing.T) {
	obs := append(lives(4100, 6400, 8800, -5200, -9100), Observation{2000, 5200, true})
	l, err := FitLognormal(obs)
	if err != nil {
		t.Fatal(err)
	}
	f := func(a, b float64) float64 { return logLikNormal(obs, l.Mu+a, l.Sigma*math.Exp(b)) }
	const h = 1e-4
	information := mat.NewSymDense(2, []float64{
		-(f(h, 0) - 2*f(0, 0) + f(-h, 0)) / (h * h), -(f(h, h) - f(h, -h) - f(-h, h) + f(-h, -h)) / (4 * h * h),
		0, -(f(0, h) - 2*f(0, 0) + f(0, -h)) / (h * h),
	})
	var want mat.Dense
	if err := want.Inverse(information); err != nil {
		t.Fatal(err)
	}
	for i := range 2 {
		for j := range 2 {
			near(t, "covariance", l.Covariance[i][j], want.At(i, j), 1e-4)
		}
	}
}

// Quantile is the area at which the share p of new blades has ended:
// exp(Mu + Sigma·Φ⁻¹(p)). It is 0 at p = 0, +Inf at 1 and NaN outside.
func (l Lognormal) Quantile(p float64) float64 {
	if !(0 <= p && p <= 1) {
		return math.NaN()
	}
	return math.Exp(l.Mu + l.Sigma*mathext.NormalQuantile(p))
}
