package life

import "math"

// Closed forms of the fitted curve, which the checks hold the package against.

// Survival is the share of new blades that cut more than area. It is 1 for an
// area of 0 or less.
func (w Weibull) Survival(area float64) float64 {
	if area <= 0 {
		return 1
	}
	return math.Exp(-math.Pow(area/w.Scale, w.Shape))
}

// Quantile is the area at which the share p of new blades has ended (B10 is
// Quantile(0.1)): Scale·(-ln(1-p))^(1/Shape). It is 0 at p = 0, +Inf at 1 and
// NaN outside.
func (w Weibull) Quantile(p float64) float64 {
	return w.Scale * math.Pow(-math.Log1p(-p), 1/w.Shape)
}

// PlugIn is what is left of a blade that has cut the area cut, were the fitted
// curve the truth: x with R(cut+x)/R(cut) = 1-p, in closed form
//
//	x = Scale·((cut/Scale)^Shape - ln(1-p))^(1/Shape) - cut.
//
// It leaves out the doubt about the fit: with few ends its 10 to 90 % windows
// catch clearly fewer than 80 % of the blades. Use Remaining for people. A
// negative cut counts as 0.
func (w Weibull) PlugIn(cut float64) Remaining {
	cut = max(cut, 0)
	quantile := func(p float64) float64 {
		hazard, more := math.Pow(cut/w.Scale, w.Shape), -math.Log1p(-p)
		if hazard < 1 {
			return max(0, w.Scale*math.Pow(hazard+more, 1/w.Shape)-cut)
		}
		// The same, kept from cancelling where cut is many scales.
		return cut * math.Expm1(math.Log1p(more/hazard)/w.Shape)
	}
	return Remaining{quantile(q10), quantile(q50), quantile(q90)}
}
