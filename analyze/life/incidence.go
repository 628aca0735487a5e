package life

import (
	"errors"
	"fmt"
	"math"
	"slices"
)

// Caused is what is known of one blade, with the way it ended. The ways compete:
// a blade that broke can no longer wear out.
type Caused struct {
	Observation
	Cause int // of the end, from 0; read only where Ended
}

// CauseCurve is the share of new blades that end by one cause, all causes being
// at work, against the area cut: a step function that starts at 0.
type CauseCurve struct {
	Steps []IncidenceStep // by rising area, one for each distinct area with an end by this cause
	Ended int             // blades that ended by this cause
	Last  float64         // greatest area observed; the curve says nothing beyond it
}

// IncidenceStep is one rise of the curve.
type IncidenceStep struct {
	Area   float64
	AtRisk int     // blades under observation just before Area
	Ended  int     // that ended at Area by this cause
	Value  float64 // share ended by this cause up to Area
	StdErr float64 // of Value, after Aalen
	Low    float64 // 95 % limits of Value on the log-log scale; NaN where Value is 0 or 1
	High   float64
}

// Incidence estimates for each of the causes 0 to causes-1 the share of blades
// that end by it (Aalen-Johansen): at each area with ends it rises by S·d/n,
// with d ends by the cause, n blades at risk and S the Kaplan-Meier curve of
// all ends just before. At each area the shares and that curve add up to 1.
//
// It answers "what share will strip". One less the Kaplan-Meier curve of one
// cause, the others taken as censored, does not: it is too high, being of a shop
// in which nothing else ends a blade.
//
// The variance of the share F at area a is a sum over the areas u ≤ a with ends,
//
//	Σ d·t(d)·(S(u-)/n - r)² + e·t(e)·r²,   r = (F(a) - F(u))/(n-d-e),
//
// with e ends by other causes, t(d) = (n-d)/(n-1) for ties, and r = 0 where
// no blade is left after u. For a single cause without ties that is Greenwood's,
// with n-1 in place of n.
//
// Delayed entry is as in KaplanMeier, and so is its warning. It fails on an
// impossible observation, on none at all and on a cause out of range.
//
// Source: Aalen 1978, Annals of Statistics 6:534; the variance as R cmprsk's
// cuminc computes it [both from memory; checked against its values].
func Incidence(obs []Caused, causes int) ([]CauseCurve, error) {
	if causes < 1 {
		return nil, fmt.Errorf("incidence: %d causes: at least 1 is needed", causes)
	}
	if len(obs) == 0 {
		return nil, errors.New("incidence: no blades")
	}
	all := make([]Observation, len(obs))
	ends := make([][]float64, causes)
	for i, o := range obs {
		all[i] = o.Observation
		if !o.Ended {
			continue
		}
		if o.Cause < 0 || o.Cause >= causes {
			return nil, fmt.Errorf("incidence: observation %d: cause %d: want 0 to %d", i+1, o.Cause, causes-1)
		}
		ends[o.Cause] = append(ends[o.Cause], o.Area)
	}
	if _, err := check(all); err != nil {
		return nil, fmt.Errorf("incidence: %w", err)
	}
	return aalenJohansen(newRiskSet(all), ends), nil
}

// OfCause is the blades with the ends by one cause only, the others taken as
// censored: what FitWeibull needs for the risk of that cause alone. The product
// of the causes' survivals is then that of the blade.
func OfCause(obs []Caused, cause int) []Observation {
	of := make([]Observation, len(obs))
	for i, o := range obs {
		of[i] = o.Observation
		of[i].Ended = o.Ended && o.Cause == cause
	}
	return of
}

// aalenJohansen walks the areas with ends once; ends are by cause.
func aalenJohansen(all riskSet, ends [][]float64) []CauseCurve {
	curves, sums := make([]CauseCurve, len(ends)), make([]incidence, len(ends))
	causes := make([]riskSet, len(ends)) // of each only the ends are read
	for i := range ends {
		slices.Sort(ends[i])
		causes[i] = riskSet{ends: ends[i]}
		curves[i] = CauseCurve{Ended: len(ends[i]), Last: all.areas[len(all.areas)-1]}
	}
	survival := 1.0
	for _, area := range slices.Compact(slices.Clone(all.ends)) {
		n, d := all.at(area)
		for i := range causes {
			_, own := causes[i].at(area)
			sums[i].add(n, own, d-own, survival/float64(n))
			if own > 0 {
				step := IncidenceStep{Area: area, AtRisk: n, Ended: own}
				step.Value, step.StdErr, step.Low, step.High = sums[i].estimate()
				curves[i].Steps = append(curves[i].Steps, step)
			}
		}
		survival *= float64(n-d) / float64(n)
	}
	return curves
}

// incidence is the share ended by a cause, with the sums of its variance: that
// is Σ w·(g - h·share)², written out in powers of the share.
type incidence struct{ share, gg, gh, hh float64 }

// add takes in an area at which, of n at risk, own ended by the cause and others
// by another one. perBlade is the share of all blades that each at risk stands
// for.
func (s *incidence) add(n, own, others int, perBlade float64) {
	s.share += perBlade * float64(own)
	var h float64
	if left := n - own - others; left > 0 {
		h = 1 / float64(left)
	}
	term := func(ended int, g float64) {
		w := float64(ended)
		if ended > 1 {
			w *= float64(n-ended) / float64(n-1)
		}
		s.gg += w * g * g
		s.gh += w * g * h
		s.hh += w * h * h
	}
	term(own, perBlade+s.share*h)
	term(others, s.share*h)
}

// estimate is the share with its standard error and limits.
func (s *incidence) estimate() (value, se, low, high float64) {
	// Rounding can take the share a hair above 1 and the variance below 0.
	value = min(s.share, 1)
	se = math.Sqrt(max(0, s.gg+value*(value*s.hh-2*s.gh)))
	if value == 0 || value == 1 {
		return value, se, math.NaN(), math.NaN()
	}
	spread := math.Exp(z95 * se / (value * -math.Log(value)))
	return value, se, math.Pow(value, spread), math.Pow(value, 1/spread)
}
