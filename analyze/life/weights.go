package life

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
)

// Mixed is what is known of one blade that cut materials of several classes.
type Mixed struct {
	Areas []float64 // area cut by the last look, by class
	Start float64   // how much of it all was cut before anyone kept count; its mix is taken as the blade's
	Ended bool      // its life ended; false: pulled early or still running
	Last  int       // class in the cut at the end; ignored unless Ended
	Kind  int       // what kind of blade it is, from 0: each kind has a scale of its own
}

// Prior is what is known of a class's ln weight beforehand: normal with Mean
// and SD. An SD of +Inf stands for nothing: the class is left to the data.
type Prior struct{ Mean, SD float64 }

// Weights is a fitted model of cumulative exposure. An area of class m wears a
// blade as w_m = exp(LogWeight) times that area of the reference class does,
//
//	E = Σ area_m·w_m,
//
// and E at the end of life has a Weibull distribution of Shape and, for each
// kind of blade, a scale.
type Weights struct {
	Classes      []ClassWeight
	Shape, Scale float64   // of the exposure, area in the reference class; Scale is that of the first kind with an end
	Kinds        []float64 // ln scale of each kind over Scale; NaN for one without an end

	// Covariance of (ln Shape, ln Scale, LogWeight…, Kinds…), with every class in
	// order but the reference and those with a Why, and every kind with an end
	// but the first.
	Covariance [][]float64

	// LogLik is that of the data at the estimates; a prior is not in it. It is
	// of the density of the area itself, so its unit matters.
	LogLik        float64
	Blades, Ended int
}

// ClassWeight is one class's weight. The weight itself is exp(LogWeight), with
// 95 % limits exp(LogWeight ± 1.96·SE).
type ClassWeight struct {
	LogWeight, SE float64 // both 0 for the reference; NaN with a Why
	Why           error   // why the data cannot tell the weight
	Blades, Ended int     // that cut the class, and those of them that ended
}

var (
	errNobodyCut   = errors.New("nobody cut it")
	errNeverLast   = errors.New("no blade ended in it, and the lives of those that cut it set its weight no lower limit")
	errNoReference = fmt.Errorf("the data cannot weigh the reference class: choose another: %w", ErrNoFit)
	errNoShape     = fmt.Errorf("the ends lie too close together to tell the shape: %w", ErrNoFit)
)

// FitWeights fits shape, scale and the weights of the classes relative to the
// class reference by maximum likelihood, each blade with right censoring and
// delayed entry as in FitWeibull:
//
//	l = Σ_ended (ln f(E) + ln w_last) + Σ_others ln R(E) - Σ ln R(E₀),
//
// f and R the Weibull density and survival, E₀ = E·Start/Σ area. With priors,
// one a class, -(ln w - Mean)²/2SD² of each is added: the weights are then the
// most probable ones, and one that the data do not tell stays at its mean. The
// reference's own prior is ignored.
//
// A kind without an end says nothing of the weights: its scale is free to fit
// any. Without a scale for each kind, the quality of the blades would be charged
// to the materials they happen to cut.
//
// A class that nobody cut or that the likelihood would give no weight at all
// (only blades that did not end cut it, say) has a Why unless it has a prior;
// its area counts as none, which is where the likelihood goes.
//
// With a handful of ends a class the likelihood can have several maxima, of
// which one is found: give priors. An SD above 20 counts as +Inf.
//
// It fails with ErrTooFewEnds if none has ended; with ErrNoFit where the ends
// lie too close together or the data cannot weigh the reference class; and on
// an impossible blade, counted from 1.
//
// Source: Nelson, Accelerated Testing, chapter 10 on cumulative exposure [from
// memory].
func FitWeights(blades []Mixed, reference int, priors []Prior) (Weights, error) {
	m, err := newMixture(blades, reference, priors)
	if err != nil {
		return Weights{}, fmt.Errorf("material weights: %w", err)
	}
	for {
		best, err := maximise(m.at, m.start())
		if err == nil {
			return m.weights(best)
		}
		if !m.dropBlamed(best, err) {
			return Weights{}, fmt.Errorf("material weights: %w", m.explain(best, err))
		}
	}
}

