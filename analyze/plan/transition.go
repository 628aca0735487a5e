package plan

import (
	"errors"
	"fmt"
	"math"
)

// Transition is what it costs to let the blade that is on run to each of some
// boundaries, parallel to them.
type Transition struct {
	Cost  []float64 // beyond what the blades to come would have cost over that area
	Ended []float64 // chance that the blade has ended by then
	Best  int       // the boundary at which to change it: the first of the least Cost
}

// Transit weighs letting the blade that is on run to a boundary x against changing
// it now, where the blades to come cost a rate g per area in the long run (Replace
// gives the best one, whoever keeps another habit pays that of the habit):
//
//	J(x) = planned·S(x) + unplanned·(1-S(x)) - g·∫ S(u) du from 0 to x,
//
// with S the survival of the blade from now on. Running the blade to x or to its
// end, whichever comes first, costs the change at the end of it and saves what
// other blades would have cost for the area it cuts, so the least J is the least
// cost in the long run. Where the hazard h of the blade rises that is at the last
// boundary before (unplanned-planned)·h exceeds g: one goes on as long as the
// marginal cost of going on is below the average cost. J(0) is planned; J(x)
// less J(y) is what stopping at x costs more than stopping at y.
//
// The boundaries are areas from now, 0 first and rising. It fails where they are
// not, on costs that are not above 0, on a rate below 0, and on a survival that is
// no chance, not 1 at 0, or rises.
//
// Source: optimal stopping in renewal reward: Berg, A marginal cost analysis for
// preventive replacement policies, 1980; Aven and Bergman, Optimal replacement
// times: a general set-up, 1986 [from memory].
func Transit(survival func(area float64) float64, boundaries []float64, planned, unplanned, rate float64) (Transition, error) {
	if err := checkTransit(survival, boundaries, planned, unplanned, rate); err != nil {
		return Transition{}, fmt.Errorf("how far to run a blade: %w", err)
	}
	t := Transition{Cost: []float64{planned}, Ended: []float64{0}}
	if len(boundaries) == 1 {
		return t, nil
	}
	c, err := tabulate(survival, boundaries)
	if err != nil {
		return Transition{}, fmt.Errorf("how far to run a blade: %w", err)
	}
	by := changing{c, planned, unplanned}
	for i, x := range boundaries[1:] {
		under, left := c.to(x)
		t.Cost = append(t.Cost, by.cost(left)-rate*under)
		t.Ended = append(t.Ended, 1-left)
		if t.Cost[i+1] < t.Cost[t.Best] {
			t.Best = i + 1
		}
	}
	return t, nil
}

func checkTransit(survival func(float64) float64, boundaries []float64, planned, unplanned, rate float64) error {
	if err := checkCosts(planned, unplanned); err != nil {
		return err
	}
	if !(rate >= 0) || math.IsInf(rate, 1) {
		return fmt.Errorf("the blades to come cost %v per area: want 0 or more", rate)
	}
	if len(boundaries) == 0 || boundaries[0] != 0 {
		return errors.New("the first boundary is not 0, now")
	}
	for i, x := range boundaries[1:] {
		if !(x > boundaries[i]) || math.IsInf(x, 1) {
			return fmt.Errorf("a boundary at %v follows one at %v: want them to rise", x, boundaries[i])
		}
	}
	if now := survival(0); !(math.Abs(now-1) <= 1e-9) {
		return fmt.Errorf("the chance that the blade is on now is %v: want 1", now)
	}
	return nil
}

// Add adds what running the blade to each of the boundaries costs besides, parallel to
// them, and finds the best one anew.
func (t *Transition) Add(costs []float64) {
	t.Best = 0
	for i, c := range costs {
		t.Cost[i] += c
		if t.Cost[i] < t.Cost[t.Best] {
			t.Best = i
		}
	}
}

// Within is the last boundary by which the blade has ended with no more than a
// chance: 0, at once, where that is so at no other, and for a chance that is
// below 0 or no number.
func (t Transition) Within(risk float64) int {
	last := 0
	for i, ended := range t.Ended {
		if ended <= risk {
			last = i
		}
	}
	return last
}
