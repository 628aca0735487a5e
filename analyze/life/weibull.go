package life

import (
	"math"

	"gonum.org/v1/gonum/mathext"
)

// Weibull is a fitted distribution of the area a blade cuts in its life,
//
//	R(a) = exp(-(a/Scale)^Shape),
//
// with the doubt about it. A shape below 1 means that new blades fail first,
// about 1 that ends come at random (stripped teeth), 2 to 4 that blades wear
// out. Make one with FitWeibull: only then does Remaining know the doubt.
type Weibull struct {
	Shape, Scale float64

	// ShapeLow and ShapeHigh are the 95 % limits of the shape by profile
	// likelihood. Low is 0 and High +Inf where the data set no limit.
	ShapeLow, ShapeHigh float64

	// Covariance of (log Shape, log Scale), the inverse of the observed
	// information at the maximum.
	Covariance [2][2]float64

	LogLik        float64 // of the density of the area itself, so its unit matters
	Blades, Ended int     // observations it was fitted to, and those that ended

	// Borrowed says that the shape is that of a larger group: see Borrow.
	Borrowed bool

	// belief is what the likelihood says of the shape, on a grid; unit is the
	// area that counts as 1 within it and within data.
	belief []belief
	unit   float64
	data   sample
}

// AIC is Akaike's criterion 2·2 - 2·LogLik, comparable with the other
// distributions of this package on the same observations.
func (w Weibull) AIC() float64 { return 4 - 2*w.LogLik }

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

// Mean is the mean life Scale·Γ(1+1/Shape). It overflows to +Inf for a shape
// below about 0.006.
func (w Weibull) Mean() float64 { return w.Scale * math.Gamma(1+1/w.Shape) }

// MeanEstimate is the mean with its 95 % limits by the delta method on the log
// scale (Meeker and Escobar 1998, section 8.4 [from memory]), from Covariance and
//
//	d ln Mean / d ln Shape = -ψ(1+1/Shape)/Shape,   d ln Mean / d ln Scale = 1.
func (w Weibull) MeanEstimate() Estimate {
	g := -mathext.Digamma(1+1/w.Shape) / w.Shape
	c := w.Covariance
	return logWald(w.Mean(), g*g*c[0][0]+2*g*c[0][1]+c[1][1])
}

// ShapeWald is the shape with its 95 % limits from the standard error of its
// logarithm. With few ends ShapeLow and ShapeHigh are the better ones.
func (w Weibull) ShapeWald() Estimate { return logWald(w.Shape, w.Covariance[0][0]) }

// ScaleEstimate is the scale with its 95 % limits from the standard error of its
// logarithm.
func (w Weibull) ScaleEstimate() Estimate { return logWald(w.Scale, w.Covariance[1][1]) }

// logWald is a value with the 95 % limits that the variance of its logarithm
// gives.
func logWald(value, variance float64) Estimate {
	spread := math.Exp(z95 * math.Sqrt(variance))
	return Estimate{Value: value, Low: value / spread, High: value * spread}
}