// mixture is the data in the form the likelihood reads. Its parameters are
// ln shape, ln scale, the ln weight of each free class and ln scale of each kind
// after the first over that one's.
type mixture struct {
	blades   []Mixed   // those watched over something
	logStart []float64 // ln(E₀/E) ≤ 0; no delayed entry: -Inf
	kinds    []int     // by kind, its place among those with an end; -1 for one without
	unit     float64   // greatest area of a blade; counts as 1
	all      int       // blades, with those watched over nothing
	ends     int
	last     []float64 // how many ended in the class

	reference int
	classes   []ClassWeight
	priors    []Prior // SD +Inf: none
	free      []int   // classes whose weight is estimated
	weight    []float64
	share     []float64 // room for the share of each free class in a blade's exposure
}

const (
	widest   = 20 // greatest SD of a prior that is worth having: a factor of e^20 to either side
	heaviest = 50 // greatest |Mean| of a prior; e^50 is no weight of a material
)

func newMixture(blades []Mixed, reference int, priors []Prior) (*mixture, error) {
	if len(blades) == 0 {
		return nil, fmt.Errorf("no blades: %w", ErrTooFewEnds)
	}
	n := len(blades[0].Areas)
	if reference < 0 || reference >= n {
		return nil, fmt.Errorf("reference class %d of %d: want 0 to %d", reference, n, n-1)
	}
	m := &mixture{
		all: len(blades), reference: reference, last: make([]float64, n), classes: make([]ClassWeight, n),
		weight: make([]float64, n), share: make([]float64, n),
	}
	if err := m.believe(priors); err != nil {
		return nil, err
	}
	if err := m.sort(blades); err != nil {
		return nil, err
	}
	m.blades, m.logStart = make([]Mixed, 0, m.all), make([]float64, 0, m.all)
	for i, b := range blades {
		if err := m.add(b); err != nil {
			return nil, fmt.Errorf("blade %d: %w", i+1, err)
		}
	}
	if m.ends == 0 {
		return nil, fmt.Errorf("none of %d blades has ended: %w", m.all, ErrTooFewEnds)
	}
	return m, m.choose()
}

// sort gives each kind with an end its place.
func (m *mixture) sort(blades []Mixed) error {
	for i, b := range blades {
		if b.Kind < 0 || b.Kind >= len(blades) {
			return fmt.Errorf("blade %d: kind %d: want 0 to %d", i+1, b.Kind, len(blades)-1)
		}
		for len(m.kinds) <= b.Kind {
			m.kinds = append(m.kinds, -1)
		}
		if b.Ended {
			m.kinds[b.Kind] = 0
		}
	}
	place := 0
	for kind, at := range m.kinds {
		if at == 0 {
			m.kinds[kind] = place
			place++
		}
	}
	return nil
}

// tail is the place of the first parameter that is a kind's, less one.
func (m *mixture) tail() int { return 1 + len(m.free) }

// believe takes the priors over.
func (m *mixture) believe(priors []Prior) error {
	if priors != nil && len(priors) != len(m.classes) {
		return fmt.Errorf("%d priors for %d classes", len(priors), len(m.classes))
	}
	m.priors = make([]Prior, len(m.classes))
	for i := range m.priors {
		m.priors[i].SD = math.Inf(1)
		if priors == nil || i == m.reference || priors[i].SD > widest {
			continue
		}
		m.priors[i] = priors[i]
		if p := priors[i]; !(p.SD > 0) || !(math.Abs(p.Mean) <= heaviest) {
			return fmt.Errorf("prior of class %d: mean %v, SD %v: want a mean within %d and an SD above 0", i, p.Mean, p.SD, heaviest)
		}
	}
	return nil
}

