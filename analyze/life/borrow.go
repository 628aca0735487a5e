package life

import (
	"fmt"
	"math"
)

const (
	// FewEnds is the number of ends below which a group's own shape says next to
	// nothing: its limits are then a factor of 3 and more apart. Borrow one.
	FewEnds = 5
	// MinForecastEnds is the fewest ends a forecast is made from where there is
	// no shape to borrow.
	MinForecastEnds = 3
)

// Borrow fits only the scale to obs and takes the shape, with the doubt about
// it, from pool, a fit to a larger group that wears in the same way:
//
//	Scale^k = Σ(Area^k - Start^k)/r,  k the shape of pool, r the ends.
//
// Remaining and QuantileEstimate average over the shapes that pool leaves
// possible. Covariance adds what the doubt about the shape does to the scale.
// The pool's shape is low if its groups' scales lie far apart, which widens the
// answer.
//
// It fails with ErrTooFewEnds where none has ended (see ScaleBound), and on an
// impossible observation or a pool not made by FitWeibull.
//
// Source: the fit with a given shape, Nelson, Applied Life Data Analysis,
// section 8.4 [from memory]; IEC 61649:2008 has it too [from memory].
func Borrow(obs []Observation, pool Weibull) (Weibull, error) {
	ended, err := check(obs)
	switch {
	case err != nil:
		return Weibull{}, fmt.Errorf("Weibull fit with a borrowed shape: %w", err)
	case len(pool.belief) == 0:
		return Weibull{}, fmt.Errorf("there is no shape to borrow: %w", ErrNoFit)
	case ended == 0:
		return Weibull{}, noEnds(len(obs))
	}
	s := newSample(obs)
	k, r := pool.Shape, float64(s.ends)
	l, _, _, logM := s.profile(k)
	m0, m1, _ := s.moments(k)
	logScale := (logM - math.Log(r)) / k
	slope := m1/m0 - logScale // d ln Scale / d ln k
	doubt := pool.Covariance[0][0]
	w := Weibull{
		Shape: k, Scale: s.unit * math.Exp(logScale), ShapeLow: pool.ShapeLow, ShapeHigh: pool.ShapeHigh,
		Covariance: [2][2]float64{{doubt, slope * doubt}, {slope * doubt, slope*slope*doubt + 1/(k*k*r)}},
		LogLik:     l - r*math.Log(s.unit), Blades: len(obs), Ended: ended, Borrowed: true,
		unit: s.unit, belief: make([]belief, len(pool.belief)),
	}
	for i, b := range pool.belief {
		_, _, _, logM := s.profile(b.shape)
		w.belief[i] = belief{shape: b.shape, weight: b.weight, logM: logM}
	}
	return w, nil
}

// ScaleBound is the scale that blades none of which has ended exceed with 95 %
// confidence, were their shape the given one: no end in Σ(Area^k - Start^k)
// would have had a chance of 1 in 20 there,
//
//	Scale^k = Σ(Area^k - Start^k)/-ln(0.05).
//
// Ends among obs count as if they had gone on. It is 0 where nothing was cut,
// and fails on an impossible observation or a shape that is not positive.
func ScaleBound(obs []Observation, shape float64) (float64, error) {
	if _, err := check(obs); err != nil {
		return 0, fmt.Errorf("bound of the scale: %w", err)
	}
	if !(shape > 0) || math.IsInf(shape, 0) {
		return 0, fmt.Errorf("bound of the scale: shape is %v, want more than 0", shape)
	}
	s := newSample(obs)
	if len(s.logArea) == 0 {
		return 0, nil
	}
	m0, _, _ := s.moments(shape)
	return s.unit * math.Pow(m0/-math.Log(0.05), 1/shape), nil
}
