package life

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// Exponential is the distribution of a life that ends by chance alone, as
// likely in the next square inch for an old blade as for a new one. Scale is
// its mean.
type Exponential struct {
	Scale         Estimate // 95 % limits by chi-square
	LogLik        float64  // of the density of the area itself
	Blades, Ended int
}

// FitExponential fits by maximum likelihood with right censoring and delayed
// entry: Scale = T/r, the area cut under observation over the ends. The limits
// are 2T/χ²(0.975; 2r+2) and 2T/χ²(0.025; 2r), those of a watch that stops at a
// given area. It fails with ErrTooFewEnds where none has ended, and on an
// impossible observation.
//
// Source: MIL-HDBK-338B, confidence limits of a mean life [from memory]; the
// project's domain reference, section 5.1.
func FitExponential(obs []Observation) (Exponential, error) {
	ended, err := check(obs)
	if err != nil {
		return Exponential{}, fmt.Errorf("exponential fit: %w", err)
	}
	if ended == 0 {
		return Exponential{}, noEnds(len(obs))
	}
	var total float64
	for _, o := range obs {
		total += o.Area - o.Start
	}
	r := float64(ended)
	scale := total / r
	return Exponential{
		Scale: Estimate{
			Value: scale,
			Low:   2 * total / distuv.ChiSquared{K: 2*r + 2}.Quantile(0.975),
			High:  2 * total / distuv.ChiSquared{K: 2 * r}.Quantile(0.025),
		},
		LogLik: -r*math.Log(scale) - r, Blades: len(obs), Ended: ended,
	}, nil
}

// AIC is Akaike's criterion 2·1 - 2·LogLik.
func (e Exponential) AIC() float64 { return 2 - 2*e.LogLik }
