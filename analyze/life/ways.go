package life

import (
	"fmt"
	"math"
)

// Ways is how a kind of blade ends, each way with its own curve: a blade lasts
// until the first of them comes, so that R(a) = R₁(a)·R₂(a)···
//
// One curve through strips, which come at any age, and wear, which comes at one,
// is too broad for either, and beyond the blades that were pulled early it has
// not seen the wear at all: see the coverage test. Make one with FitWays.
type Ways struct {
	Curves        []Weibull
	Causes        []int // of each curve; RareCauses for the one of all causes no curve fits
	Blades, Ended int
}

// RareCauses marks the curve of the causes that have too few ends for their own.
const RareCauses = -1

// FitWays fits a Weibull to each of the causes 0 to causes-1, the other ends
// censored: from one end on, since a cause with few ends has wide windows and
// one left out has none. The ends of causes that no curve fits are taken
// together as one way that comes by chance: a shape of 1, known, and a scale with
// the doubt of its ends.
//
// It fails with ErrTooFewEnds where none has ended, on an impossible observation
// and on a cause out of range.
func FitWays(obs []Caused, causes int) (Ways, error) {
	w, rest := Ways{Blades: len(obs)}, make([]Observation, len(obs))
	for i, o := range obs {
		rest[i] = o.Observation
		if o.Ended && (o.Cause < 0 || o.Cause >= causes) {
			return Ways{}, fmt.Errorf("observation %d: cause %d: want 0 to %d", i+1, o.Cause, causes-1)
		}
	}
	ended, err := check(rest)
	if err != nil {
		return Ways{}, fmt.Errorf("ways of ending: %w", err)
	}
	if ended == 0 {
		return Ways{}, noEnds(len(obs))
	}
	w.Ended = ended
	for cause := range causes {
		curve, err := FitWeibull(OfCause(obs, cause))
		if err != nil {
			continue
		}
		w.Curves, w.Causes = append(w.Curves, curve), append(w.Causes, cause)
		for i, o := range obs {
			rest[i].Ended = rest[i].Ended && o.Cause != cause
		}
	}
	if curve, err := Borrow(rest, byChance); err == nil {
		w.Curves, w.Causes = append(w.Curves, curve), append(w.Causes, RareCauses)
	}
	return w, nil
}

// byChance lends the shape of a way that comes at any age alike.
var byChance = Weibull{Shape: 1, ShapeLow: 1, ShapeHigh: 1, belief: []belief{{shape: 1, weight: 1}}}

// Survives is Weibull.Survives over all ways.
func (w Ways) Survives(cut, counted, next float64) float64 {
	survival := 1.0
	for _, curve := range w.Curves {
		survival *= curve.Survives(cut, counted, next)
	}
	return survival
}

// Remaining is Weibull.Remaining over all ways.
func (w Ways) Remaining(cut, counted float64) Remaining {
	q := w.RemainingQuantiles(cut, counted, q10, q50, q90)
	return Remaining{q[0], q[1], q[2]}
}

// RemainingQuantiles is Weibull.RemainingQuantiles over all ways.
func (w Ways) RemainingQuantiles(cut, counted float64, shares ...float64) []float64 {
	unit, ways := 0.0, make([]predictive, len(w.Curves))
	for i, curve := range w.Curves {
		unit = max(unit, curve.unit)
		var ok bool
		if ways[i], ok = curve.predict(cut, counted); !ok {
			unit = math.NaN()
		}
	}
	gone := func(v float64) float64 {
		survival := 1.0
		for i, p := range ways {
			survival *= p.survival(math.Exp(v) * unit / w.Curves[i].unit)
		}
		return 1 - survival
	}
	answer := make([]float64, len(shares))
	for i, share := range shares {
		answer[i] = math.NaN()
		if unit > 0 && 0 < share && share < 1 {
			answer[i] = unit * math.Exp(rising(gone, share, 0))
		}
	}
	return answer
}
