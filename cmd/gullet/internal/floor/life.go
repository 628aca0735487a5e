package floor

import (
	"cmp"
	"fmt"
	"math"

	"gullet/analyze/life"
	"gullet/cmd/gullet/internal/figures"
	"gullet/cmd/gullet/internal/lives"
)

// lives is how long the blades of each type last, by name.
func (b *builder) lives() []Life {
	list := []Life{}
	for _, t := range b.shop.Types() {
		l := Life{
			Type: t.Type, Blades: t.Blades, Ended: t.Ended, Censored: t.Blades - t.Ended, Unknown: t.Unknown,
			Area: t.Area, Weighted: t.Weighted, WhyWeibull: t.Why,
		}
		l.estimate(t)
		list = append(list, l)
	}
	return list
}

func (l *Life) estimate(t *lives.TypeLife) {
	curve, err := life.KaplanMeier(t.Lives)
	switch median := curve.Median(); {
	case err != nil:
		l.WhyMedian = err.Error()
	case math.IsInf(median.Value, 1):
		l.WhyMedian = fmt.Sprintf("not reached: fewer than half have ended (n=%d)", curve.Blades)
	default:
		i := figures.Limits(median.Value, median.Low, median.High)
		l.Median = &i
	}
	if w := t.Fit; w != nil {
		scale, mean := w.ScaleEstimate(), w.MeanEstimate()
		l.Weibull = &Weibull{
			Shape:    figures.Limits(w.Shape, w.ShapeLow, w.ShapeHigh),
			Scale:    figures.Limits(scale.Value, scale.Low, scale.High),
			Mean:     figures.Limits(mean.Value, mean.Low, mean.High),
			Borrowed: w.Borrowed,
		}
		if t.Mixed() { // the limits of one curve through several ways do not hold
			for _, i := range []*figures.Interval{&l.Weibull.Scale, &l.Weibull.Mean} {
				i.Low, i.High = nil, nil
			}
		}
	}
}

func typeName(t string) string { return cmp.Or(t, "(type not said)") }
