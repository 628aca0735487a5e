package life

import (
	"fmt"

	"gullet/analyze/internal/normal"
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
	fit, err := newLine(gaussian, obs, level, nil).fit()
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

// gaussian is the standard normal distribution.
var gaussian = standard{logDensity: logDensityNormal, logSurvival: logSurvivalNormal}

// logDensityNormal is ln φ(z) and its first two derivatives by z.
func logDensityNormal(z float64) (l, dl, ddl float64) { return normal.LogDensity(z), -z, -1 }

// logSurvivalNormal is ln Φ(-z) and its first two derivatives by z.
func logSurvivalNormal(z float64) (l, dl, ddl float64) {
	h, dh := normal.Hazard(z)
	return normal.LogSurvival(z), -h, -dh
}
