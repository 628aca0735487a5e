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
	heal   []float64    // what undoes the damping, and scales the transform back
	mass   []complex128 // of one life, damped and transformed
	power  []complex128 // of the last of the lives
	of     [][]float64  // of 1, 2, … lives
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
	s := &sums{step: l.step, change: l.change, fft: fourier.NewFFT(size), of: [][]float64{one}}
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
	s.power, s.mass = s.fft.Coefficients(nil, life), s.fft.Coefficients(nil, mass)
	return s
}

// lives is the chance that m lives have ended, by cell.
func (s *sums) lives(m int) []float64 {
	n := len(s.of[0])
	for len(s.of) < m {
		for i, v := range s.mass {
			s.power[i] *= v
		}
		next := s.fft.Sequence(nil, s.power)[:n]
		for i, v := range next {
			next[i] = min(1, max(0, v*s.heal[i]))
		}
		s.of = append(s.of, next)
	}
	return s.of[m-1]
}

// ending is the chance that a lead and then m lives have ended j changes before its
// area: the lead's chance to end within each cell times the mean chance that the
// lives end after it, a straight line within the cell.
func (s *sums) ending(of lead, ended []float64, m, j int) float64 {
	start := j * s.change
	if start >= len(ended) {
		return 0
	}
	ended = ended[start:]
	if m == 0 {
		return ended[0]
	}
	lives := s.lives(m)
	to := of.area - float64(start)*s.step
	from := to - of.change
	sum := 0.0
	for i, v := range ended {
		mass := v
		if i+1 < len(ended) {
			mass -= ended[i+1]
		}
		middle := 0.5
		low, high := float64(i)*s.step, float64(i+1)*s.step
		if low < from && from < high || to < high {
			middle = ((math.Max(low, from)+math.Min(high, to))/2 - low) / s.step
		}
		sum += mass * (lives[i] + middle*(lives[i+1]-lives[i]))
	}
	return sum
}
