package backtest

import (
	"math"
	"testing"

	"gullet/analyze/plan"
)

// By hand, of the five blades: the chance not to be lost before an area is 1 up to 50,
// 3/4 up to 80, 3/8 beyond. Told at half their median life, of the window from there:
//
//	A at 10: 15 to 70, ended at 40: inside, counts 1
//	B at 60: was pulled at 50 and did not get there
//	C at 55: 57 to 85, ended at 60: inside, counts (3/4)/(3/4)
//	D at 10: 20 to 90, is on at 80: not known
//	E at 55: 57 to 95, ended at 100: beyond 95, counts (3/4)/(3/8)
func TestWindowsByHand(t *testing.T) {
	c := five()
	at := map[string]*told{
		"A": {half: 10, worn: plan.Window{Q10: 5, Q50: 30, Q90: 60}},
		"B": {half: 60, worn: plan.Window{Q10: 5, Q50: 30, Q90: 60}},
		"C": {half: 55, worn: plan.Window{Q10: 2, Q50: 4, Q90: 30}},
		"D": {half: 10, worn: plan.Window{Q10: 10, Q50: 30, Q90: 80}},
		"E": {half: 55, worn: plan.Window{Q10: 2, Q50: 30, Q90: 40}},
	}
	for _, b := range c.blades {
		b.told = at[b.serial]
	}
	inside := points()[0]
	for _, tc := range []struct {
		furthest     float64
		asked, known int
		done, all    float64
	}{
		{math.Inf(1), 4, 3, 2, 4},
		{90, 3, 2, 2, 2}, // E's window goes further than can be judged
		{80, 1, 1, 1, 1}, // and C's and D's
	} {
		q, asked := c.done(stageHalf, inside, tc.furthest)
		sums := c.answers([]*question{q}, 0)[0][0]
		if asked != tc.asked || q.known() != tc.known {
			t.Errorf("judged to %v: %d asked and %d known, want %d and %d", tc.furthest, asked, q.known(), tc.asked, tc.known)
		}
		near(t, "done", sums[0], tc.done)
		near(t, "all", sums[1], tc.all)
	}
	w := held([]*crowd{c}, stageHalf)
	// What is left: A 30, C 5, E 45, D beyond 70.
	if w.Blades != 4 || w.Inside != 2 || w.Above != 1 || w.Undecided != 1 || w.Below != 0 {
		t.Errorf("%+v, want 2 of 4 inside, 1 above and 1 undecided", w)
	}
}

// The plan's window of A is 10, 20, 30, its rival says 16, and A ended at 20: the plan
// loses 0.1·10, 0 and 0.1·10, the rival 0.1·4, 0.5·4 and 0.9·4.
func TestPinballByHand(t *testing.T) {
	list := []foretold{
		{window: plan.Window{Q10: 10, Q50: 20, Q90: 30}, mean: 16, outcome: plan.Outcome{Area: 20}},
		{window: plan.Window{Q10: 10, Q50: 20, Q90: 30}, mean: 16, outcome: plan.Outcome{Area: 25, Beyond: true}},
		{window: plan.Window{Q10: 10, Q50: 20, Q90: math.Inf(1)}, mean: 16, outcome: plan.Outcome{Area: 99}},
		{window: plan.Window{Q10: 10, Q50: 20, Q90: 30}, mean: math.NaN(), outcome: plan.Outcome{Area: 99}},
	}
	l := losses("mean life", list, func(f foretold) float64 { return f.mean })
	if l.Blades != 1 {
		t.Fatalf("held beside %d ends, want the one of which both say something", l.Blades)
	}
	near(t, "plan at 10", l.Plan.Q10, 1)
	near(t, "plan at 50", l.Plan.Q50, 0)
	near(t, "plan at 90", l.Plan.Q90, 1)
	near(t, "rival at 10", l.Loss.Q10, 0.4)
	near(t, "rival at 50", l.Loss.Q50, 2)
	near(t, "rival at 90", l.Loss.Q90, 3.6)
}
