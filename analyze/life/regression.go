package life

import (
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"
)

// Row is a blade with what is known of its conditions, one number a column: a
// band speed, a feed, 1 for the second blade type and 0 for every other.
type Row struct {
	Observation
	X []float64
}

// Regression is a fitted Weibull accelerated-life model,
//
//	ln area = β₀ + β₁x₁ + β₂x₂ … + σ·W,
//
// W with the smallest extreme value distribution, P(W > w) = exp(-e^w). A blade
// with conditions x has a Weibull life of shape 1/σ and scale exp(x'β): a step
// of 1 in x₁ multiplies every quantile of life by exp(β₁).
type Regression struct {
	Beta  []float64 // the intercept first, then one for each column
	Sigma float64

	// Covariance of (β…, ln σ), the inverse of the observed information at the
	// maximum.
	Covariance [][]float64

	LogLik        float64 // of the density of the area itself, so its unit matters
	Blades, Ended int     // rows it was fitted to, and those that ended
}

// FitRegression fits the Weibull accelerated-life model by maximum likelihood
// with right censoring and delayed entry, each blade as in FitWeibull. The
// intercept is added here.
//
// It fails with ErrTooFewEnds if none has ended; with ErrNoFit where the
// likelihood has no maximum (a column that is 1 only for blades that did not
// end, ends that lie on the line to the last digit); and on a column, counted
// from 1, that is constant or follows from the columns before it.
//
// Source: Lawless, Statistical Models and Methods for Lifetime Data, chapter 6;
// Meeker and Escobar 1998, chapter 17 [both from memory].
func FitRegression(rows []Row) (Regression, error) {
	obs := make([]Observation, len(rows))
	for i, r := range rows {
		obs[i] = r.Observation
	}
	ended, err := check(obs)
	if err != nil {
		return Regression{}, fmt.Errorf("regression: %w", err)
	}
	if ended == 0 {
		return Regression{}, fmt.Errorf("regression: none of %d blades has ended: %w", len(obs), ErrTooFewEnds)
	}
	d, err := newDesign(rows)
	if err != nil {
		return Regression{}, fmt.Errorf("regression: %w", err)
	}
	fit, err := newLine(extreme, obs, d.x, nil).fit()
	if err != nil {
		return Regression{}, fmt.Errorf("regression: %w", err)
	}
	beta, covariance := d.back(fit.beta, fit.covariance)
	return Regression{
		Beta: beta, Sigma: fit.sigma, Covariance: covariance,
		LogLik: fit.logLik, Blades: len(rows), Ended: ended,
	}, nil
}

// design is the columns, each less its mean and over its standard deviation so
// that none is large or far from 0, after a column of ones.
type design struct {
	x           [][]float64
	mean, scale []float64 // by column, without that of ones
}

// newDesign centres and scales the columns. Rows watched over nothing count as
// little as they do in the likelihood: not at all.
func newDesign(rows []Row) (design, error) {
	p := len(rows[0].X)
	d := design{x: make([][]float64, len(rows)), mean: make([]float64, p), scale: make([]float64, p)}
	seen := 0.0
	for i, r := range rows {
		if len(r.X) != p {
			return design{}, fmt.Errorf("row %d has %d columns, row 1 has %d", i+1, len(r.X), p)
		}
		for j, v := range r.X {
			if math.IsNaN(v) || math.IsInf(v, 0) {
				return design{}, fmt.Errorf("row %d, column %d: %v: want a number", i+1, j+1, v)
			}
		}
		d.x[i] = append(make([]float64, 0, p+1), 1)
		d.x[i] = append(d.x[i], r.X...)
		if r.Area > r.Start {
			seen++
		}
	}
	for j := range p {
		d.standardise(rows, j, seen)
	}
	return d, d.independent(rows)
}