// add checks a blade and counts it in.
func (m *mixture) add(b Mixed) error {
	if len(b.Areas) != len(m.classes) {
		return fmt.Errorf("%d areas for %d classes", len(b.Areas), len(m.classes))
	}
	total := 0.0
	for class, a := range b.Areas {
		if !(a >= 0) {
			return fmt.Errorf("area %v in class %d: want a number, at least 0", a, class)
		}
		total += a
	}
	switch {
	case math.IsInf(total, 0):
		return errors.New("endless area")
	case !(b.Start >= 0) || b.Start > total:
		return fmt.Errorf("start %v: want 0 to the %v it has cut", b.Start, total)
	case b.Ended && total == b.Start:
		return fmt.Errorf("ended with no area cut since %v: leave it out", b.Start)
	case b.Ended && (b.Last < 0 || b.Last >= len(b.Areas)):
		return fmt.Errorf("ended in class %d: want 0 to %d", b.Last, len(b.Areas)-1)
	}
	if total == b.Start {
		return nil // watched over nothing yet
	}
	if m.kinds[b.Kind] >= 0 {
		m.blades = append(m.blades, b)
		m.logStart = append(m.logStart, math.Log(b.Start/total))
	}
	m.unit = max(m.unit, total)
	for class, a := range b.Areas {
		if a > 0 {
			m.classes[class].Blades++
			if b.Ended {
				m.classes[class].Ended++
			}
		}
	}
	if b.Ended {
		m.ends++
		m.last[b.Last]++
	}
	return nil
}

// choose decides whose weights can be estimated at all.
func (m *mixture) choose() error {
	anchored := m.classes[m.reference].Blades > 0
	for class := range m.classes {
		told := m.classes[class].Blades > 0
		known := m.priors[class].SD <= widest
		switch {
		case class == m.reference:
		case told || known:
			m.free = append(m.free, class)
			anchored = anchored || told && known
		default:
			m.classes[class].Why = errNobodyCut
		}
	}
	if !anchored {
		return errNoReference
	}
	return nil
}

// start is a shape of 1 with the weights at their prior means or 1.
func (m *mixture) start() []float64 {
	p := make([]float64, m.tail()+slices.Max(m.kinds)+1)
	for slot, class := range m.free {
		p[2+slot] = m.priors[class].Mean
	}
	m.weigh(p)
	sum := 0.0
	for _, b := range m.blades {
		sum += m.exposure(b)
	}
	p[1] = math.Log(sum / float64(m.ends))
	return p
}

// weigh puts the weights in place: over the unit, and 0 for a class that is
// left out.
func (m *mixture) weigh(p []float64) {
	clear(m.weight)
	m.weight[m.reference] = 1 / m.unit
	for slot, class := range m.free {
		m.weight[class] = math.Exp(p[2+slot]) / m.unit
	}
}

func (m *mixture) exposure(b Mixed) (e float64) {
	for class, a := range b.Areas {
		e += a * m.weight[class]
	}
	return e
}

// at is the logLikelihood, with the priors.
func (m *mixture) at(p, gradient []float64, hessian *mat.SymDense) (value float64) {
	h := hessian.RawSymmetric()
	m.weigh(p)
	for i, b := range m.blades {
		value += m.contribute(b, m.logStart[i], p, gradient, h.Data, h.Stride)
	}
	for slot, class := range m.free {
		j, prior := 2+slot, m.priors[class]
		off := (p[j] - prior.Mean) / prior.SD
		value += m.last[class]*p[j] - off*off/2
		gradient[j] += m.last[class] - off/prior.SD
		h.Data[j*h.Stride+j] -= 1 / (prior.SD * prior.SD)
	}
	return value
}

// contribute adds one blade. With k the shape, c = ln scale, v = ln E - c and
// G(k, v) = e^kv·(1 - (E₀/E)^k) its cumulative risk, it is worth
//
//	[ended]·(ln k + (k-1)·v - c) - G,
//
// less ln w_last, which is added for all blades at once. v depends on ln scale,
// and on what its kind adds to it, with slope -1 and on ln w_m with that class's
// share of E.
func (m *mixture) contribute(b Mixed, logStart float64, p, gradient, hessian []float64, stride int) float64 {
	exposure := m.exposure(b)
	if exposure == 0 {
		return 0 // only of a class without weight, so not ended
	}
	share := m.share[:len(m.free)]
	for slot, class := range m.free {
		share[slot] = b.Areas[class] * m.weight[class] / exposure
	}
	k := math.Exp(p[0])
	logScale, kind := p[1], 0
	if m.kinds[b.Kind] > 0 {
		kind = m.tail() + m.kinds[b.Kind]
		logScale += p[kind]
	}
	v := math.Log(exposure) - logScale
	risk, dRisk, ddRisk := risk(k, v, logStart)
	ended := 0.0
	if b.Ended {
		ended = 1
	}
	byV := ended*(k-1) - k*risk
	byVV := -k * k * risk
	byKV := ended*k - k*risk - k*k*dRisk // k: by ln shape

	gradient[0] += ended*(1+k*v) - k*dRisk
	gradient[1] -= byV + ended
	hessian[0] += ended*k*v - k*dRisk - k*k*ddRisk
	hessian[1] -= byKV
	hessian[stride+1] += byVV
	if kind > 0 {
		gradient[kind] -= byV + ended
		hessian[kind] -= byKV
		hessian[stride+kind] += byVV
		hessian[kind*stride+kind] += byVV
	}
	for i, s := range share {
		if s == 0 {
			continue
		}
		gradient[2+i] += byV * s
		hessian[2+i] += byKV * s
		hessian[stride+2+i] -= byVV * s
		if kind > 0 {
			hessian[(2+i)*stride+kind] -= byVV * s
		}
		row := hessian[(2+i)*stride+2:]
		row[i] += byV * s
		for j := i; j < len(share); j++ {
			row[j] += (byVV - byV) * s * share[j]
		}
	}
	return ended*(p[0]+(k-1)*v-logScale) - risk
}

