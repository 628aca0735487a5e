package life

import (
	"math"
	"testing"
)

// TestEstimatesByTheDeltaMethod holds the gradient of the mean against finite
// differences.
func TestEstimatesByTheDeltaMethod(t *testing.T) {
	w := fitOf(t, nistLives)
	const h = 1e-6
	logMean := func(logShape, logScale float64) float64 {
		return math.Log(Weibull{Shape: math.Exp(logShape), Scale: math.Exp(logScale)}.Mean())
	}
	k, s := math.Log(w.Shape), math.Log(w.Scale)
	g := [2]float64{(logMean(k+h, s) - logMean(k-h, s)) / (2 * h), (logMean(k, s+h) - logMean(k, s-h)) / (2 * h)}
	variance := 0.0
	for i := range g {
		for j := range g {
			variance += g[i] * g[j] * w.Covariance[i][j]
		}
	}
	mean := w.MeanEstimate()
	if want := w.Mean() * math.Exp(z95*math.Sqrt(variance)); math.Abs(mean.High/want-1) > 1e-6 || mean.Value != w.Mean() {
		t.Errorf("mean %+v, want a high limit of %v", mean, want)
	}
	if math.Abs(mean.Low*mean.High/(mean.Value*mean.Value)-1) > 1e-12 {
		t.Errorf("limits %+v are not even on the log scale", mean)
	}
	// 405 and 908 for the NIST example: computed with an independent statistics
	// library (the project's domain reference, section 5.2).
	if s := w.ScaleEstimate(); math.Round(s.Low) != 405 || math.Round(s.High) != 908 {
		t.Errorf("scale %+v, want limits of 405 and 908", s)
	}
}
