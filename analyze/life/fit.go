package life

import (
	"errors"
	"fmt"
	"math"
)

var (
	// ErrTooFewEnds says that no blade has ended: nothing bounds a life from
	// above.
	ErrTooFewEnds = errors.New("at least one end is needed")
	// ErrNoFit says that the likelihood has no maximum within sensible shapes.
	ErrNoFit = errors.New("no Weibull curve fits")
)

// The shapes searched. Outside, ends are spread over more than 1,000 powers of
// ten or lie together to a millionth: no life of a blade does either.
const (
	minShape = 1e-3
	maxShape = 1e6
)

// FitWeibull fits a Weibull distribution by maximum likelihood to lives with
// right censoring and delayed entry. An ended blade contributes its density at
// Area, every other one its survival to Area, each given survival to Start.
// The order of the observations does not matter.
//
// The scale has a closed form given the shape, Scale^k = Σ(Area^k - Start^k)/r
// with r ends, so the search is in the shape alone: a coarse scan that needs no
// starting value, then Newton's method within the bracket it found.
//
// One end is enough for a maximum where other blades ran on, but its limits are
// as wide as they look: see MinForecastEnds and FewEnds for what to make of it.
//
// It fails with ErrTooFewEnds, wrapped with the counts; with ErrNoFit where no
// shape is best (every end at one area and no blade beyond it; or late entries
// only, which can leave the beginning of life unknown); and on an impossible
// observation.
//
// Source: Lawless, Statistical Models and Methods for Lifetime Data, section
// 5.2, with delayed entry after section 2.4 [sections from memory]; the formula
// without delayed entry as in the NIST/SEMATECH e-Handbook, section 8.4.1.
func FitWeibull(obs []Observation) (Weibull, error) {
	ended, err := check(obs)
	if err != nil {
		return Weibull{}, fmt.Errorf("Weibull fit: %w", err)
	}
	if ended == 0 {
		return Weibull{}, noEnds(len(obs))
	}
	w, err := newSample(obs).fit()
	if err != nil {
		return Weibull{}, err
	}
	w.Blades = len(obs)
	return w, nil
}

// noEnds tells of the blades that were watched and did not end.
func noEnds(blades int) error {
	return fmt.Errorf("0 of %d blades have ended: %w", blades, ErrTooFewEnds)
}

// sample is the data in the form the likelihood reads, with the greatest area
// as the unit so that no power of an area exceeds 1, whatever the unit was.
type sample struct {
	unit    float64   // greatest area observed; its own power is 1, so M below is never 0
	logArea []float64 // ln(Area/unit) ≤ 0
	logGain []float64 // ln(Area/Start) > 0, +Inf without delayed entry; nil when nobody has one
	ends    int
	sumEnds float64 // Σ ln(Area/unit) of the ended
	allLast bool    // every end is at the greatest area
}

func newSample(obs []Observation) sample {
	s := sample{allLast: true}
	delayed := false
	for _, o := range obs {
		if o.Area > o.Start {
			s.unit = max(s.unit, o.Area)
			delayed = delayed || o.Start > 0
		}
	}
	s.logArea = make([]float64, 0, len(obs))
	if delayed {
		s.logGain = make([]float64, 0, len(obs))
	}
	for _, o := range obs {
		if o.Area == o.Start {
			continue // watched over nothing yet
		}
		y := math.Log(o.Area / s.unit)
		s.logArea = append(s.logArea, y)
		if delayed {
			s.logGain = append(s.logGain, math.Log(o.Area/o.Start))
		}
		if o.Ended {
			s.ends++
			s.sumEnds += y
			s.allLast = s.allLast && o.Area == s.unit
		}
	}
	return s
}

