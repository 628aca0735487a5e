package life

import (
	"errors"
	"math"
	"testing"
)

// The lower limit by the formula of the domain reference, section 5.1
// (T = 1000, r = 4: 2T/χ²(2r+2) with χ²(0.975; 10) = 20.4832 and
// χ²(0.025; 8) = 2.17973, from tables).
func TestFitExponentialLimits(t *testing.T) {
	e, err := FitExponential(lives(100, 150, 200, 250, -300))
	if err != nil {
		t.Fatal(err)
	}
	near(t, "scale", e.Scale.Value, 250, 1e-12)
	near(t, "lower limit", e.Scale.Low, 2000/20.4832, 1e-5)
	near(t, "upper limit", e.Scale.High, 2000/2.17973, 1e-5)
	if e.Blades != 5 || e.Ended != 4 {
		t.Errorf("%d blades, %d ended, want 5 and 4", e.Blades, e.Ended)
	}
}

func TestFitExponentialCountsOnlyWhatWasWatched(t *testing.T) {
	e, err := FitExponential([]Observation{{Start: 400, Area: 1000, Ended: true}, {Start: 0, Area: 400}})
	if err != nil || e.Scale.Value != 1000 {
		t.Errorf("scale %v (%v), want 600+400 over one end", e.Scale.Value, err)
	}
}

func TestFitExponentialRefuses(t *testing.T) {
	if _, err := FitExponential(lives(-5)); !errors.Is(err, ErrTooFewEnds) {
		t.Errorf("without an end: %v, want ErrTooFewEnds", err)
	}
	if _, err := FitExponential(lives(math.NaN())); err == nil {
		t.Error("an area that is no number was fitted")
	}
}
