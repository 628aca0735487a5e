package planning

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"gullet/analyze"
)

// shaped draws the first of some ways of ending, each Weibull with a shape and 9,000 in².
func shaped(r *rand.Rand, shapes map[analyze.EndReason]float64) func() (float64, float64, analyze.EndReason) {
	return func() (float64, float64, analyze.EndReason) {
		first, why := math.Inf(1), analyze.ReasonUnknown
		for _, reason := range analyze.EndReasons() { // in order, so that draws are the same each time
			shape, ok := shapes[reason]
			if !ok {
				continue
			}
			if area := 9000 * math.Pow(r.ExpFloat64(), 1/shape); area < first {
				first, why = area, reason
			}
		}
		return first, 0, why
	}
}

// With a hazard that falls a blade is worth more the older it is, so the longer it has
// run the less reason to change it: no age pays (Barlow and Proschan, Mathematical
// Theory of Reliability, 1965, chapter 4, from memory). Blades of whatever age are to
// be run, and the plan says so; where the hazard rises it does not.
func TestChangingEarlyDoesNotHelpWithAFallingHazard(t *testing.T) {
	for _, c := range []struct {
		name   string
		shapes map[analyze.EndReason]float64
		helps  bool
	}{
		{"strips, shape 0.7", map[analyze.EndReason]float64{analyze.ReasonStripped: 0.7}, false},
		{"strips and welds, 0.8 and 0.5", map[analyze.EndReason]float64{analyze.ReasonStripped: 0.8, analyze.ReasonBrokeWeld: 0.5}, false},
		{"dull, shape 3", map[analyze.EndReason]float64{analyze.ReasonDull: 3}, true},
		{"strips and dull, 0.8 and 4", map[analyze.EndReason]float64{analyze.ReasonStripped: 0.8, analyze.ReasonDull: 4}, true},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			s := newTruthShop(t, Costs{SawHour: 300, Planned: 15, Unplanned: 45, Scrap: 500}, stratum())
			b, r := s.breeds[0], rand.New(rand.NewPCG(3, 0))
			past := b.hung(s.now, 120, r, shaped(r, c.shapes))
			for _, age := range []float64{0, 1000, 5000, 15_000} {
				a := s.plan(append(past[:len(past):len(past)], b.running(s.now, age)), 0).Advise
				if a == nil {
					t.Fatalf("at %v no advice", age)
				}
				saysNot := strings.HasPrefix(a.Reason, "changing early does not help")
				if saysNot == c.helps || (a.ReplaceAge != nil) != c.helps {
					t.Errorf("at %v: best age %v, %q: want one %v", age, a.ReplaceAge, a.Reason, c.helps)
				}
				if saves := *a.Rate < *a.RunToEnd; saves != c.helps {
					t.Errorf("at %v: costs %v a thousand, to the end %v: want a saving %v", age, *a.Rate, *a.RunToEnd, c.helps)
				}
				if now := a.Odds == 0; now && !c.helps {
					t.Errorf("at %v: advised to change now", age)
				}
			}
		})
	}
}

// Where blades end by chance alone any age costs more than the end, by the factor
//
//	1 + planned/unplanned · R/(1-R),   R the chance to get to that age,
//
// which follows from C(t) of the renewal reward theorem with R = exp(-t/mean). Some
// shops' luck looks like wear to the plan; what that costs is little in the mean.
func TestChanceAloneCostsLittle(t *testing.T) {
	t.Parallel()
	shops := 30
	if *long {
		shops = 500
	}
	s := newTruthShop(t, Costs{SawHour: 300, Planned: 15, Unplanned: 45, Scrap: 500}, stratum())
	planned, unplanned := s.costs.of(s.price)
	b, r := s.breeds[0], rand.New(rand.NewPCG(4, 0))
	var extra tally
	fooled := 0
	for range shops {
		past := b.hung(s.now, 60, r, shaped(r, map[analyze.EndReason]float64{analyze.ReasonStripped: 1}))
		a := s.plan(append(past, b.running(s.now, 0)), 0).Advise
		if a.ReplaceAge == nil {
			extra.add(0)
			continue
		}
		fooled++
		left := math.Exp(-*a.ReplaceAge / 9000)
		extra.add(planned / unplanned * left / (1 - left))
	}
	mean, se := extra.mean()
	t.Logf("%d of %d shops are told an age; what it costs more in the mean: %.2f %% ± %.2f", fooled, shops, 100*mean, 100*se)
	if mean > 0.02 {
		t.Errorf("ages for blades that end by chance cost %.1f %% more in the mean, want 2 %% at most", 100*mean)
	}
}
