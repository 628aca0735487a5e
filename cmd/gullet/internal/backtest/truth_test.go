package backtest

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/integrate/quad"
)

// fromTruth is blades that end by a Weibull or by chance, and are pulled by chance.
func fromTruth(random *rand.Rand, n int, age float64) *crowd {
	var list []*blade
	told := &told{plan: age, fixed: age}
	for range n {
		end := math.Min(trueScale*math.Pow(random.ExpFloat64(), 1.0/trueShape), trueStrips*random.ExpFloat64())
		lost := 12000 * random.ExpFloat64()
		list = append(list, &blade{life: math.Min(end, lost), ended: end <= lost, off: true, told: told})
	}
	return newCrowd(list)
}

const (
	trueShape  = 3
	trueScale  = 9000
	trueStrips = 30000
)

// trueRate is what changing at an age costs for an area in the long run, by renewal and
// reward: (planned·R(age) + unplanned·(1-R(age))) / ∫ R from 0 to age (Barlow and
// Proschan, Mathematical Theory of Reliability, 1965, from memory).
func trueRate(age, planned, unplanned float64) float64 {
	alive := func(x float64) float64 { return math.Exp(-math.Pow(x/trueScale, trueShape) - x/trueStrips) }
	under := quad.Fixed(alive, 0, age, 200, nil, 0)
	return (planned*alive(age) + unplanned*(1-alive(age))) / under
}

// In 40 shops of 150 blades, of which a third are pulled by chance, the 95 % limits of
// the cost hold the true one: 34 or more of 40 with a chance of 99.7 % (binomial), and on
// the mean over the shops it is within four standard errors of it. Leaving out the
// weights, or counting blades pulled as changed, fails both. (Of 400 shops 380 and 378
// hold it, and the limits are as wide as the costs of the shops lie apart.)
func TestCostHoldsTheTruth(t *testing.T) {
	const shops, early, late = 40, 70.0, 190.0
	for _, age := range []float64{5000, 7500} {
		want := 1000 * trueRate(age, early, late)
		inside, sum, squares := 0, 0.0, 0.0
		for i := range shops {
			crowd := fromTruth(rand.New(rand.NewPCG(uint64(i), uint64(age))), 150, age)
			j := judge("T", policies, crowd, early, late, uint64(i))
			if j.furthest < age {
				t.Fatalf("shop %d is judged up to %v, want %v", i, j.furthest, age)
			}
			cost := j.answer().Policies[0].Cost
			if *cost.Low <= want && want <= *cost.High {
				inside++
			}
			sum += cost.Value
			squares += cost.Value * cost.Value
		}
		mean := sum / shops
		off := (mean - want) / math.Sqrt((squares/shops-mean*mean)/shops)
		t.Logf("at %v: true cost %.2f, mean %.2f (%.1f standard errors off), %d of %d limits hold it", age, want, mean, off, inside, shops)
		if inside < 34 {
			t.Errorf("at %v: %d of %d limits hold the true cost %v", age, inside, shops, want)
		}
		if math.Abs(off) > 4 {
			t.Errorf("at %v: the mean cost %v is %v standard errors from %v", age, mean, off, want)
		}
	}
}

// Where blades wear out, what a plan from past lives decides costs next to nothing more
// than what one who knows the truth decides (5 %, as the issue asks), is no dearer than a
// fixed interval, and is cheaper than running to the end; its windows hold.
func TestPlanIsNearThePolicyThatKnowsTheTruth(t *testing.T) {
	m := clean(2, 2500)
	m.pulls = 20000
	in := m.input(t)
	r := build(t, in)
	early, late, _ := in.Costs.Of(in.Config, "T")
	best := math.Inf(1)
	for age := 500.0; age < 30000; age += 50 {
		best = math.Min(best, 1000*trueRate(age, early, late))
	}
	p := r.Types[0].Policies // the plan, a fixed interval, to the end, the habit
	if plan := p[0].Cost; *plan.Low > 1.05*best || plan.Value > 1.05*best {
		t.Errorf("the plan costs %v, the best is %v", plan.Value, best)
	}
	if fixed := p[1].More; *fixed.High < 0 {
		t.Errorf("a fixed interval is cheaper by %+v", *fixed)
	}
	if run := p[2].More; !(*run.Low > 0) {
		t.Errorf("running to the end is not dearer: %+v", *run)
	}
	for _, w := range r.Windows {
		for _, s := range w.Shares {
			if math.Abs(s.Share.Value-s.Want) > 0.04 {
				t.Errorf("%s: %s %v, want %v", w.Stage, s.What, s.Share.Value, s.Want)
			}
		}
	}
}
