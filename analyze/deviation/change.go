package deviation

import (
	"fmt"
	"math"
	"math/rand/v2"
)

// Break is where the level of a series changes at once, by least squares.
type Break struct {
	Last int     // index, from 0, of the last value before it
	Size float64 // level after it less the level before
	RSS  float64 // sum of squares left with the break
	// P is the chance of a break that takes off as much in a series that has none;
	// NaN where it was not asked for.
	P float64
}

// minSegment is the least share of a series on either side of a break: fewer
// values fit any line.
const minSegment = 0.1

// MinBreak is the fewest values a break is looked for in.
const MinBreak = 20

// LevelBreak finds the one sudden change of level, beside a straight line
// against the clock, that leaves the least squares: wear is a line and no
// change. The line is fitted together with each change tried; a clock that
// stands still has none.
//
// With shuffles above 0, P is from so many random orders of what the line alone
// leaves, drawn from random: (1 + those with a break that takes off as
// much)/(1 + shuffles). Without a line it is exact for values that come in any
// order alike while there is no break; with one, nearly so.
//
// It fails on fewer than MinBreak values, on a clock of another length and on a
// number that is not finite.
//
// Source: Bai and Perron 1998, Econometrica 66:47 [from memory]; shuffled
// residuals, Freedman and Lane 1983, J. Bus. Econ. Stat. 1:292 [from memory].
func LevelBreak(clock, values []float64, shuffles int, random *rand.Rand) (Break, error) {
	if err := checkBreak(clock, values); err != nil {
		return Break{}, err
	}
	line := newLine(clock)
	left := line.left(clock, values)
	steps := newSteps(line, clock)
	b, gain := steps.best(left)
	b.RSS = dot(left, left) - gain
	b.P = math.NaN()
	if shuffles > 0 {
		as, again := 0, make([]float64, len(left))
		for range shuffles {
			random.Shuffle(len(left), func(i, j int) { left[i], left[j] = left[j], left[i] })
			line.leave(again, clock, left)
			if _, g := steps.best(again); g >= gain {
				as++
			}
		}
		b.P = float64(1+as) / float64(1+shuffles)
	}
	return b, nil
}

func checkBreak(clock, values []float64) error {
	if len(values) < MinBreak {
		return fmt.Errorf("change: %d values: at least %d are needed", len(values), MinBreak)
	}
	if len(clock) != len(values) {
		return fmt.Errorf("change: %d values at %d moments", len(values), len(clock))
	}
	for i, v := range values {
		if off := v + clock[i]; math.IsNaN(off) || math.IsInf(off, 0) {
			return fmt.Errorf("change: value %d is %v at %v: want numbers", i+1, v, clock[i])
		}
	}
	return nil
}

// wearLine is what fits a straight line against one clock.
type wearLine struct{ n, middle, spread float64 }

func newLine(clock []float64) wearLine {
	l := wearLine{n: float64(len(clock)), middle: mean(clock)}
	for _, x := range clock {
		l.spread += (x - l.middle) * (x - l.middle)
	}
	if size := l.middle * l.middle * l.n; l.spread <= 1e-20*size {
		l.spread = 0
	}
	return l
}

// left is what a line leaves of the values.
func (l wearLine) left(clock, values []float64) []float64 {
	out := make([]float64, len(values))
	l.leave(out, clock, values)
	return out
}

// leave puts what a line leaves of the values into out.
func (l wearLine) leave(out, clock, values []float64) {
	level, slope := mean(values), 0.0
	if l.spread > 0 {
		for i, x := range clock {
			slope += (x - l.middle) * (values[i] - level)
		}
		slope /= l.spread
	}
	for i, x := range clock {
		out[i] = values[i] - level - slope*(x-l.middle)
	}
}

// steps holds, for each place of a break, what is left of a step of 1 beside
// the line, as a sum of squares; 0 where no break is looked for.
type steps []float64

func newSteps(l wearLine, clock []float64) steps {
	s := make(steps, len(clock))
	least := int(math.Floor(minSegment * l.n))
	after, turned := 0.0, 0.0
	for i := len(clock) - 1; i > 0; i-- {
		after++
		turned += clock[i] - l.middle
		if i < least || len(clock)-i < least {
			continue
		}
		squares := after - after*after/l.n
		if l.spread > 0 {
			squares -= turned * turned / l.spread
		}
		if squares > 1e-9*l.n {
			s[i-1] = squares
		}
	}
	return s
}

// best is the break that takes off most, and how much: with r what the line
// leaves, (Σ r after it)² over the squares left of the step.
func (s steps) best(left []float64) (b Break, gain float64) {
	gain = -1
	after := 0.0
	for i := len(left) - 1; i > 0; i-- {
		after += left[i]
		if squares := s[i-1]; squares > 0 {
			if g := after * after / squares; g > gain {
				b, gain = Break{Last: i - 1, Size: after / squares}, g
			}
		}
	}
	return b, gain
}

// sums are what least squares need of some values y at places x.
type sums struct{ n, x, xx, y, xy float64 }

func (s *sums) add(x, y float64) {
	s.n++
	s.x += x
	s.xx += x * x
	s.y += y
	s.xy += x * y
}

func mean(x []float64) float64 {
	sum := 0.0
	for _, v := range x {
		sum += v
	}
	return sum / float64(len(x))
}

func dot(a, b []float64) (sum float64) {
	for i, v := range a {
		sum += v * b[i]
	}
	return sum
}
