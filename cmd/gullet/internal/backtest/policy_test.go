package backtest

import (
	"math"
	"math/rand/v2"
	"testing"

	"gullet/analyze/life"
)

func near(t *testing.T, what string, got, want float64) {
	t.Helper()
	if !(math.Abs(got-want) <= 1e-12*math.Max(1, math.Abs(want))) {
		t.Errorf("%s is %v, want %v", what, got, want)
	}
}

// five blades: A, C and E ended, B was pulled, D is on the saw still.
func five() *crowd {
	told := &told{plan: 70, fixed: 50, mean: 60}
	return newCrowd([]*blade{
		{serial: "D", life: 80, told: told},
		{serial: "E", life: 100, ended: true, off: true, told: told},
		{serial: "B", life: 50, off: true, told: told},
		{serial: "A", life: 40, ended: true, off: true, told: told},
		{serial: "C", life: 60, ended: true, off: true, told: told},
	})
}

// By hand. B is lost at 50 of the 4 that had come so far (B, C, D, E), D at 80 of 2
// (D, E): the chance not to be lost before an area is 1 up to 50, 3/4 up to 80, 3/8
// beyond. With B lost it counts for nobody, and for the habit, to which B is an answer,
// only D is lost: 1 up to 80 and 1/2 beyond. A planned change costs 10, an unplanned 30.
func TestPoliciesByHand(t *testing.T) {
	for _, c := range []struct {
		policy                         string
		known, ends                    int
		cost, area, planned, unplanned float64
	}{
		// Changed at 70: A ended at 40 (counts 1), C at 60 (4/3), D and E are changed at 70
		// (4/3 each); of B nobody knows. 30 + 4/3·(30+10+10); 40 + 4/3·(60+70+70).
		{PolicyPlan, 4, 2, 290.0 / 3, 920.0 / 3, 8.0 / 3, 7.0 / 3},
		// Changed at 50: A ended at 40; B, C, D and E got as far, all count 1.
		{PolicyFixed, 5, 1, 70, 240, 4, 1},
		// To the end: A at 40 (1), C at 60 (4/3), E at 100 (8/3).
		{PolicyRun, 3, 3, 150, 40 + 4.0/3*60 + 8.0/3*100, 0, 5},
		// As it was: A, B and C count 1, E 2.
		{PolicyHabit, 4, 3, 30 + 10 + 30 + 60, 40 + 50 + 60 + 200, 1, 4},
	} {
		crowd := five()
		q := crowd.under(c.policy, math.Inf(1), 10, 30)
		sums := crowd.answers([]*question{q}, 0)[0][0]
		near(t, c.policy+": cost", sums[cost], c.cost)
		near(t, c.policy+": area", sums[area], c.area)
		near(t, c.policy+": planned", sums[planned], c.planned)
		near(t, c.policy+": unplanned", sums[unplanned], c.unplanned)
		near(t, c.policy+": blades stood for", sums[one], 5)
		if got := q.known(); got != c.known {
			t.Errorf("%s: the outcome of %d blades is known, want %d", c.policy, got, c.known)
		}
	}
	// Judged to 90 and no further, E is changed there: it runs on, as 8/3 of the 5 do.
	crowd := five()
	sums := crowd.answers([]*question{crowd.under(PolicyRun, 90, 10, 30)}, 0)[0][0]
	near(t, "cost to 90", sums[cost], 30+4.0/3*30+8.0/3*10)
	near(t, "beyond 90", sums[stopped], 8.0/3)
	// The plan is ahead of E's end only, and gives away 30.
	if ended, before, given := crowd.early(PolicyPlan); ended != 3 || before != 1 || given != 30 {
		t.Errorf("%d ends, ahead of %d, %v given away, want 3, 1 and 30", ended, before, given)
	}
}

// A blade that ends where another is lost was not lost before, and one lost where a
// policy would have changed it was seen so far.
func TestTies(t *testing.T) {
	told := &told{plan: 50, fixed: 50}
	crowd := newCrowd([]*blade{
		{life: 50, off: true, told: told},
		{life: 50, ended: true, off: true, told: told},
		{life: 90, ended: true, off: true, told: told},
	})
	sums := crowd.answers([]*question{crowd.under(PolicyPlan, math.Inf(1), 10, 30)}, 0)[0][0]
	near(t, "planned", sums[planned], 2)
	near(t, "unplanned", sums[unplanned], 1)
	// The one lost at 50 was lost of 2: the blade that ended there was out of sight. The
	// other counts double.
	sums = crowd.answers([]*question{crowd.under(PolicyRun, math.Inf(1), 10, 30)}, 0)[0][0]
	near(t, "unplanned, run to the end", sums[unplanned], 3)
}

// The curve of being lost is that of Kaplan and Meier, and a blade that stands twice in
// a sample is two.
func TestKeptIsTheCurveOfBeingLost(t *testing.T) {
	random := rand.New(rand.NewPCG(3, 0))
	var list []*blade
	var lives []life.Observation
	counts := make([]float64, 40)
	for i := range counts {
		counts[i] = float64(random.IntN(3))
		b := &blade{life: 100 * random.Float64(), ended: random.IntN(2) == 0}
		list = append(list, b)
	}
	crowd := newCrowd(list)
	for i, b := range crowd.blades {
		for range int(counts[i]) {
			lives = append(lives, life.Observation{Area: b.life, Ended: !b.ended})
		}
	}
	curve, err := life.KaplanMeier(lives)
	if err != nil {
		t.Fatal(err)
	}
	kept := crowd.kept(counts, crowd.lost)
	survival := alive(curve.Steps)
	for i, b := range crowd.blades {
		near(t, "kept", kept[i+1], survival(b.life))
	}
}

// Where nine in ten were lost nothing further is judged.
func TestFurthest(t *testing.T) {
	var list []*blade
	for i := range 20 {
		list = append(list, &blade{life: float64(i + 1)})
	}
	// Lost one by one, 2 of 20 are left after the 18th and 1 after the 19th.
	if got := newCrowd(list).furthest(); got != 19 {
		t.Errorf("judged up to %v, want 19", got)
	}
	list[19].ended = true
	list = append(list, &blade{life: 0.5, ended: true})
	for _, b := range list {
		b.ended = true
	}
	if got := newCrowd(list).furthest(); !math.IsInf(got, 1) {
		t.Errorf("judged up to %v where none was lost, want all the way", got)
	}
}
