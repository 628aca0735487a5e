package deviation

import (
	"math"
	"slices"
)

// Contrast is how much further off some cuts are than the others on the same
// blades at the same time.
type Contrast struct {
	Effect Estimate
	Chance float64 // that there is one worth acting on
	With   int     // cuts
	Others int
}

const (
	// chanceContrast is the chance, before looking, that a saw has a fault of one
	// sort that shows on some of its cuts only (our choice).
	chanceContrast = 0.001
	// leastEffect is the part of the scale below which no fault is worth a walk to
	// the saw.
	leastEffect = 0.1
	// leastPushed is that of fast cuts: their times already tell that something was
	// set otherwise.
	leastPushed = 0.04
	// blockCuts is how many cuts in a row share a level and a slope: what is slower
	// than that is not taken for an effect.
	blockCuts = 60
	// leastWith is the fewest cuts of either sort.
	leastWith = 10
)

// marked is a cut with how much of an effect it would bear.
type marked struct {
	clock, value, weight, mark float64
}

// contrast estimates the effect of what mark tells of each cut of some blades.
// With outward, values count away from square on the side their blade leads to.
// Each block of cuts has a straight line of its own; what the lines leave of the
// values is held against what they leave of the marks by weighted least squares,
// values beyond 4 standard deviations pulled in. Span is the difference in the
// mark that the effect is told for, least the part of the scale it must have.
//
// The chance is that of an effect, normal about 0 with the standard deviation of
// a step, against none, times that of its being large enough to matter.
//
// Source: Frisch-Waugh-Lovell; Bayes factor of a normal mean, Jeffreys, Theory of
// Probability, section 5.2 [both from memory].
func (p *Pool) contrast(fittings []Fitting, block int, outward bool, span, least float64, mark func(*Cut) (float64, bool)) Contrast {
	var xx, xy, squares float64
	n, used := 0, 0
	c := Contrast{}
	for _, f := range fittings {
		side := 1.0
		if outward {
			if side = p.side(f.Cuts); side == 0 {
				continue
			}
		}
		var list []marked
		for i := range f.Cuts {
			x, ok := mark(&f.Cuts[i])
			if !ok || !f.Cuts[i].known() {
				continue
			}
			if x != 0 {
				c.With++
			} else {
				c.Others++
			}
			list = append(list, marked{p.clock(f.Cuts[i].Area), side * f.Cuts[i].Deviation, 1 / p.Variance(f.Cuts[i].Height), x})
		}
		for _, part := range blocks(list, block) {
			values, marks := beside(part)
			for i, m := range part {
				held := math.Max(-chartClip, math.Min(chartClip, values[i]*math.Sqrt(m.weight))) / math.Sqrt(m.weight)
				xx += m.weight * marks[i] * marks[i]
				xy += m.weight * marks[i] * held
				squares += m.weight * held * held
			}
			n += len(part)
			used += 2
		}
	}
	if !(xx > 1e-9*float64(n)) || n <= used+1 {
		return c
	}
	effect := xy / xx
	spread := math.Max(1, (squares-effect*xy)/float64(n-used-1)) / xx
	c.Effect = normalEstimate(effect*span, spread*span*span)
	c.Chance = p.chance(effect*span, spread*span*span, least)
	return c
}

func (p *Pool) clock(area float64) float64 { return wearClock(area/PerArea, p.Power) }

// side is the side the readings of a blade lie on, 0 where it is not plain.
func (p *Pool) side(cuts []Cut) float64 {
	sum, weight := 0.0, 0.0
	for i := range cuts {
		if cuts[i].known() {
			w := 1 / p.Variance(cuts[i].Height)
			sum += w * cuts[i].Deviation
			weight += w
		}
	}
	if !(math.Abs(sum) > 3*math.Sqrt(weight)) {
		return 0
	}
	return math.Copysign(1, sum)
}

