package life

import (
	"errors"
	"fmt"
	"math"
	"slices"
)

// Curve is the share of blades still alive against the area cut, a step
// function that starts at 1 and falls at each area where blades ended.
type Curve struct {
	Steps  []Step  // by rising area, one for each distinct area with an end
	Blades int     // observations it was made from
	Ended  int     // those that ended
	Last   float64 // greatest area observed; the curve says nothing beyond it
}

// Step is one fall of the curve.
type Step struct {
	Area     float64
	AtRisk   int     // blades under observation just before Area
	Ended    int     // that ended at Area
	Survival float64 // share alive after Area
	StdErr   float64 // Greenwood's standard error of Survival; NaN where Survival is 0
	Low      float64 // 95 % limits of Survival on the log-log scale; NaN where Survival is 0
	High     float64
}

// KaplanMeier estimates the survival curve from censored lives by the product
// limit: at each area with ends the curve falls by the share ended / at risk.
// At a tie the ends come before the censorings. A blade with a delayed start is
// at risk only after it.
//
// With delayed entry the first steps can rest on very few blades, and a step on
// which all of them end takes the curve to 0 for good, however many come later:
// look at AtRisk. It fails on an impossible observation and on none at all.
//
// Source: Kaplan and Meier 1958, JASA 53:457; the limits as in Kalbfleisch and
// Prentice, The Statistical Analysis of Failure Time Data, section 1.4 [from
// memory].
func KaplanMeier(obs []Observation) (Curve, error) {
	ended, err := check(obs)
	if err != nil {
		return Curve{}, fmt.Errorf("survival curve: %w", err)
	}
	if len(obs) == 0 {
		return Curve{}, errors.New("survival curve: no blades")
	}
	// Three sorted columns are enough: those at risk at an area are the blades
	// that have come under observation less those that ended or were lost before.
	var late []float64 // starts that are not 0
	ends, lost := make([]float64, 0, ended), make([]float64, 0, len(obs)-ended)
	c := Curve{Blades: len(obs), Ended: ended}
	for _, o := range obs {
		c.Last = max(c.Last, o.Area)
		if o.Start > 0 {
			late = append(late, o.Start)
		}
		if o.Ended {
			ends = append(ends, o.Area)
		} else {
			lost = append(lost, o.Area)
		}
	}
	slices.Sort(late)
	slices.Sort(ends)
	slices.Sort(lost)
	c.Steps = productLimit(late, ends, lost)
	return c, nil
}

// productLimit walks the sorted columns once.
func productLimit(late, ends, lost []float64) []Step {
	steps := make([]Step, 0, len(ends))
	var entered, left int // of late and of lost, those before the area at hand
	atOnce := len(ends) + len(lost) - len(late)
	survival, variance := 1.0, 0.0
	for i := 0; i < len(ends); {
		at, d, before := ends[i], 0, i
		for ; i < len(ends) && ends[i] == at; i++ {
			d++
		}
		for left < len(lost) && lost[left] < at {
			left++
		}
		for entered < len(late) && late[entered] < at {
			entered++
		}
		n := atOnce + entered - before - left
		survival *= float64(n-d) / float64(n)
		variance += float64(d) / (float64(n) * float64(n-d)) // infinite at the last end of all
		steps = append(steps, newStep(at, n, d, survival, variance))
	}
	return steps
}

// newStep puts the doubt to one fall; variance is Greenwood's sum
// Σ d/(n(n-d)), the variance of log survival.
func newStep(area float64, atRisk, ended int, survival, variance float64) Step {
	s := Step{Area: area, AtRisk: atRisk, Ended: ended, Survival: survival}
	if survival == 0 {
		s.StdErr, s.Low, s.High = math.NaN(), math.NaN(), math.NaN()
		return s
	}
	se := math.Sqrt(variance)
	// On the log(-log S) scale the limits stay within 0 and 1 by themselves.
	logSurvival := math.Log(survival)
	spread := math.Exp(z95 * se / -logSurvival)
	s.StdErr = survival * se
	s.Low, s.High = math.Exp(logSurvival*spread), math.Exp(logSurvival/spread)
	return s
}

// Plain is the curve with its limits on the linear scale, Survival ± 1.96·StdErr
// cut to [0, 1]. Near 0 and 1 they hold the truth less often than those on the
// log-log scale.
func (c Curve) Plain() Curve {
	c.Steps = slices.Clone(c.Steps)
	for i, s := range c.Steps {
		if !math.IsNaN(s.StdErr) {
			c.Steps[i].Low = max(0, s.Survival-z95*s.StdErr)
			c.Steps[i].High = min(1, s.Survival+z95*s.StdErr)
		}
	}
	return c
}

// HazardStep is one rise of the cumulative hazard.
type HazardStep struct {
	Area   float64
	Hazard float64 // Σ ended/at risk up to and including Area
	StdErr float64 // of Hazard: √Σ ended/at risk²
}

// NelsonAalen is the cumulative hazard at each step of the curve: -ln survival
// is about the same, and its slope is the rate of ending per unit of area.
//
// Source: Aalen 1978, Annals of Statistics 6:701 [from memory]; the variance
// Σ d/n² is the one without correction for ties.
func (c Curve) NelsonAalen() []HazardStep {
	steps := make([]HazardStep, len(c.Steps))
	hazard, variance := 0.0, 0.0
	for i, s := range c.Steps {
		d, n := float64(s.Ended), float64(s.AtRisk)
		hazard += d / n
		variance += d / (n * n)
		steps[i] = HazardStep{Area: s.Area, Hazard: hazard, StdErr: math.Sqrt(variance)}
	}
	return steps
}

// Median is the area at which half of such blades have ended.
func (c Curve) Median() Estimate { return c.Quantile(0.5) }

// Quantile is the area at which the share p of such blades, within (0, 1), has ended:
// the smallest area with survival at most 1-p, or the middle of the stretch where the
// curve is exactly that. The limits are where the limits of the curve cross it
// (Brookmeyer and Crowley 1982, Biometrics 38:29). Any of the three is +Inf where its
// curve does not come down so far.
func (c Curve) Quantile(p float64) Estimate {
	return Estimate{
		Value: c.crossing(1-p, func(s Step) float64 { return s.Survival }),
		Low:   c.crossing(1-p, func(s Step) float64 { return s.Low }),
		High:  c.crossing(1-p, func(s Step) float64 { return s.High }),
	}
}

// crossing returns where the step function comes down to a level. The
// product of shares is exact to about 1e-15 only, hence the tolerance.
func (c Curve) crossing(level float64, curve func(Step) float64) float64 {
	const tolerance = 1e-8
	for i, s := range c.Steps {
		v := curve(s)
		if math.IsNaN(v) || v > level+tolerance {
			continue
		}
		if v < level-tolerance {
			return s.Area
		}
		flatTo := c.Last
		if i+1 < len(c.Steps) {
			flatTo = c.Steps[i+1].Area
		}
		return s.Area + (flatTo-s.Area)/2
	}
	return math.Inf(1)
}
