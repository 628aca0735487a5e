package plan

import (
	"errors"
	"fmt"
	"math"
	"slices"
)

// Run is how a blade is run.
type Run struct {
	Survival func(area float64) float64 // since it was fitted; of the blade that is on, from now on
	Change   float64                    // the area after which it is changed if it has not ended; +Inf: never
}

// Count is the distribution of a number of blades.
type Count struct {
	AtMost []float64 // chance of k or fewer, from k = 0 on to where it is 1-1e-9
	Mean   float64
	Doubt  float64 // by how much the chances may be out, judging by the last refinements
}

// Renewals is how many blades are used up while an area is cut: the blade that is
// on and those that follow it, each when it ends or, if that comes first, when its
// planned change is due. So many new ones are needed.
//
// With p the chance of a later blade to come to its change at c, k of them bring
// a binomial number j of changes, and the other k-j lives add up:
//
//	P(k are used up within x) = Σ Bin(j; k, p)·H(k-j, x - j·c),
//
// H(m, ·) the m-fold convolution of the lives that end before c. The blade that is
// on is folded in last. Convolutions are on grids of which c is a point, cells
// halved until the chances, extrapolated from two grids to cells of no width
// (Richardson), are good to within a tolerance by how they move. A life whose density is not smooth, with a
// shape below 1.5 or so, may be out by more when the cells are at their finest;
// with a survival that jumps, chances are good to 1e-4 or so. Doubt says so.
//
// It fails on a tolerance that is not above 0, an area that is below 0 or endless, a change that is not after 0
// (the blade that is on may be due at 0), a survival that is no chance or rises,
// and where more than 200 blades may be used up.
//
// Source: Cox, Renewal Theory, 1962, chapter 3 [from memory].
func Renewals(area float64, running, later Run, tolerance float64) (Count, error) {
	if err := checkRenewals(area, running, later, tolerance); err != nil {
		return Count{}, fmt.Errorf("blades used up: %w", err)
	}
	if area == 0 {
		if running.Change == 0 {
			return Count{AtMost: []float64{0, 1}, Mean: 1}, nil
		}
		return Count{AtMost: []float64{1}}, nil
	}
	l := newLadder(area, running, later)
	r := refinement{tolerance: tolerance}
	for ; ; l.halve() {
		more, err := l.more()
		if err != nil {
			return Count{}, fmt.Errorf("blades used up: %w", err)
		}
		if r.add(more); r.done() || l.cells() > manyCells {
			break
		}
	}
	return count(r.limit, r.doubt()), nil
}

// refinement is chances on ever finer grids, extrapolated.
type refinement struct {
	tolerance     float64
	grids         int
	coarse, limit []float64
	moved         [2]float64 // how far the limit has, the last two times
}

// add takes the chances from a grid of half the cells.
func (r *refinement) add(chances []float64) {
	limit := mix(chances, 4.0/3, r.coarse, -1.0/3)
	moved := 0.0
	for _, m := range mix(limit, 1, r.limit, -1) {
		moved = math.Max(moved, math.Abs(m))
	}
	r.coarse, r.limit, r.moved = chances, limit, [2]float64{r.moved[1], moved}
	r.grids++
}

// doubt is how far the limit would still move if it went on as the last two times,
// but no better than by a quarter each time.
func (r *refinement) doubt() float64 {
	shrinks := math.Max(r.moved[1]/r.moved[0], 1.0/4)
	if !(shrinks < 0.9) {
		return r.moved[1]
	}
	return r.moved[1] * shrinks / (1 - shrinks)
}

func (r *refinement) done() bool { return r.grids > 2 && r.doubt() < r.tolerance }

// The grids have at first some 250 cells, doubled until chances are good enough or there
// are as many as that; a little less than a power of two keeps transforms short.
const (
	firstCells = 250
	manyCells  = 12000
	maxBlades  = 200
	rest       = 1e-9 // a chance of more blades that is none
)

func checkRenewals(area float64, running, later Run, tolerance float64) error {
	if !(tolerance > 0) {
		return fmt.Errorf("a tolerance of %v: want one above 0", tolerance)
	}
	if !(area >= 0) || math.IsInf(area, 1) {
		return fmt.Errorf("an area of %v: want 0 or more", area)
	}
	if !(running.Change >= 0) {
		return fmt.Errorf("the blade that is on is changed after %v: want 0 or more", running.Change)
	}
	if !(later.Change > 0) {
		return fmt.Errorf("blades are changed after %v: want an area above 0", later.Change)
	}
	for _, r := range []Run{running, later} {
		if now := r.Survival(0); !(math.Abs(now-1) <= 1e-9) {
			return fmt.Errorf("the chance that a blade is on at first is %v: want 1", now)
		}
	}
	return nil
}

// mix is a·f + b·g, the shorter of the two continued by 0.
func mix(f []float64, a float64, g []float64, b float64) []float64 {
	sum := make([]float64, max(len(f), len(g)))
	for i, v := range f {
		sum[i] += a * v
	}
	for i, v := range g {
		sum[i] += b * v
	}
	return sum
}

// count makes a distribution of the chances of 1, 2, … blades and more.
func count(more []float64, doubt float64) Count {
	c := Count{Doubt: doubt}
	last := 1.0
	for _, m := range more {
		last = math.Min(last, math.Max(m, 0))
		c.AtMost = append(c.AtMost, 1-last)
		c.Mean += last
		if last < rest {
			return c
		}
	}
	c.AtMost = append(c.AtMost, 1)
	return c
}