// standardise puts mean and scale of one column in place. It divides by the
// greatest value first: squares may overflow.
func (d design) standardise(rows []Row, j int, seen float64) {
	var greatest, sum, squares float64
	for _, r := range rows {
		greatest = max(greatest, math.Abs(r.X[j]))
	}
	greatest = max(greatest, math.SmallestNonzeroFloat64)
	each := func(f func(v float64)) {
		for _, r := range rows {
			if r.Area > r.Start {
				f(r.X[j] / greatest)
			}
		}
	}
	each(func(v float64) { sum += v })
	each(func(v float64) { squares += (v - sum/seen) * (v - sum/seen) })
	d.mean[j] = greatest * (sum / seen)
	d.scale[j] = greatest * math.Sqrt(squares/seen)
	if spread := math.Sqrt(squares / seen); !(spread > 1e-12) {
		d.scale[j] = 0
		return
	}
	for i := range d.x {
		d.x[i][j+1] = (d.x[i][j+1] - d.mean[j]) / d.scale[j]
	}
}

// independent looks for a column that says nothing of its own. The columns
// before it are made orthogonal (Gram-Schmidt), and what is left of it counts
// as nothing below a ten-millionth of its length.
func (d design) independent(rows []Row) error {
	const nothing = 1e-7
	var basis []*mat.VecDense
	for j, scale := range d.scale {
		if scale == 0 {
			return fmt.Errorf("column %d is the same for every blade: leave it out", j+1)
		}
		v := mat.NewVecDense(len(d.x), nil)
		for i := range d.x {
			if rows[i].Area > rows[i].Start {
				v.SetVec(i, d.x[i][j+1])
			}
		}
		length := mat.Norm(v, 2)
		for range 2 { // twice is enough against rounding
			for _, b := range basis {
				v.AddScaledVec(v, -mat.Dot(b, v), b)
			}
		}
		left := mat.Norm(v, 2)
		if !(left > nothing*length) {
			return fmt.Errorf("column %d follows from the columns before it: leave it out", j+1)
		}
		v.ScaleVec(1/left, v)
		basis = append(basis, v)
	}
	return nil
}

// back returns coefficients and covariance for the columns as they were given.
func (d design) back(scaled []float64, covariance *mat.SymDense) (beta []float64, cov [][]float64) {
	p := len(scaled)
	to := mat.NewDense(p+1, p+1, nil)
	to.Set(0, 0, 1)
	to.Set(p, p, 1)
	for j := 1; j < p; j++ {
		to.Set(j, j, 1/d.scale[j-1])
		to.Set(0, j, -d.mean[j-1]/d.scale[j-1])
	}
	var b mat.VecDense
	b.MulVec(to.Slice(0, p, 0, p), mat.NewVecDense(p, scaled))
	return b.RawVector().Data, between(to, covariance)
}

// between is to·covariance·to'.
func between(to *mat.Dense, covariance mat.Symmetric) [][]float64 {
	var half, full mat.Dense
	half.Mul(to, covariance)
	full.Mul(&half, to.T())
	n, _ := full.Dims()
	rows := make([][]float64, n)
	for i := range rows {
		rows[i] = make([]float64, n)
		for j := range rows[i] {
			rows[i][j] = (full.At(i, j) + full.At(j, i)) / 2
		}
	}
	return rows
}

// standard is a distribution on the whole line at location 0 and scale 1: the
// logarithms of its density and survival with their first two derivatives.
type standard struct {
	logDensity, logSurvival func(z float64) (l, dl, ddl float64)
}

// extreme is the smallest extreme value distribution, that of ln area for a
// Weibull life: ln f = z - e^z, ln S = -e^z.
var extreme = standard{
	logDensity: func(z float64) (l, dl, ddl float64) {
		e := math.Exp(z)
		return z - e, 1 - e, -e
	},
	logSurvival: func(z float64) (l, dl, ddl float64) {
		e := math.Exp(z)
		return -e, -e, -e
	},
}

