package lives

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"gullet/cmd/gullet/internal/figures"
)

// z95 is the 97.5 % point of the standard normal.
const z95 = 1.959963984540054

// costLine is the sums that the cost of a group is made of.
type costLine struct {
	off      int
	paid     float64 // price of the blades taken off
	area     float64 // in² by all blades, those still running too
	weighted float64 // the same, weighted; 0 where nothing is
	// How far the 95 % limits of ln(paid/area) and ln(paid/weighted) lie from it,
	// squared.
	squareArea, squareWeighted float64
	why                        string
}

// costLine sums up a group. The limits are those of a ratio of two sums over
// blades (common survey practice): with y the price of a blade that came off,
// else 0, and a its area, the variance of ln(Σy/Σa) is
//
//	n/(n-1)·Σ(y - R·a)²/(Σy)²,  R = Σy/Σa,
//
// and the limits are as many standard deviations off as Student's t with n-1
// degrees of freedom says.
func (s *study) costLine(group string) costLine {
	var c costLine
	rows, lives := s.of(group), s.observations(group)
	for i, r := range rows {
		if r.Price == nil {
			c.why = "the price of a blade is not told (blade_type.price, or a column price)"
			return c
		}
		c.area += r.Area
		if s.weight != nil {
			c.weighted += lives[i].Area
		}
		if r.Off {
			c.off++
			c.paid += *r.Price
		}
	}
	if c.off == 0 {
		c.why = "no blade has come off yet"
		return c
	}
	n := float64(len(rows))
	for i, r := range rows {
		paid := 0.0
		if r.Off {
			paid = *r.Price
		}
		c.squareArea += square(paid - c.paid/c.area*r.Area)
		if c.weighted > 0 {
			c.squareWeighted += square(paid - c.paid/c.weighted*lives[i].Area)
		}
	}
	scale := math.Inf(1) // one blade sets no limits
	if n > 1 {
		scale = n / (n - 1) * square(distuv.StudentsT{Sigma: 1, Nu: n - 1}.Quantile(0.975)/c.paid)
	}
	c.squareArea *= scale
	c.squareWeighted *= scale
	return c
}

// cost is what the blades of a group cost for what they cut.
func (s *study) cost(group string) (*Cost, string) {
	c := s.costLine(group)
	if c.why != "" {
		return nil, c.why
	}
	out := &Cost{Off: c.off, PerArea: ratio(c.paid/c.area, c.squareArea)}
	if c.weighted > 0 {
		per := ratio(c.paid/c.weighted, c.squareWeighted)
		out.PerWeighted = &per
	}
	return out, ""
}

// costRatio is the cost of group a over that of group b, per weighted in² where
// both are weighted; doubt is what the weights add to the variance of its
// logarithm.
func costRatio(a, b costLine, doubt float64) (figures.Interval, bool) {
	if a.why != "" || b.why != "" {
		return figures.Interval{}, false
	}
	if a.weighted > 0 && b.weighted > 0 {
		return ratio(a.paid/a.weighted/(b.paid/b.weighted), a.squareWeighted+b.squareWeighted+z95*z95*doubt), true
	}
	return ratio(a.paid/a.area/(b.paid/b.area), a.squareArea+b.squareArea), true
}

// ratio is a value with 95 % limits whose logarithms lie the root of square off.
func ratio(value, square float64) figures.Interval {
	spread := math.Exp(math.Sqrt(square))
	return figures.Limits(value, value/spread, value*spread)
}

func square(x float64) float64 { return x * x }

// root is a standard error; nil for a variance that is none.
func root(variance float64) *float64 { return figures.Finite(math.Sqrt(variance)) }
