package plan

import (
	"math"

	"gonum.org/v1/gonum/dsp/fourier"
)

// sums are the lives of later blades that end before their change, added up: the
// chance that so many have ended, by cell.
type sums struct {
	step   float64
	change int
	fft    *fourier.FFT
	heal   []float64      // what undoes the damping, and scales the transform back
	mass   []complex128   // of one life, damped and transformed
	of     [][]complex128 // of 1, 2, … lives, likewise
}

// newSums begins with one life.
func (l *ladder) newSums() (*sums, error) {
	n := l.cells() + 1
	left := l.later.take(n)
	one := make([]float64, n)
	for i, v := range left {
		if !(v >= 0 && v <= 1+1e-9) || i > 0 && v > left[i-1]+1e-6 {
			return nil, errUnsound
		}
		if l.reach < 1 {
			one[i] = math.Min(1, math.Max(0, 1-v)/(1-l.reach))
		}
	}
	return addUp(one, l), nil
}

// addUp makes ready to add lives up. Convolutions wrap around at the end of the
// transform, twice the grid; lives damped by exp(-11.5) over the grid come around
// with 1e-10 of their weight.
func addUp(one []float64, l *ladder) *sums {
	size := 2
	for size < 2*len(one) {
		size *= 2
	}
	s := &sums{step: l.step, change: l.change, fft: fourier.NewFFT(size)}
	life := make([]float64, size)
	mass := make([]float64, size) // of each cell, half at its beginning and half at its end
	for i := 1; i < len(one); i++ {
		half := (one[i] - one[i-1]) / 2
		mass[i-1] += half
		mass[i] += half
	}
	for i, v := range one {
		damped := math.Exp(-11.5 * float64(i) / float64(len(one)))
		life[i] = v * damped
		mass[i] *= damped
		s.heal = append(s.heal, 1/damped/float64(size))
	}
	s.of, s.mass = [][]complex128{s.fft.Coefficients(nil, life)}, s.fft.Coefficients(nil, mass)
	return s
}

// lives is the chance that m lives have ended, by cell, damped and transformed.
func (s *sums) lives(m int) []complex128 {
	for len(s.of) < m {
		last := s.of[len(s.of)-1]
		next := make([]complex128, len(last))
		for i, v := range s.mass {
			next[i] = last[i] * v
		}
		s.of = append(s.of, next)
	}
	return s.of[m-1]
}

// arrival is a lead and the lives that follow it.
type arrival struct {
	*sums
	of      lead
	ended   []float64      // the chance that the lead has, from its area back to 0
	weights [][]complex128 // by changes before its area; nil: not asked for yet
}

// ending is the chance that the lead and then m lives have ended j changes before its
// area. The mean over when the lead ends is taken of the transforms (Parseval): back to
// cells would take most of the time there is.
func (a *arrival) ending(m, j int) (sum float64) {
	start := j * a.change
	switch {
	case start >= len(a.ended):
		return 0
	case m == 0:
		return a.ended[start]
	}
	for len(a.weights) <= j {
		a.weights = append(a.weights, nil)
	}
	if a.weights[j] == nil {
		a.weights[j] = a.transform(a.ended[start:], a.of.area-float64(start)*a.step)
	}
	lives := a.lives(m)
	for k, w := range a.weights[j] {
		sum += real(w)*real(lives[k]) + imag(w)*imag(lives[k])
	}
	return sum
}

// transform is what the lives to follow count by, for each cell to an area in which they
// may end: the lead's chance to end within each cell goes to the mean chance that they
// end after it, a straight line within the cell.
func (a *arrival) transform(ended []float64, to float64) []complex128 {
	from := to - a.of.change
	weights := make([]float64, a.fft.Len())
	for i, v := range ended {
		mass := v
		if i+1 < len(ended) {
			mass -= ended[i+1]
		}
		middle := 0.5
		low, high := float64(i)*a.step, float64(i+1)*a.step
		if low < from && from < high || to < high {
			middle = ((math.Max(low, from)+math.Min(high, to))/2 - low) / a.step
		}
		weights[i] += mass * (1 - middle) * a.heal[i]
		weights[i+1] += mass * middle * a.heal[i+1]
	}
	all := a.fft.Coefficients(nil, weights)
	for k := 1; k < len(all)-1; k++ {
		all[k] *= 2 // of a real sequence: these stand for their mirror images, too
	}
	return all
}
