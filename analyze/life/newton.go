package life

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"
)

// logLikelihood returns the value at x and fills in the gradient and the
// Hessian, which come zeroed. A value that is not finite says that x is outside
// the domain; the derivatives do not matter then.
type logLikelihood func(x, gradient []float64, hessian *mat.SymDense) float64

// maximum is where a log likelihood is greatest and what it says around there.
type maximum struct {
	at         []float64
	value      float64
	covariance *mat.SymDense // inverse of the negative Hessian
}

// noMaximum is the error of maximise; it wraps ErrNoFit.
type noMaximum struct {
	parameter int // the one to blame, -1: none in particular
	reason    string
}

func (e noMaximum) Error() string { return e.reason + ": " + ErrNoFit.Error() }
func (e noMaximum) Unwrap() error { return ErrNoFit }

const (
	newtonSteps = 200
	// convergedAt bounds the squared Newton step in standard errors, g'(-H)⁻¹g,
	// before the last step: that one leaves about its square.
	convergedAt = 1e-12
	// flatBelow is the share of its greatest curvature below which a parameter
	// is on its way to infinity along a likelihood that no longer changes.
	flatBelow = 1e-9
	// confusedAbove is the variance of a parameter over its variance were the
	// others known, beyond which the data cannot tell it from the others.
	confusedAbove = 1e10
)

// maximise climbs from start to a maximum of f by Newton's method: a ridge on
// the negative Hessian where that is not positive definite makes each step one
// upwards, and halving it makes sure that it is not too long. The covariance is
// the inverse of the observed information.
//
// Without a sound maximum it fails with noMaximum, and at is the last place.
//
// Source: Nocedal and Wright, Numerical Optimization, sections 3.3 and 3.4
// [from memory].
func maximise(f logLikelihood, start []float64) (maximum, error) {
	n := newNewton(f, start)
	if !n.sound() {
		return n.maximum(), noMaximum{-1, "no likelihood at the starting values"}
	}
	for range newtonSteps {
		ridge := n.factorise()
		decrement := n.direction()
		if p := n.flattest(); p >= 0 {
			return n.maximum(), noMaximum{p, fmt.Sprintf("the likelihood no longer changes with parameter %d at %.3g", p+1, n.x[p])}
		}
		last := ridge == 0 && decrement <= convergedAt
		if moved := n.climb(decrement); last || !moved && ridge == 0 && decrement <= 1e-6 {
			return n.finish()
		} else if !moved {
			return n.maximum(), noMaximum{-1, "the search came to a stop short of a maximum"}
		}
	}
	return n.maximum(), noMaximum{-1, "the likelihood keeps rising"}
}

// newton is the state of the search: the place x, f there, and room to work.
type newton struct {
	f        logLikelihood
	x, next  []float64
	gradient []float64
	hessian  *mat.SymDense
	value    float64

	information *mat.SymDense // negative Hessian plus ridge
	factor      mat.Cholesky
	step        *mat.VecDense
	most        []float64 // greatest curvature seen by parameter
}

func newNewton(f logLikelihood, start []float64) *newton {
	p := len(start)
	n := &newton{
		f: f, x: append([]float64(nil), start...), next: make([]float64, p),
		gradient: make([]float64, p), hessian: mat.NewSymDense(p, nil),
		information: mat.NewSymDense(p, nil), step: mat.NewVecDense(p, nil), most: make([]float64, p),
	}
	n.value = n.look(n.x)
	return n
}

// look evaluates f at x.
func (n *newton) look(x []float64) float64 {
	clear(n.gradient)
	n.hessian.Zero()
	return n.f(x, n.gradient, n.hessian)
}

// sound says whether value and derivatives are finite.
func (n *newton) sound() bool {
	sum := n.value - n.value
	for i, g := range n.gradient {
		sum += g - g
		for j := range i + 1 {
			h := n.hessian.At(i, j)
			sum += h - h
		}
	}
	return sum == 0
}

// factorise factorises the negative Hessian, where that is not positive
// definite with a ridge twice as high as makes it so, and returns the ridge. It
// is in shares of each parameter's own curvature, of its slope where there is
// none.
func (n *newton) factorise() (ridge float64) {
	for i := range n.x {
		n.most[i] = max(n.most[i], -n.hessian.At(i, i))
	}
	if n.factoriseWith(0) {
		return 0
	}
	for ridge = 1e-3; !n.factoriseWith(ridge) && ridge < 1e300; {
		ridge *= 10
	}
	n.factoriseWith(2 * ridge) // once is at times barely enough: an endless step
	return 2 * ridge
}

func (n *newton) factoriseWith(ridge float64) bool {
	n.information.ScaleSym(-1, n.hessian)
	for i := range n.x {
		d := n.information.At(i, i)
		n.information.SetSym(i, i, d+ridge*max(math.Abs(d), 1e-3*math.Abs(n.gradient[i]), 1e-12))
	}
	return n.factor.Factorize(n.information)
}

// direction sets step to information⁻¹·gradient and returns their product with
// the gradient, twice the rise to be expected.
func (n *newton) direction() float64 {
	g := mat.NewVecDense(len(n.gradient), n.gradient)
	if n.factor.SolveVecTo(n.step, g) != nil {
		n.step.CopyVec(g) // ill-conditioned: uphill is all that is asked
	}
	return mat.Dot(n.step, g)
}

// flattest returns the parameter whose curvature has vanished furthest, or -1.
func (n *newton) flattest() int {
	at, least := -1, flatBelow
	for i, most := range n.most {
		if share := math.Abs(n.hessian.At(i, i)) / most; most > 0 && share < least {
			at, least = i, share
		}
	}
	return at
}

// climb takes the step, or the longest of its halves that rises enough. At a
// maximum rounding hides the rise, so a loss within it counts as none.
func (n *newton) climb(decrement float64) (moved bool) {
	before := n.value
	rounding := 1e-13 * (1 + math.Abs(before))
	for share := 1.0; share > 1e-12; share /= 2 {
		for i := range n.x {
			n.next[i] = n.x[i] + share*n.step.AtVec(i)
		}
		n.value = n.look(n.next)
		if n.sound() && n.value >= before+1e-4*share*decrement-rounding {
			n.x, n.next = n.next, n.x
			return true
		}
	}
	n.value = n.look(n.x)
	return false
}

// finish inverts the information at the maximum, if it is one.
func (n *newton) finish() (maximum, error) {
	m := n.maximum()
	if n.factorise() != 0 || n.factor.InverseTo(m.covariance) != nil {
		return m, noMaximum{-1, "the likelihood has no limit in some direction"}
	}
	at, most := -1, confusedAbove
	for i := range n.x {
		if c := m.covariance.At(i, i) * -n.hessian.At(i, i); !(c <= most) {
			at, most = i, c
		}
	}
	if at >= 0 {
		return m, noMaximum{at, fmt.Sprintf("the data cannot tell parameter %d from the others", at+1)}
	}
	return m, nil
}

func (n *newton) maximum() maximum {
	return maximum{at: n.x, value: n.value, covariance: mat.NewSymDense(len(n.x), nil)}
}