// moments returns Σ(a^k - b^k) and its first two derivatives by k, for areas a
// and starts b in the sample's unit. The difference is taken as
// a^k·(1 - exp(-k·ln(a/b))), which keeps its digits for a start just below the
// area.
func (s sample) moments(k float64) (m0, m1, m2 float64) {
	for i, y := range s.logArea {
		e := math.Exp(k * y)
		if s.logGain == nil || math.IsInf(s.logGain[i], 1) {
			m0 += e
			m1 += e * y
			m2 += e * y * y
			continue
		}
		d := s.logGain[i]
		q := math.Exp(-k * d) // (b/a)^k; ln b = y - d
		p := -math.Expm1(-k * d)
		m0 += e * p
		m1 += e * (y*p + d*q)
		m2 += e * (y*y*p + (2*y-d)*d*q)
	}
	return m0, m1, m2
}

// profile returns the log likelihood at shape k with the scale at its best,
//
//	l(k) = r·ln k - r·ln(M(k)/r) + (k-1)·Σ ln a - r,  M(k) = Σ(a^k - b^k),
//
// its first two derivatives by ln k, and ln M(k).
func (s sample) profile(k float64) (l, dl, ddl, logM float64) {
	m0, m1, m2 := s.moments(k)
	r := float64(s.ends)
	mean, square := m1/m0, m2/m0
	logM = math.Log(m0)
	l = r*math.Log(k) - r*(logM-math.Log(r)) + (k-1)*s.sumEnds - r
	dl = r - r*k*mean + k*s.sumEnds
	ddl = -r*k*mean - r*k*k*(square-mean*mean) + k*s.sumEnds
	return l, dl, ddl, logM
}

// fit finds the maximum and what the likelihood says around it.
func (s sample) fit() (Weibull, error) {
	if s.allLast {
		return Weibull{}, fmt.Errorf("every end is at one area and no blade went further: the shape has no upper limit: %w", ErrNoFit)
	}
	logShape, err := bestShape(s.logGain == nil, func(k float64) (l, dl, ddl float64) {
		l, dl, ddl, _ = s.profile(k)
		return l, dl, ddl
	})
	if err != nil {
		return Weibull{}, err
	}
	k, r := math.Exp(logShape), float64(s.ends)
	l, _, ddl, logM := s.profile(k)
	scale := s.unit * math.Exp((logM-math.Log(r))/k)
	// Without a curvature there is no standard error to search the limits by.
	if !(ddl < 0) || math.IsInf(scale, 0) || scale == 0 {
		return Weibull{}, fmt.Errorf("no sound maximum at shape %.3g, scale %.3g: %w", k, scale, ErrNoFit)
	}
	w := Weibull{
		Shape: k, Scale: scale, data: s, unit: s.unit, Ended: s.ends, Blades: len(s.logArea),
		LogLik:     l - r*math.Log(s.unit), // back to the density per unit of area
		Covariance: s.covariance(k),
		belief:     s.beliefs(logShape, math.Sqrt(-1/ddl)),
	}
	w.ShapeLow, w.ShapeHigh, err = s.shapeLimits(logShape, l, math.Sqrt(-1/ddl))
	if err != nil {
		return Weibull{}, fmt.Errorf("search for the limits of the shape: %w", err)
	}
	return w, nil
}

// bestShape returns the ln shape at which a profile likelihood, given with its
// first two derivatives by ln shape, is greatest. It scans the shapes in steps
// of a factor of 4 and goes on from the best by Newton's method. With delayed
// entry there can be several maxima, of which the scan picks the highest; single
// says that there is one at most, so that it may end where the likelihood falls.
func bestShape(single bool, profile func(k float64) (l, dl, ddl float64)) (float64, error) {
	const step = 2 * math.Ln2
	best, at := math.Inf(-1), math.NaN()
	for v := math.Log(minShape); v <= math.Log(maxShape); v += step {
		l, _, _ := profile(math.Exp(v))
		if l > best {
			best, at = l, v
		} else if single {
			break
		}
	}
	switch {
	case !(at > math.Log(minShape)):
		return 0, fmt.Errorf("no shape is too low for the data; the beginning of life was not observed: %w", ErrNoFit)
	case at+step > math.Log(maxShape):
		return 0, fmt.Errorf("the ends lie too close together to tell the shape: %w", ErrNoFit)
	}
	slope := func(v float64) (float64, float64) {
		_, dl, ddl := profile(math.Exp(v))
		return dl, ddl
	}
	logShape, err := root(slope, at-step, at+step)
	if err != nil {
		return 0, fmt.Errorf("search for the shape: %w", err)
	}
	return logShape, nil
}

