package plan

import (
	"math"

	"gonum.org/v1/gonum/dsp/fourier"
)

// sums are the lives of so many later blades added up, by cell, as transforms. With a the
// transform of one that comes to its change, b that of the mass of one that ends before
// and e that of the chance that it has ended, the chances that k of them are over by then
// are, but for those that are steps because all come to their change,
//
//	some:   Σ C(k, j)·a^j·b^(k-j-1)·e over j < k,       at least one ends before its change;
//	others: Σ C(k, j)·a^j·b^(k-j-2)·e over j < k-1,     at least two do, and one is left out;
//
// by the binomial theorem some is (a+b)·some + a^k·e for a life more, and others is
// (a+b)·others + k·a^(k-1)·e.
type sums struct {
	step         float64
	fft          *fourier.FFT
	heal         []float64    // what undoes the damping, and scales the transform back
	change, life []complex128 // a and a+b
	k            int
	some, others []complex128
	all, last    []complex128 // a^k·e and a^(k-1)·e
}

// newSums begins with no life.
func (l *ladder) newSums() (*sums, error) {
	n := l.cells() + 1
	left := l.later.take(n)
	one := make([]float64, n)
	for i, v := range left {
		if !(v >= 0 && v <= 1+1e-9) || i > 0 && v > left[i-1]+1e-6 {
			return nil, errUnsound
		}
		one[i] = math.Max(0, 1-math.Max(v, l.reach))
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
	s := &sums{step: l.step, fft: fourier.NewFFT(size)}
	ended, mass, change := make([]float64, size), make([]float64, size), make([]float64, size)
	for i := 1; i < len(one); i++ {
		half := (one[i] - one[i-1]) / 2 // of the mass of a cell, at its beginning and at its end
		mass[i-1] += half
		mass[i] += half
	}
	if l.change > 0 {
		change[l.change] = l.reach
		mass[l.change] += l.reach
	}
	for i, v := range one {
		damped := math.Exp(-11.5 * float64(i) / float64(len(one)))
		ended[i] = v * damped
		mass[i] *= damped
		change[i] *= damped
		s.heal = append(s.heal, 1/damped/float64(size))
	}
	s.change, s.life, s.all = s.fft.Coefficients(nil, change), s.fft.Coefficients(nil, mass), s.fft.Coefficients(nil, ended)
	s.last, s.some, s.others = make([]complex128, len(s.all)), make([]complex128, len(s.all)), make([]complex128, len(s.all))
	return s
}

// add adds one life.
func (s *sums) add() {
	times := complex(float64(s.k), 0)
	for i, life := range s.life {
		s.others[i] = life*s.others[i] + times*s.last[i]
		s.some[i] = life*s.some[i] + s.all[i]
		s.last[i], s.all[i] = s.all[i], s.change[i]*s.all[i]
	}
	s.k++
}

// arrival is a lead that lives follow.
type arrival struct {
	ended   []float64    // the chance that it has ended, from its area back to 0
	weights []complex128 // what the chances of the lives count by
}

// at is the chance that the lead has ended so many cells before its area.
func (a *arrival) at(cell int) float64 {
	if cell >= len(a.ended) {
		return 0
	}
	return a.ended[cell]
}

// before is the chance that the lead and then lives have ended before its area. The mean
// over when the lead ends is taken of the transforms (Parseval): back to cells would take
// most of the time there is.
func (a *arrival) before(lives []complex128) (sum float64) {
	for k, w := range a.weights {
		sum += real(w)*real(lives[k]) + imag(w)*imag(lives[k])
	}
	return sum
}

// transform is what the lives to follow a lead count by: the lead's chance to end within
// each cell goes to the mean chance that they end after it, a straight line within the
// cell.
func (s *sums) transform(of *lead, ended []float64) []complex128 {
	from := of.area - of.change
	weights := make([]float64, s.fft.Len())
	for i, v := range ended {
		mass := v
		if i+1 < len(ended) {
			mass -= ended[i+1]
		}
		middle := 0.5
		low, high := float64(i)*s.step, float64(i+1)*s.step
		if low < from && from < high || of.area < high {
			middle = ((math.Max(low, from)+math.Min(high, of.area))/2 - low) / s.step
		}
		weights[i] += mass * (1 - middle) * s.heal[i]
		weights[i+1] += mass * middle * s.heal[i+1]
	}
	all := s.fft.Coefficients(nil, weights)
	for k := 1; k < len(all)-1; k++ {
		all[k] *= 2 // of a real sequence: these stand for their mirror images, too
	}
	return all
}
