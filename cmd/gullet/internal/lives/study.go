package lives

import (
	"errors"
	"fmt"
	"slices"

	"gullet/analyze/life"
	"gullet/cmd/gullet/internal/figures"
)

// Limits says how 95 % limits are made where there is a choice.
type Limits struct {
	Plain bool // of the Kaplan-Meier curve: linear in place of log-log
	Wald  bool // of shape and quantiles: by standard errors in place of profile likelihood
}

// The clocks a life is counted on.
const (
	clockArea     = "area"
	clockWeighted = "weighted area"
	clockBends    = "band bends"
)

// areaUnit is the unit of every area in a Report.
const areaUnit = "in2"

// Study puts the answer together. by says what the groups are, for the reader.
func Study(d *Data, by string, limits Limits) *Report {
	s := &study{Data: d, limits: limits, clock: clockArea}
	r := &Report{
		Unit: areaUnit, By: by, Limits: limits.names(), Groups: []Group{}, Pairs: []Pair{},
		Weights: []Weight{}, Settled: []Weight{}, Doubts: append([]string{}, d.Doubts...),
	}
	s.weigh(r)
	r.Clock = s.clock
	s.observe()
	if pool, err := life.FitWeibull(s.observations(all)); err == nil && pool.Ended >= life.FewEnds {
		s.pool = &pool
	}
	names := d.groups()
	r.Groups = append(r.Groups, s.group(all))
	if !slices.Equal(names, []string{all}) {
		for _, name := range names {
			r.Groups = append(r.Groups, s.group(name))
		}
	}
	s.compare(r, names)
	s.regress(r)
	return r
}

// study is a Data on its clock.
type study struct {
	*Data
	limits Limits
	clock  string
	weight []float64          // by class, nil on the clock of raw area
	doubt  [][]float64        // covariance of ln weight by class
	lives  []life.Observation // parallel to Rows
	pool   *life.Weibull      // fit of all blades, nil where it has too few ends to borrow from
}

func (l Limits) names() []string {
	curve, fit := "curve log-log", "fit by profile likelihood"
	if l.Plain {
		curve = "curve plain"
	}
	if l.Wald {
		fit = "fit by standard errors"
	}
	return []string{curve, fit}
}

// observe puts each blade on the clock. What was cut before anyone kept count
// is taken to have been of the blade's own mix.
func (s *study) observe() {
	s.lives = make([]life.Observation, len(s.Rows))
	for i := range s.Rows {
		r := &s.Rows[i]
		s.lives[i] = life.Observation{Start: r.Start, Area: r.Area, Ended: r.Ended}
		if s.weight == nil {
			continue
		}
		weighted := 0.0
		for m, area := range r.Cut {
			weighted += area * s.weight[m]
		}
		s.lives[i].Area = weighted
		if r.Area > 0 {
			s.lives[i].Start = weighted * (r.Start / r.Area)
		}
	}
}

// observations are the lives of a group.
func (s *study) observations(group string) []life.Observation {
	var obs []life.Observation
	for i := range s.Rows {
		if group == all || s.Rows[i].Group == group {
			obs = append(obs, s.lives[i])
		}
	}
	return obs
}

func (s *study) group(name string) Group {
	g := Group{Group: name, KM: []Step{}, NelsonAalen: []Hazard{}, Causes: []Cause{}}
	obs := s.observations(name)
	weighted := 0.0
	for i, r := range s.of(name) {
		g.Blades++
		g.Area += r.Area
		weighted += obs[i].Area
		g.Longest = max(g.Longest, obs[i].Area)
		if r.Ended {
			g.Ended++
		}
	}
	g.Censored = g.Blades - g.Ended
	if s.weight != nil {
		g.Weighted = &weighted
	}
	s.curve(&g, obs)
	s.fits(&g, obs)
	g.Causes = s.causes(name)
	g.Weibull.mixed(g.Causes)
	g.Cost, g.WhyCost = s.cost(name)
	return g
}

// curve fills in what needs no assumption about the distribution.
func (s *study) curve(g *Group, obs []life.Observation) {
	curve, err := life.KaplanMeier(obs)
	if err != nil {
		g.Tenth.Why, g.Median.Why = err.Error(), err.Error()
		return
	}
	if s.limits.Plain {
		curve = curve.Plain()
	}
	for _, step := range curve.Steps {
		g.KM = append(g.KM, Step{
			Area: step.Area, AtRisk: step.AtRisk, Ended: step.Ended, Survival: step.Survival,
			StdError: figures.Finite(step.StdErr), Low: figures.Finite(step.Low), High: figures.Finite(step.High),
		})
	}
	for _, h := range curve.NelsonAalen() {
		g.NelsonAalen = append(g.NelsonAalen, Hazard{h.Area, h.Hazard, h.StdErr})
	}
	g.Tenth, g.Median = seen(&curve, 0.1, "nine tenths"), seen(&curve, 0.5, "one half")
}

