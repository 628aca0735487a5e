package normal

import (
	"math"
	"math/big"
	"testing"

	"pgregory.net/rapid"
)

// Wanted values from R 4.2.2, pnorm(z, lower.tail=FALSE, log.p=TRUE).
func TestLogSurvival(t *testing.T) {
	for _, c := range []struct{ z, want float64 }{
		{-40, 0}, {-5, -2.86651612963764e-07}, {0, -0.693147180559945}, {1, -1.84102164500926}, {5, -15.0649983939887},
		{20, -203.917155371097}, {25, -316.639408008020}, {26, -342.178508929928}, {40, -804.608442013754}, {1000, -500007.826694812},
	} {
		if got := LogSurvival(c.z); math.Abs(got-c.want) > 1e-12*math.Max(1e-6, math.Abs(c.want)) {
			t.Errorf("at %v: %.15g, want %.15g", c.z, got, c.want)
		}
	}
}

// The two ways to the tail meet where one goes over into the other.
func TestWaysMeet(t *testing.T) {
	below, above := math.Nextafter(far, 0), math.Nextafter(far, 100)
	if a, b := LogMills(below), LogMills(above); math.Abs(a-b) > 1e-12 {
		t.Errorf("Mills' ratio jumps from %v to %v", a, b)
	}
	h, dh := Hazard(below)
	if g, dg := Hazard(above); math.Abs(g/h-1) > 1e-12 || math.Abs(dg/dh-1) > 1e-8 {
		t.Errorf("the hazard jumps from %v, %v to %v, %v", h, dh, g, dg)
	}
}

// The continued fraction of Mills' ratio, 1/(z+1/(z+2/(z+3/…))), in 200 bits
// (Abramowitz and Stegun 26.2.14 [from memory]).
func TestLogMillsIsTheContinuedFraction(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		z := rapid.Float64Range(3, 1e4).Draw(t, "z")
		f := big.NewFloat(z).SetPrec(200)
		for i := 400; i >= 1; i-- {
			f.Quo(big.NewFloat(float64(i)).SetPrec(200), f)
			f.Add(f, big.NewFloat(z))
		}
		ratio, _ := f.Float64()
		if got, want := LogMills(z), -math.Log(ratio); math.Abs(got-want) > 1e-11*math.Abs(want) {
			t.Fatalf("at %v: %v, want %v", z, got, want)
		}
	})
}

// The derivative of ln Φ(-z) is minus the hazard.
func TestHazardIsTheSlope(t *testing.T) {
	for _, z := range []float64{-6, -1, 0, 2, 10, 24.9, 25.1, 60, 1e5} {
		d := 1e-5 * math.Max(1, math.Abs(z))
		h, dh := Hazard(z)
		if want := (LogSurvival(z-d) - LogSurvival(z+d)) / (2 * d); math.Abs(h-want) > 1e-6*math.Max(1e-3, want) {
			t.Errorf("hazard at %v is %v, want %v", z, h, want)
		}
		up, _ := Hazard(z + d)
		down, _ := Hazard(z - d)
		if want := (up - down) / (2 * d); math.Abs(dh-want) > 1e-5*math.Max(1e-3, want) {
			t.Errorf("slope of the hazard at %v is %v, want %v", z, dh, want)
		}
	}
}