// blocks splits a list into parts of nearly equal length, about so many each.
func blocks(list []marked, about int) (parts [][]marked) {
	n := max(1, len(list)/about)
	for i := range n {
		if part := list[i*len(list)/n : (i+1)*len(list)/n]; len(part) > 3 {
			parts = append(parts, part)
		}
	}
	return parts
}

// beside is what one straight line against the clock leaves of the values, and
// of the marks.
func beside(part []marked) (values, marks []float64) {
	var w, x float64
	for _, m := range part {
		w += m.weight
		x += m.weight * m.clock
	}
	middle := x / w
	var spread, value, slope, mark, tilt float64
	for _, m := range part {
		d := m.clock - middle
		spread += m.weight * d * d
		value += m.weight * m.value / w
		slope += m.weight * d * m.value
		mark += m.weight * m.mark / w
		tilt += m.weight * d * m.mark
	}
	if spread > 0 {
		slope, tilt = slope/spread, tilt/spread
	}
	for _, m := range part {
		d := m.clock - middle
		values = append(values, m.value-value-slope*d)
		marks = append(marks, m.mark-mark-tilt*d)
	}
	return values, marks
}

// chance is that of an effect large enough to matter, from its estimate.
func (p *Pool) chance(effect, variance, least float64) float64 {
	prior := stepSD * stepSD * p.Scale * p.Scale
	odds := chanceContrast / (1 - chanceContrast) * bayesFactor(effect, variance, prior)
	shrunk := effect * prior / (prior + variance)
	sd := math.Sqrt(2 * variance * prior / (prior + variance))
	large := math.Erfc((least*p.Scale-math.Abs(shrunk))/sd) / 2
	return odds / (1 + odds) * large
}

// bayesFactor is how much likelier an estimate is where the value is normal about
// 0 with a prior variance than where it is 0.
func bayesFactor(value, variance, prior float64) float64 {
	z := value * value / variance * prior / (prior + variance)
	return math.Sqrt(variance/(prior+variance)) * math.Exp(math.Min(z/2, 600))
}

// Alternates is the correlation of each reading with the one before it beside the
// wear line; well below 0 the blade goes to one side and the other in turn.
func (p *Pool) alternates(fittings []Fitting) Contrast {
	var product, squares float64
	c := Contrast{}
	for _, f := range fittings {
		var list []marked
		for i := range f.Cuts {
			if f.Cuts[i].known() {
				list = append(list, marked{p.clock(f.Cuts[i].Area), f.Cuts[i].Deviation, 1 / p.Variance(f.Cuts[i].Height), 0})
			}
		}
		for _, part := range blocks(list, blockCuts) {
			values, _ := beside(part)
			for i, v := range values {
				z := v * math.Sqrt(part[i].weight)
				squares += z * z
				if i > 0 {
					product += z * values[i-1] * math.Sqrt(part[i-1].weight)
					c.With++
				}
			}
		}
	}
	if c.With < 2*leastWith || !(squares > 0) {
		return c
	}
	r, variance := product/squares, 1/float64(c.With)
	c.Effect = normalEstimate(r, variance)
	c.Effect.Low, c.Effect.High = math.Max(c.Effect.Low, -1), math.Min(c.Effect.High, 1)
	odds := chanceContrast / (1 - chanceContrast) * bayesFactor(r, variance, 0.25)
	if r > leastAlternation {
		return c
	}
	c.Chance = odds / (1 + odds)
	return c
}

// leastAlternation is the correlation below which readings alternate (our choice).
const leastAlternation = -0.3

// outer are the 10 and 90 % points of the heights.
func outer(fittings []Fitting) (low, high float64) {
	var heights []float64
	for _, f := range fittings {
		for i := range f.Cuts {
			if h := f.Cuts[i].Height; h > 0 && f.Cuts[i].known() {
				heights = append(heights, h)
			}
		}
	}
	if len(heights) == 0 {
		return 0, 0
	}
	slices.Sort(heights)
	return heights[len(heights)/10], heights[len(heights)*9/10]
}