// Quantile is the least number that is not exceeded with a chance of level: that
// many blades are enough so often. It is 0 for a level of 0 or less, and the
// greatest number told for one beyond.
func (c Count) Quantile(level float64) int {
	k, _ := slices.BinarySearch(c.AtMost, level)
	return min(k, len(c.AtMost)-1)
}

// And is how many two count together that have nothing to do with each other.
func (c Count) And(other Count) Count {
	sum := Count{AtMost: make([]float64, len(c.AtMost)+len(other.AtMost)-1), Mean: c.Mean + other.Mean, Doubt: c.Doubt + other.Doubt}
	for k := range sum.AtMost {
		// So many at most: each number of the one, with as many as are left of the other.
		before := 0.0
		for i, p := range c.AtMost[:min(k+1, len(c.AtMost))] {
			sum.AtMost[k] += (p - before) * other.AtMost[min(k-i, len(other.AtMost)-1)]
			before = p
		}
	}
	return sum
}

// ladder is the lives on grids of ever narrower cells.
type ladder struct {
	area, step float64
	change     int      // of later blades, in cells; 0: beyond the area
	reach      float64  // chance of a later blade to come to its change
	later      *sampled // survival from 0 on, to the area
	first      lead     // the blade that is on, if it ends before its change
	second     *lead    // a later blade, if it ends before its change, after one on that came to it
	reachFirst float64  // the chance of that
}

// lead is a life added to others so as to end at an area exactly.
type lead struct {
	area   float64  // from its start
	change float64  // it ends before that
	left   *sampled // survival from area back to 0
}

func newLadder(area float64, running, later Run) *ladder {
	l := &ladder{area: area, step: area / firstCells}
	if later.Change <= area {
		cells := math.Max(1, math.Floor(firstCells*later.Change/area))
		l.step, l.change, l.reach = later.Change/cells, int(cells), later.Survival(later.Change)
	} else {
		later.Change = math.Inf(1)
	}
	l.later = &sampled{f: later.Survival, step: l.step}
	l.first = lead{area, running.Change, &sampled{f: running.Survival, from: area, step: -l.step}}
	if rest := area - running.Change; rest >= 0 {
		l.reachFirst = running.Survival(running.Change)
		l.second = &lead{rest, later.Change, &sampled{f: later.Survival, from: rest, step: -l.step}}
	}
	return l
}

func (l *ladder) cells() int { return int(l.area/l.step) + 1 }

// halve halves the cells.
func (l *ladder) halve() {
	l.step /= 2
	l.change *= 2
	for _, s := range []*sampled{l.later, l.first.left} {
		s.halve()
	}
	if l.second != nil {
		l.second.left.halve()
	}
}

// sampled is a function at even steps. A step that rounding leads below 0 counts as 0.
type sampled struct {
	f          func(float64) float64
	from, step float64
	values     []float64
}

// take looks at as many points as that.
func (s *sampled) take(n int) []float64 {
	for i := len(s.values); i < n; i++ {
		s.values = append(s.values, s.f(math.Max(0, s.from+float64(i)*s.step)))
	}
	return s.values[:n]
}

// halve keeps what has been looked at.
func (s *sampled) halve() {
	s.step /= 2
	values := make([]float64, 0, 2*len(s.values))
	for i, v := range s.values {
		values = append(values, v)
		if i+1 < len(s.values) {
			values = append(values, s.f(s.from+float64(2*i+1)*s.step))
		}
	}
	s.values = values
}

// more is the chance of 1, 2, … blades and more, to where there is none.
func (l *ladder) more() ([]float64, error) {
	sums, err := l.newSums()
	if err != nil {
		return nil, err
	}
	first, err := l.arrival(sums, &l.first)
	if err != nil {
		return nil, err
	}
	var second *arrival
	if l.second != nil {
		if second, err = l.arrival(sums, l.second); err != nil {
			return nil, err
		}
	}
	var more []float64
	for k := range maxBlades { // blades after the one that is on
		chance := math.Pow(l.reach, float64(k))*first.at(k*l.change) + first.before(sums.some)
		if second != nil {
			chance += l.reachFirst * l.afterChange(k, second, sums)
		}
		if more = append(more, chance); chance < rest {
			return more, nil
		}
		sums.add()
	}
	return nil, fmt.Errorf("more than %d may be: want a smaller area", maxBlades)
}

// afterChange is the chance that k later blades are over by the area that is left when
// the one that is on came to its change: all come to theirs, or all but one, or fewer.
func (l *ladder) afterChange(k int, second *arrival, s *sums) float64 {
	all := math.Pow(l.reach, float64(k)) * oneFrom(l.second.area-float64(k*l.change)*l.step+1e-9*l.area)
	if k == 0 {
		return all
	}
	butOne := float64(k) * math.Pow(l.reach, float64(k-1)) * second.at((k-1)*l.change)
	return all + butOne + second.before(s.others)
}

func oneFrom(x float64) float64 {
	if x >= 0 {
		return 1
	}
	return 0
}

// arrival is a lead's chance to have ended, from its area back to 0, ready to be added
// to lives.
func (l *ladder) arrival(s *sums, of *lead) (*arrival, error) {
	left := of.left.take(int(of.area/l.step) + 1)
	atChange := 0.0
	if !math.IsInf(of.change, 1) {
		atChange = of.left.f(of.change)
	}
	ended := make([]float64, len(left))
	for i, v := range left {
		if !(v >= 0 && v <= 1+1e-9) || i > 0 && v < left[i-1]-1e-6 {
			return nil, errUnsound
		}
		ended[i] = math.Max(0, 1-math.Max(v, atChange))
	}
	return &arrival{ended, s.transform(of, ended)}, nil
}

var errUnsound = errors.New("the chance that a blade lasts is not within 0 and 1, or rises")