// risk is e^kv·(1 - e^ks) and its first two derivatives by k.
func risk(k, v, s float64) (g, dg, ddg float64) {
	z := math.Exp(k * v)
	if math.IsInf(s, -1) {
		return z, z * v, z * v * v
	}
	before, since := math.Exp(k*s), -math.Expm1(k*s)
	return z * since, z * (v*since - s*before), z * (v*v*since - (2*v+s)*s*before)
}

// dropBlamed takes the class that has no maximum out, if it is one: its weight
// is on its way to 0, and the others then do best without it.
func (m *mixture) dropBlamed(best maximum, err error) bool {
	var none noMaximum
	if !errors.As(err, &none) || none.parameter < 2 {
		return false
	}
	slot := none.parameter - 2
	if slot >= len(m.free) {
		return false // a kind's
	}
	class := m.free[slot]
	if m.last[class] > 0 || best.at[none.parameter] > 0 {
		return false
	}
	m.classes[class].Why = errNeverLast
	m.free = slices.Delete(m.free, slot, slot+1)
	return true
}

// explain says what has no maximum if no single class is to blame.
func (m *mixture) explain(best maximum, err error) error {
	const far = 8 // the reference has next to no weight beside every other class
	switch {
	case len(m.free) > 0 && slices.Min(best.at[2:2+len(m.free)]) > far:
		return errNoReference
	case best.at[0] > math.Log(maxShape/10):
		return errNoShape
	}
	return err
}

// weights reads the result off the maximum.
func (m *mixture) weights(best maximum) (Weights, error) {
	w := Weights{
		Classes: m.classes, Shape: math.Exp(best.at[0]), Scale: m.unit * math.Exp(best.at[1]),
		LogLik: best.value - float64(m.ends)*math.Log(m.unit), Blades: m.all, Ended: m.ends,
	}
	if w.Shape < minShape || w.Shape > maxShape || !(w.Scale > 0) || math.IsInf(w.Scale, 1) {
		return Weights{}, fmt.Errorf("material weights: no sound maximum at shape %.3g, scale %.3g: %w", w.Shape, w.Scale, ErrNoFit)
	}
	for slot, class := range m.free {
		c, prior := &w.Classes[class], m.priors[class]
		c.LogWeight, c.SE = best.at[2+slot], math.Sqrt(best.covariance.At(2+slot, 2+slot))
		off := (c.LogWeight - prior.Mean) / prior.SD
		w.LogLik += off * off / 2
	}
	for i := range w.Classes {
		if c := &w.Classes[i]; c.Why != nil {
			c.LogWeight, c.SE = math.NaN(), math.NaN()
		}
	}
	w.Kinds = make([]float64, len(m.kinds))
	for kind, at := range m.kinds {
		switch {
		case at < 0:
			w.Kinds[kind] = math.NaN()
		case at > 0:
			w.Kinds[kind] = best.at[m.tail()+at]
		}
	}
	for i := range best.at {
		row := make([]float64, len(best.at))
		for j := range row {
			row[j] = best.covariance.At(i, j)
		}
		w.Covariance = append(w.Covariance, row)
	}
	return w, nil
}
