package life

import (
	"fmt"
	"math"
)

// Lognormal is a fitted distribution of the area a blade cuts in its life: ln
// area is normal with mean Mu and standard deviation Sigma. Its risk rises to a
// peak and falls again, where that of a Weibull of shape above 1 only rises.
type Lognormal struct {
	Mu, Sigma float64 // of ln area, so Mu depends on the unit; exp(Mu) is the median

	// Covariance of (Mu, ln Sigma), the inverse of the observed information at
	// the maximum.
	Covariance [2][2]float64

	LogLik        float64 // of the density of the area itself, so its unit matters
	Blades, Ended int     // observations it was fitted to, and those that ended
}

// FitLognormal fits a lognormal distribution by maximum likelihood to lives
// with right censoring and delayed entry, each blade as in FitWeibull:
//
//	l = Σ_ended (ln φ(z) - ln σ - ln area) + Σ_others ln Φ(-z) - Σ ln Φ(-z₀),
//
// z = (ln area - μ)/σ, and z₀ the same of the start where entry was delayed.
//
// It fails with ErrTooFewEnds if none has ended, with ErrNoFit where no sigma is
// best (every end at one area and no blade beyond it), and on an impossible
// observation.
//
// Source: Lawless, Statistical Models and Methods for Lifetime Data, section
// 5.3; Meeker and Escobar 1998, section 8.3 [both from memory].
func FitLognormal(obs []Observation) (Lognormal, error) {
	ended, err := check(obs)
	if err != nil {
		return Lognormal{}, fmt.Errorf("lognormal fit: %w", err)
	}
	if ended == 0 {
		return Lognormal{}, fmt.Errorf("lognormal fit: none of %d blades has ended: %w", len(obs), ErrTooFewEnds)
	}
	level := make([][]float64, len(obs))
	for i := range level {
		level[i] = []float64{1}
	}
	fit, err := newLine(normal, obs, level, nil).fit()
	if err != nil {
		return Lognormal{}, fmt.Errorf("lognormal fit: %w", err)
	}
	c := fit.covariance
	return Lognormal{
		Mu: fit.beta[0], Sigma: fit.sigma, LogLik: fit.logLik, Blades: len(obs), Ended: ended,
		Covariance: [2][2]float64{{c.At(0, 0), c.At(0, 1)}, {c.At(1, 0), c.At(1, 1)}},
	}, nil
}

// AIC is Akaike's criterion 2·2 - 2·LogLik: of two curves fitted to the same
// lives the one with the lower is the better bet.
func (l Lognormal) AIC() float64 { return 4 - 2*l.LogLik }

// normal is the standard normal distribution.
var normal = standard{logDensity: logDensityNormal, logSurvival: logSurvivalNormal}

// logDensityNormal is ln φ(z) and its first two derivatives by z.
func logDensityNormal(z float64) (l, dl, ddl float64) {
	return -z*z/2 - math.Log(2*math.Pi)/2, -z, -1
}

// logSurvivalNormal is ln Φ(-z) and its first two derivatives by z, which are
// -h and -h(h-z) with the hazard h = φ(z)/Φ(-z). Relative errors are about
// 1e-13 of the value, 1e-10 of the second derivative.
//
// Up to z = 25 it goes by the complementary error function, beyond by the
// asymptotic series 1 - 1/z² + 3/z⁴ - 15/z⁶ … of z·Φ(-z)/φ(z), of which the
// terms below 1e-17 are left out (Abramowitz and Stegun 26.2.12 [from memory]).
func logSurvivalNormal(z float64) (l, dl, ddl float64) {
	logDensity, _, _ := logDensityNormal(z)
	if z > 25 {
		q := 1 / (z * z)
		series := -q * (1 - 3*q*(1-5*q*(1-7*q*(1-9*q*(1-11*q)))))
		h := z / (1 + series)
		return logDensity - math.Log(z) + math.Log1p(series), -h, h * z * series / (1 + series)
	}
	if z < 0 {
		l = math.Log1p(-math.Erfc(-z/math.Sqrt2) / 2)
	} else {
		l = math.Log(math.Erfc(z/math.Sqrt2) / 2)
	}
	h := math.Exp(logDensity - l)
	return l, -h, -h * (h - z)
}