// line is the model ln area = x'β + σ·(standard) with its data. Within it,
// ln area is less a centre and over a spread, and the parameters are
// γ = β/σ and δ = 1/σ: z = δy - x'γ is linear in them, so without delayed entry
// the log likelihood
//
//	Σ_ended (ln f(z) + ln δ) + Σ_others ln S(z) - Σ ln S(z₀)
//
// is concave (Burridge 1981, JRSS B 43:41 [from memory]) and a climb from
// anywhere ends at the maximum.
type line struct {
	standard
	logArea, logStart []float64 // in the line's own unit; no delayed entry: -Inf
	ended             []bool
	x                 [][]float64
	penalty           []float64 // 1/θ in Σβ²/2θ taken off the log likelihood, by coefficient; nil: none

	unit, centre, spread float64 // ln area = ln unit + centre + spread·logArea
	ends, sumEnds        float64 // their number, Σ ln area of them
	furthest             float64 // greatest |logArea|
}

// newLine sets up the model. Observations watched over nothing are left out. x
// holds one row an observation, in which a first column of ones is the
// intercept.
func newLine(s standard, obs []Observation, x [][]float64, penalty []float64) *line {
	l := &line{standard: s, penalty: penalty}
	for _, o := range obs {
		l.unit = max(l.unit, o.Area)
	}
	for i, o := range obs {
		if o.Area == o.Start {
			continue
		}
		l.logArea = append(l.logArea, math.Log(o.Area/l.unit))
		l.logStart = append(l.logStart, math.Log(o.Start/l.unit))
		l.ended = append(l.ended, o.Ended)
		l.x = append(l.x, x[i])
		if o.Ended {
			l.ends++
			l.sumEnds += math.Log(o.Area)
		}
	}
	l.centreAndScale()
	return l
}

// centreAndScale takes the ends' mean and standard deviation for the centre and
// the spread, that of all blades where the ends are at one area.
func (l *line) centreAndScale() {
	moments := func(all bool) (mean, deviation float64) {
		n := 0.0
		for i, y := range l.logArea {
			if all || l.ended[i] {
				n++
				d := y - mean
				mean += d / n
				deviation += d * (y - mean)
			}
		}
		return mean, math.Sqrt(deviation / n)
	}
	l.centre, l.spread = moments(false)
	for _, all := range []bool{false, true} {
		if _, l.spread = moments(all); l.spread > 1e-12 {
			break
		}
		l.spread = 1
	}
	for i := range l.logArea {
		l.logArea[i] = (l.logArea[i] - l.centre) / l.spread
		l.logStart[i] = (l.logStart[i] - l.centre) / l.spread
		l.furthest = max(l.furthest, math.Abs(l.logArea[i]))
	}
}

// at is the logLikelihood of the parameters (γ…, δ) in the line's own unit.
func (l *line) at(p, gradient []float64, hessian *mat.SymDense) (value float64) {
	n := len(p) - 1
	gamma, delta := p[:n], p[n]
	if delta <= 0 {
		return math.Inf(-1)
	}
	h := hessian.RawSymmetric()
	for i, x := range l.x {
		var shift float64
		for j, v := range x {
			shift += v * gamma[j]
		}
		contribution := l.logSurvival
		if l.ended[i] {
			contribution = l.logDensity
		}
		v, dv, ddv := contribution(delta*l.logArea[i] - shift)
		value += v
		spreadOut(x, l.logArea[i], dv, ddv, gradient, h.Data, h.Stride)
		if !math.IsInf(l.logStart[i], -1) {
			v, dv, ddv = l.logSurvival(delta*l.logStart[i] - shift)
			value -= v
			spreadOut(x, l.logStart[i], -dv, -ddv, gradient, h.Data, h.Stride)
		}
	}
	value += l.ends * math.Log(delta)
	gradient[n] += l.ends / delta
	h.Data[n*h.Stride+n] -= l.ends / (delta * delta)
	return value - l.penalise(gamma, delta, gradient, h.Data, h.Stride)
}