// seen is when a share of the blades had ended, or that the curve stays above what is
// left then.
func seen(curve *life.Curve, share float64, left string) Seen {
	q := curve.Quantile(share)
	s := Seen{Value: figures.Finite(q.Value), Low: figures.Finite(q.Low), High: figures.Finite(q.High)}
	if s.Value == nil {
		s.Why = fmt.Sprintf("not reached: the curve stays above %s (%d of %d ended)", left, curve.Ended, curve.Blades)
	}
	return s
}

// fits fills in the fitted distributions, each with its reason where there is
// none.
func (s *study) fits(g *Group, obs []life.Observation) {
	w, err := life.FitWeibull(obs)
	if err == nil {
		g.Weibull = s.weibull(&w, s.clock)
	} else {
		g.WhyWeibull = err.Error()
	}
	if g.Ended < life.FewEnds {
		s.borrow(g, obs)
	} else {
		g.WhyBorrowed = fmt.Sprintf("%d ends are enough for a shape of its own", g.Ended)
	}
	if l, err := life.FitLognormal(obs); err == nil {
		g.Lognormal = &Lognormal{
			Mu: l.Mu, Sigma: l.Sigma, MuSE: root(l.Covariance[0][0]), LogSigmaSE: root(l.Covariance[1][1]), LogLik: l.LogLik, AIC: l.AIC(),
		}
	} else {
		g.WhyLognormal = err.Error()
	}
	if e, err := life.FitExponential(obs); err == nil {
		g.Exponential = &Exponential{Scale: e.Scale.Value, ScaleLow: e.Scale.Low, ScaleHigh: e.Scale.High, LogLik: e.LogLik, AIC: e.AIC()}
	} else {
		g.WhyExponential = err.Error()
	}
}

// mixed takes the limits off a curve through several ways of ending: it is the wrong
// one, and the more blades the surer it is of it (analyze/life, TestLimitsOfB10AndB50Hold).
func (w *Weibull) mixed(causes []Cause) {
	if w == nil || len(causes) < 2 {
		return
	}
	for _, i := range []*figures.Interval{&w.B10, &w.B50} {
		i.Low, i.High = nil, nil
	}
	w.MeanLow, w.MeanHigh = nil, nil
	w.Note = fmt.Sprintf("one curve through %d ways of ending is too sure of itself: go by what was seen", len(causes))
}

// borrow fills in the fit with the shape of all blades.
func (s *study) borrow(g *Group, obs []life.Observation) {
	if s.pool == nil || s.pool.Ended == g.Ended {
		g.WhyBorrowed = fmt.Sprintf("there is no larger group with %d ends to borrow a shape from", life.FewEnds)
		return
	}
	w, err := life.Borrow(obs, *s.pool)
	if err == nil {
		g.Borrowed = s.weibull(&w, s.clock)
		g.Borrowed.Note = borrowedNote(s.pool)
		return
	}
	g.WhyBorrowed = err.Error()
	if bound, boundErr := life.ScaleBound(obs, s.pool.Shape); boundErr == nil && errors.Is(err, life.ErrTooFewEnds) && bound > 0 {
		g.ScaleAtLeast = &bound
	}
}

func borrowedNote(pool *life.Weibull) string {
	return fmt.Sprintf("shape borrowed from all %d blades (%d ended)", pool.Blades, pool.Ended)
}

// weibull is a fit for people, with limits of the kind asked for.
func (s *study) weibull(w *life.Weibull, clock string) *Weibull {
	mean := w.MeanEstimate()
	out := &Weibull{
		Clock: clock, Shape: w.Shape, Scale: w.Scale,
		LogShapeSE: root(w.Covariance[0][0]), LogScaleSE: root(w.Covariance[1][1]), Covariance: figures.Finite(w.Covariance[0][1]),
		ShapeLow: figures.Finite(w.ShapeLow), ShapeHigh: figures.Finite(w.ShapeHigh), LogLik: w.LogLik, AIC: w.AIC(),
		Mean: figures.Finite(mean.Value), MeanLow: figures.Finite(mean.Low), MeanHigh: figures.Finite(mean.High),
		Blades: w.Blades, Ended: w.Ended,
	}
	if s.limits.Wald {
		shape := w.ShapeWald()
		out.ShapeLow, out.ShapeHigh = figures.Finite(shape.Low), figures.Finite(shape.High)
		out.B10, out.B50 = interval(w.QuantileWald(0.1)), interval(w.QuantileWald(0.5))
		return out
	}
	out.B10, out.B50 = interval(w.QuantileEstimate(0.1)), interval(w.QuantileEstimate(0.5))
	return out
}

// interval is an estimate for people.
func interval(e life.Estimate) figures.Interval { return figures.Limits(e.Value, e.Low, e.High) }
