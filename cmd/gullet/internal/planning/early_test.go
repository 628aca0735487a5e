package planning

import (
	"math"
	"strings"
	"testing"

	"gullet/analyze/plan"
)

// A new blade whose hazard falls, or that has an early risk to get past, is not changed
// for a blade with the same before it, however short the plan: running on pays beyond
// its end.
func TestARiskAheadOfEveryNewBladeIsRunThrough(t *testing.T) {
	const planned, unplanned = 100.0, 300.0
	weibull := func(shape, scale float64) func(float64) float64 {
		return func(x float64) float64 { return math.Exp(-math.Pow(x/scale, shape)) }
	}
	bad := func(x float64) float64 { return (0.9 + 0.1*math.Exp(-x/300)) * weibull(4, 9000)(x) }
	for _, c := range []struct {
		name     string
		survival func(float64) float64
		reason   string
	}{
		{"the hazard falls", weibull(0.6, 60000), "changing early does not help"},
		{"bad welds, then wear", bad, "it pays beyond the plan"},
	} {
		t.Run(c.name, func(t *testing.T) {
			best, err := plan.Replace(c.survival, 400_000, planned, unplanned)
			if err != nil {
				t.Fatal(err)
			}
			areas := []float64{0, 100, 200}
			tr, err := plan.Transit(c.survival, append(areas, further(200, 400_000)...), planned, unplanned, best.Rate)
			if err != nil {
				t.Fatal(err)
			}
			if tr.Cost[2] <= tr.Cost[0] {
				t.Fatalf("to the end of the plan %v, now %v: the case shows nothing", tr.Cost[2], tr.Cost[0])
			}
			in := Input{}
			if pick, reason := in.pick(&tr, &best, 2); pick <= 2 || !strings.HasPrefix(reason, c.reason) {
				t.Errorf("boundary %d, %q: want one beyond the plan since %s", pick, reason, c.reason)
			}
		})
	}
}
