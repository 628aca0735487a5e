package backtest

import (
	"math"

	"gullet/analyze/deviation"
	"gullet/analyze/plan"
	"gullet/cmd/gullet/internal/planning"
)

// weigher is what the plan decides by at the end of a shift, beside the deviation: all by
// what was known when the blade was hung, and in the measure of then.
type weigher struct {
	sound              *plan.Combined // a new blade without pulls for crooked cuts; nil: it ends in no other way
	longest            float64        // of its type
	planned, unplanned float64        // cost of a change
	rate               float64        // of the blades to come
	risk               float64        // target chance of an end before the change; 0: by cost
	weights            map[string]float64
}

// weigher is what was known of a type on a saw; nil where no change of it can be weighed.
func (m *moment) weigher(name, saw string) *weigher {
	k := m.kind(name)
	if !(k.planned > 0) {
		return nil
	}
	furthest, usual := planning.Furthest(k.longest), m.usual(saw)
	fresh, err := planning.Fresh(k.parts, usual, furthest)
	if err != nil {
		return nil
	}
	best, err := plan.Replace(fresh.Left, furthest, k.planned, k.unplanned)
	if err != nil {
		return nil
	}
	if m.weights == nil {
		m.weights = m.Input.weights(m.shop)
	}
	sound, err := planning.Sound(k.parts, usual, furthest)
	if err != nil {
		return nil
	}
	return &weigher{sound, k.longest, k.planned, k.unplanned, best.Rate, m.Costs.Risk, m.weights}
}

// left is what is left of a blade that has cut so much, as the plan puts its deviation
// and the other ways together.
func (w *weigher) left(age float64, o *deviation.Outlook) (*plan.Combined, error) {
	ways := []plan.Way{planning.FirstTrip(o)}
	if w.sound != nil {
		now := w.sound.Left(age)
		ways = append(ways, plan.Way{Cause: "other ways", Left: func(area float64) float64 {
			if area <= 0 || !(now > 0) {
				return 1
			}
			return w.sound.Left(age+area) / now
		}})
	}
	return plan.Combine(ways, planning.Furthest(math.Max(w.longest, age)))
}

// shiftsAhead is how many ends of shifts the plan weighs: those of a week of days with
// three. Beyond them it looks as the plan does.
const shiftsAhead = 21

// now reports whether the plan changes a blade of which so much is left at once, where
// the saw makes so much of a shift. Where nothing can be weighed it does not.
func (w *weigher) now(left *plan.Combined, shift float64) bool {
	areas := make([]float64, shiftsAhead+1)
	for i := range areas {
		areas[i] = float64(i) * shift
	}
	t, err := planning.Weigh(left, areas, w.planned, w.unplanned, w.rate)
	if err != nil {
		return false
	}
	if w.risk > 0 {
		return t.Within(w.risk) == 0
	}
	return t.Best == 0
}
