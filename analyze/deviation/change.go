package deviation

import (
	"fmt"
	"math"
	"math/rand/v2"
)

// Break is where a series changes, by least squares.
type Break struct {
	Last int     // index, from 0, of the last value before it
	Size float64 // level after it less the level before; of a break of the line, at the break itself
	RSS  float64 // sum of squares left with the break
	// P is the chance of a break that takes off so much in a series that has none,
	// by shuffling the series; NaN where it was not asked for.
	P float64
}

// minSegment is the least share of a series on either side of a break: fewer
// values fit any line.
const minSegment = 0.1

// MinBreak is the fewest values a break is looked for in.
const MinBreak = 20

// LevelBreak finds the one change of level that leaves the least squares. With
// shuffles above 0, P is from so many random orders of the values drawn from
// random: (1 + those with a break that takes off as much)/(1 + shuffles), exact
// for values that come in any order alike while there is no break. Give it the
// residuals from a wear line, not deviations that grow.
//
// It fails on fewer than MinBreak values and on one that is not finite.
//
// Source: Bai and Perron 1998, Econometrica 66:47 [from memory]; the shuffles,
// Good, Permutation Tests [from memory].
func LevelBreak(values []float64, shuffles int, random *rand.Rand) (Break, error) {
	if err := checkBreak(values); err != nil {
		return Break{}, err
	}
	b := bestBreak(values, levelLeft)
	b.P = math.NaN()
	if shuffles > 0 {
		shuffled, as := append([]float64{}, values...), 0
		for range shuffles {
			random.Shuffle(len(shuffled), func(i, j int) { shuffled[i], shuffled[j] = shuffled[j], shuffled[i] })
			if bestBreak(shuffled, levelLeft).RSS <= b.RSS {
				as++
			}
		}
		b.P = float64(1+as) / float64(1+shuffles)
	}
	before, after := mean(values[:b.Last+1]), mean(values[b.Last+1:])
	b.Size = after - before
	return b, nil
}

// LineBreak finds the one place at which two straight lines against the place in
// the series leave the least squares. Size is how far the second line begins
// above the end of the first, half a step from either. It has no P: shuffling
// would undo the slope as well. It fails as LevelBreak does.
func LineBreak(values []float64) (Break, error) {
	if err := checkBreak(values); err != nil {
		return Break{}, err
	}
	b := bestBreak(values, lineLeft)
	b.P = math.NaN()
	at := float64(b.Last) + 0.5
	var first, second sums
	for i, v := range values {
		if i <= b.Last {
			first.add(float64(i), v)
		} else {
			second.add(float64(i), v)
		}
	}
	b.Size = second.at(at) - first.at(at)
	return b, nil
}

func checkBreak(values []float64) error {
	if len(values) < MinBreak {
		return fmt.Errorf("change: %d values: at least %d are needed", len(values), MinBreak)
	}
	for i, v := range values {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return fmt.Errorf("change: value %d is %v: want a number", i+1, v)
		}
	}
	return nil
}

// bestBreak tries every place that leaves a tenth of the values on either side,
// each at the same cost: the sums of one side are those of all less the other's.
func bestBreak(values []float64, left func(sums) float64) Break {
	n := len(values)
	least := int(math.Floor(minSegment * float64(n)))
	var all, before sums
	centre := mean(values) // squares of values far from 0 would lose their digits
	for i, v := range values {
		all.add(float64(i), v-centre)
	}
	best := Break{RSS: math.Inf(1)}
	for i, v := range values {
		before.add(float64(i), v-centre)
		if i+1 < least || n-i-1 < least {
			continue
		}
		if rss := left(before) + left(all.less(before)); rss < best.RSS {
			best = Break{Last: i, RSS: rss}
		}
	}
	return best
}

// sums are what least squares need of some values y at places x.
type sums struct{ n, x, xx, y, xy, yy float64 }

func (s *sums) add(x, y float64) {
	s.n++
	s.x += x
	s.xx += x * x
	s.y += y
	s.xy += x * y
	s.yy += y * y
}

func (s sums) less(o sums) sums {
	return sums{s.n - o.n, s.x - o.x, s.xx - o.xx, s.y - o.y, s.xy - o.xy, s.yy - o.yy}
}

// levelLeft is the sum of squares about the mean.
func levelLeft(s sums) float64 { return math.Max(0, s.yy-s.y*s.y/s.n) }

// lineLeft is the sum of squares about the straight line.
func lineLeft(s sums) float64 {
	xx, xy := s.xx-s.x*s.x/s.n, s.xy-s.x*s.y/s.n
	if xx <= 0 {
		return levelLeft(s)
	}
	return math.Max(0, levelLeft(s)-xy*xy/xx)
}

// at is the straight line at x, the mean where all values are at one place.
func (s sums) at(x float64) float64 {
	xx, xy := s.xx-s.x*s.x/s.n, s.xy-s.x*s.y/s.n
	if xx <= 0 {
		return s.y / s.n
	}
	return s.y/s.n + xy/xx*(x-s.x/s.n)
}

func mean(x []float64) float64 {
	sum := 0.0
	for _, v := range x {
		sum += v
	}
	return sum / float64(len(x))
}
