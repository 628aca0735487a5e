package deviation

import (
	"errors"
	"fmt"
	"math"

	"gullet/analyze/internal/normal"
)

// Passage is the area still to be cut until a deviation that wanders with a
// steady drift first reaches a limit: the level moves by Drift per unit of area
// and by normal steps whose variance is Diffusion² per unit of area. The area
// has an inverse Gaussian distribution with mean Distance/Drift and shape
// Distance²/Diffusion².
//
// With a Drift of 0 or below the limit may never be reached: the chances then
// rise to exp(2·Drift·Distance/Diffusion²) and no further. Make one with
// NewPassage, which refuses what cannot be.
//
// Source: Cox and Miller, The Theory of Stochastic Processes, section 5.7 [from
// memory]; the project's domain reference, section 5.1.
type Passage struct{ Drift, Diffusion, Distance float64 }

// NewPassage checks the three: numbers, Diffusion and Distance above 0.
func NewPassage(drift, diffusion, distance float64) (Passage, error) {
	for _, c := range []struct {
		what  string
		value float64
		least float64
	}{{"drift", drift, math.Inf(-1)}, {"diffusion", diffusion, 0}, {"distance to the limit", distance, 0}} {
		if !(c.value > c.least) || math.IsInf(c.value, 0) {
			return Passage{}, fmt.Errorf("first passage: %s is %v: want a number above %v", c.what, c.value, c.least)
		}
	}
	return Passage{drift, diffusion, distance}, nil
}

// standard is the two arguments of the distribution function,
// (Drift·area ∓ Distance)/(Diffusion·√area).
func (p Passage) standard(area float64) (below, above float64) {
	s := p.Diffusion * math.Sqrt(area)
	return (p.Drift*area - p.Distance) / s, (p.Drift*area + p.Distance) / s
}

// LogChance is the logarithm of the chance that the limit is reached within an
// area:
//
//	F = Φ(below) + exp(2·Drift·Distance/Diffusion²)·Φ(-above).
//
// The exponential would overflow where the tail it multiplies vanishes; with
// Mills' ratio M the second term is φ(below)·M(above). Past the mean it is one
// less the survival. It is -Inf for an area of 0 or less.
func (p Passage) LogChance(area float64) float64 {
	if !(area > 0) {
		return math.Inf(-1)
	}
	below, above := p.standard(area)
	switch {
	case below >= 0:
		return math.Log1p(-math.Exp(p.LogSurvival(area)))
	case above < 0: // the drift leads away: no tail, no overflow
		return logSum(normal.LogSurvival(-below), 2*p.Drift*p.Distance/(p.Diffusion*p.Diffusion)+normal.LogSurvival(above))
	}
	return logSum(normal.LogSurvival(-below), normal.LogDensity(below)+normal.LogMills(above))
}

// LogSurvival is the logarithm of the chance that the limit is not reached
// within an area: φ(below)·(M(below) - M(above)). It is 0 for an area of 0 or
// less.
func (p Passage) LogSurvival(area float64) float64 {
	if !(area > 0) {
		return 0
	}
	below, above := p.standard(area)
	if below < 0 {
		return math.Log1p(-math.Exp(p.LogChance(area)))
	}
	mills := normal.LogMills(below)
	return normal.LogDensity(below) + mills + math.Log(-math.Expm1(normal.LogMills(above)-mills))
}

// Quantile is the area within which the limit is reached with the given chance:
// 0 at a chance of 0, +Inf where the chance is never so great, NaN outside 0 to
// 1.
func (p Passage) Quantile(chance float64) float64 {
	switch {
	case !(0 <= chance && chance <= 1):
		return math.NaN()
	case chance == 0:
		return 0
	case chance == 1 || p.Drift < 0 && math.Log(chance) >= 2*p.Drift*p.Distance/(p.Diffusion*p.Diffusion):
		return math.Inf(1)
	}
	// Each tail by its own logarithm, so that chances near 1 keep their digits.
	reached := func(v float64) bool {
		if chance > 0.5 {
			return p.LogSurvival(math.Exp(v)) <= math.Log1p(-chance)
		}
		return p.LogChance(math.Exp(v)) >= math.Log(chance)
	}
	const furthest = 700 // exp(±700) is about the range of a float
	low, high := -furthest+0.0, furthest+0.0
	for high-low > 1e-13*math.Max(1, math.Abs(low)) {
		middle := low + (high-low)/2
		if middle == low || middle == high {
			break
		}
		if reached(middle) {
			high = middle
		} else {
			low = middle
		}
	}
	return math.Exp(low + (high-low)/2)
}

// logSum is ln(e^a + e^b).
func logSum(a, b float64) float64 {
	if a < b {
		a, b = b, a
	}
	if math.IsInf(a, -1) {
		return a
	}
	return a + math.Log1p(math.Exp(b-a))
}

// Step is how a level moved while an area was cut.
type Step struct{ Area, Level float64 }

// Path is drift and diffusion of a level, per unit of area, with the standard
// error of the drift.
type Path struct {
	Drift, DriftErr, Diffusion float64
	Steps                      int
}

// MeasurePath estimates them from independent steps by maximum likelihood,
//
//	Drift = Σ level/Σ area,   Diffusion² = Σ (level - Drift·area)²/area / n,
//
// and DriftErr = Diffusion/√Σ area. It fails on fewer than 2 steps and on one
// that is not a number or over no area.
//
// Source: Meeker and Escobar 1998, chapter 13 on degradation [from memory].
func MeasurePath(steps []Step) (Path, error) {
	if len(steps) < 2 {
		return Path{}, errors.New("drift and diffusion: at least 2 steps are needed")
	}
	var area, level float64
	for i, s := range steps {
		if !(s.Area > 0) || math.IsInf(s.Area, 0) || math.IsNaN(s.Level) || math.IsInf(s.Level, 0) {
			return Path{}, fmt.Errorf("drift and diffusion: step %d is %v over an area of %v: want numbers, the area above 0", i+1, s.Level, s.Area)
		}
		area += s.Area
		level += s.Level
	}
	p := Path{Drift: level / area, Steps: len(steps)}
	for _, s := range steps {
		off := s.Level - p.Drift*s.Area
		p.Diffusion += off * off / s.Area
	}
	p.Diffusion = math.Sqrt(p.Diffusion / float64(len(steps)))
	p.DriftErr = p.Diffusion / math.Sqrt(area)
	return p, nil
}
