// Package normal is the upper tail of the standard normal distribution on the
// log scale, for likelihoods and chances far out where the tail itself is no
// number any more. It knows nothing of saws.
package normal

import "math"

// logRoot2Pi is ln √(2π).
const logRoot2Pi = 0.91893853320467274178

// far is the z from which the asymptotic series is taken: its error is below
// 1e-17 there.
const far = 25

// LogDensity is ln φ(z).
func LogDensity(z float64) float64 { return -z*z/2 - logRoot2Pi }

// LogSurvival is ln Φ(-z), the logarithm of the chance to lie above z, with a
// relative error of about 1e-13.
func LogSurvival(z float64) float64 {
	switch {
	case z > far:
		return LogDensity(z) - math.Log(z) + math.Log1p(series(z))
	case z < 0:
		return math.Log1p(-math.Erfc(-z/math.Sqrt2) / 2)
	}
	return math.Log(math.Erfc(z/math.Sqrt2) / 2)
}

// LogMills is ln(Φ(-z)/φ(z)), the logarithm of Mills' ratio. Ratios of tails to
// densities keep their digits in it where the two themselves lose them.
func LogMills(z float64) float64 {
	if z > far {
		return -math.Log(z) + math.Log1p(series(z))
	}
	return LogSurvival(z) - LogDensity(z)
}

// Hazard is φ(z)/Φ(-z) and its first derivative by z.
func Hazard(z float64) (h, dh float64) {
	if z > far {
		s := series(z)
		h = z / (1 + s)
		return h, -h * z * s / (1 + s)
	}
	h = math.Exp(-LogMills(z))
	return h, h * (h - z)
}

// series is z·Φ(-z)/φ(z) - 1 = -1/z² + 3/z⁴ - 15/z⁶ … for a z above far
// (Abramowitz and Stegun 26.2.12 [from memory]).
func series(z float64) float64 {
	q := 1 / (z * z)
	return -q * (1 - 3*q*(1-5*q*(1-7*q*(1-9*q*(1-11*q)))))
}