// covariance inverts the observed information of (ln shape, ln scale). With
// z = k·ln(a/scale) and Σ over areas less starts it is
//
//	[ Σ(z+z²)e^z - Σ_ended z   -k·Σ z·e^z ]
//	[ -k·Σ z·e^z                k²·r      ].
func (s sample) covariance(k float64) [2][2]float64 {
	m0, m1, m2 := s.moments(k)
	r := float64(s.ends)
	c := math.Log(m0/r) / k // ln scale in the sample's unit
	mean, square := m1/m0, m2/m0
	sumZ := k * r * (mean - c)
	sumZZ := k * k * r * (square - 2*c*mean + c*c)
	shape := sumZ + sumZZ - k*(s.sumEnds-r*c)
	cross, both := -k*sumZ, k*k*r
	det := shape*both - cross*cross
	return [2][2]float64{{both / det, -cross / det}, {-cross / det, shape / det}}
}

// shapeLimits returns the shapes at which the profile likelihood has fallen by
// half the 95 % point of chi-square with one degree of freedom. From the
// maximum best at logShape it looks outward in steps of the standard error se.
func (s sample) shapeLimits(logShape, best, se float64) (low, high float64, err error) {
	excess := func(v float64) (float64, float64) {
		l, dl, _, _ := s.profile(math.Exp(v))
		return l - best + z95*z95/2, dl
	}
	if low, err = outward(excess, logShape, -se, math.Log(minShape), 0); err != nil {
		return 0, 0, err
	}
	high, err = outward(excess, logShape, se, math.Log(maxShape), math.Inf(1))
	return low, high, err
}

// outward looks from a maximum in steps of twice step for the place where
// excess, the log likelihood above its 95 % limit and its slope, falls below
// zero, and returns exp of it; none where it does not before end. It fails where
// excess is no number or there is no step to take.
func outward(excess func(float64) (value, slope float64), from, step, end, none float64) (float64, error) {
	inside, outside := from, from+2*step
	for {
		if outside == inside || math.IsNaN(outside) {
			return math.NaN(), errNoSearch
		}
		e, slope := excess(outside)
		if math.IsNaN(e) {
			return math.NaN(), errNoSearch
		}
		if e < 0 {
			v, err := rootFrom(excess, inside, outside, outside-e/slope)
			return math.Exp(v), err
		}
		if (outside-end)*step > 0 {
			return none, nil
		}
		inside, outside = outside, outside+2*step
	}
}

var errNoSearch = errors.New("the likelihood is beyond the range of numbers")

// root finds where f, positive at plus and negative at minus, crosses zero,
// starting half way.
func root(f func(float64) (value, slope float64), plus, minus float64) (float64, error) {
	return rootFrom(f, plus, minus, (plus+minus)/2)
}

// rootFrom is root with a place to start at, half way where that is not within
// the bracket. f returns value and slope. Newton's step is taken where it stays
// within the bracket and is at most half as long as the one before, else the
// bracket is halved. The search ends with a step of Newton's of a billionth of
// the answer, which leaves about its square, or at a bracket of 1e-13 of it.
func rootFrom(f func(float64) (value, slope float64), plus, minus, x float64) (float64, error) {
	within := func(x float64) bool { return min(plus, minus) < x && x < max(plus, minus) }
	if !within(x) {
		x = (plus + minus) / 2
	}
	last := math.Inf(1)
	for range 200 {
		value, slope := f(x)
		switch {
		case value == 0:
			return x, nil
		case value > 0:
			plus = x
		default:
			minus = x
		}
		next, size := x-value/slope, max(1, math.Abs(x))
		step := math.Abs(next - x)
		if within(next) && step <= 1e-9*size {
			return next, nil
		}
		if !within(next) || step > last/2 {
			next = (plus + minus) / 2
			step = math.Abs(next - x)
		}
		if step <= 1e-13*size {
			return next, nil
		}
		x, last = next, step
	}
	return 0, errors.New("no convergence")
}