// spreadOut adds the derivatives dv, ddv by z = δy - x'γ of one contribution to
// the gradient and the upper triangle of the Hessian.
func spreadOut(x []float64, y, dv, ddv float64, gradient, hessian []float64, stride int) {
	n := len(x)
	for j, v := range x {
		if v == 0 {
			continue
		}
		gradient[j] -= dv * v
		row := hessian[j*stride:]
		for k := j; k < n; k++ {
			row[k] += ddv * v * x[k]
		}
		row[n] -= ddv * v * y
	}
	gradient[n] += dv * y
	hessian[n*stride+n] += ddv * y * y
}

// penalise returns Σ τβ²/2 with β = γ/δ and takes its derivatives off.
func (l *line) penalise(gamma []float64, delta float64, gradient, hessian []float64, stride int) (value float64) {
	n := len(gamma)
	for j, tau := range l.penalty {
		tau *= l.spread * l.spread
		beta := gamma[j] / delta
		value += tau * beta * beta / 2
		gradient[j] -= tau * beta / delta
		gradient[n] += tau * beta * beta / delta
		hessian[j*stride+j] -= tau / (delta * delta)
		hessian[j*stride+n] += 2 * tau * beta / (delta * delta)
		hessian[n*stride+n] -= 3 * tau * beta * beta / (delta * delta)
	}
	return value
}

// lineFit is a fitted line.
type lineFit struct {
	beta       []float64
	sigma      float64
	covariance *mat.SymDense // of (β…, ln σ)
	logLik     float64       // of the density of area, the penalty not in it
	penalised  float64       // with the penalty taken off
}

// fit climbs to the maximum and goes back to β, σ and the unit of the data.
func (l *line) fit() (lineFit, error) {
	n := len(l.x[0])
	start := make([]float64, n+1)
	start[n] = min(1, 10/l.furthest) // no e^z overflows
	m, err := maximise(l.at, start)
	if shape := m.at[n] / l.spread; shape > maxShape || err == nil && shape < minShape {
		return lineFit{}, fmt.Errorf("no sound maximum at sigma %.3g: %w", 1/shape, ErrNoFit)
	}
	if err != nil {
		return lineFit{}, explain(err, m.covariance)
	}
	return l.back(m), nil
}

// explain names what has no limit. A column that is without one takes the
// intercept along; its own variance is the greatest then.
func explain(err error, covariance *mat.SymDense) error {
	var none noMaximum
	if !errors.As(err, &none) || none.parameter < 0 {
		return err
	}
	n, column, most := covariance.SymmetricDim()-1, none.parameter, 0.0
	for j := 1; j < n && none.parameter == 0; j++ {
		if v := covariance.At(j, j); v > most {
			column, most = j, v
		}
	}
	switch column {
	case 0:
		return err
	case n:
		return fmt.Errorf("the ends lie too close together to tell sigma: %w", ErrNoFit)
	}
	return fmt.Errorf("the ends do not tell the coefficient of column %d: %w", column, ErrNoFit)
}

// back turns (γ…, δ) into (β…, ln σ) by β = spread·γ/δ, σ = spread/δ.
func (l *line) back(m maximum) lineFit {
	n := len(m.at) - 1
	delta := m.at[n]
	to := mat.NewDense(n+1, n+1, nil)
	fit := lineFit{beta: make([]float64, n), sigma: l.spread / delta, covariance: mat.NewSymDense(n+1, nil)}
	for j := range n {
		fit.beta[j] = l.spread * m.at[j] / delta
		to.Set(j, j, l.spread/delta)
		to.Set(j, n, -fit.beta[j]/delta)
	}
	to.Set(n, n, -1/delta)
	for i, row := range between(to, m.covariance) {
		for j := range i + 1 {
			fit.covariance.SetSym(i, j, row[j])
		}
	}
	for j, tau := range l.penalty {
		fit.logLik += tau * fit.beta[j] * fit.beta[j] / 2
	}
	fit.penalised = m.value - l.ends*math.Log(l.spread) - l.sumEnds
	fit.logLik += fit.penalised
	fit.beta[0] += math.Log(l.unit) + l.centre
	return fit
}
