package backtest

import (
	"cmp"
	"math"
	"math/rand/v2"
	"slices"
)

// crowd is the blades of one type in the order of what they cut; those that ended come
// before others that cut as much.
type crowd struct {
	blades []*blade
	lives  []float64 // parallel, like the others
	lost   []bool    // out of sight with its end still to come: pulled, or not off
	on     []bool    // not off
}

func newCrowd(list []*blade) *crowd {
	c := &crowd{blades: slices.Clone(list)}
	slices.SortStableFunc(c.blades, func(a, b *blade) int {
		if d := cmp.Compare(a.life, b.life); d != 0 || a.ended == b.ended {
			return d
		}
		if a.ended {
			return -1
		}
		return 1
	})
	for _, b := range c.blades {
		c.lives, c.lost, c.on = append(c.lives, b.life), append(c.lost, !b.ended), append(c.on, !b.off)
	}
	return c
}

// before is the number of blades that cut less.
func (c *crowd) before(area float64) int {
	i, _ := slices.BinarySearch(c.lives, area)
	return i
}

// kept is the chance that a blade that goes on is not lost from sight before it has cut
// as much as the i-th has: the Kaplan-Meier curve of being lost, in which an end takes
// a blade out of sight. counts is how often each blade stands in the sample.
func (c *crowd) kept(counts []float64, lost []bool) []float64 {
	kept := make([]float64, len(counts)+1)
	left, share := 0.0, 1.0
	for _, n := range counts {
		left += n
	}
	for i, n := range counts {
		kept[i] = share
		if lost[i] && n > 0 {
			share *= math.Max(0, 1-n/left)
		}
		left -= n
	}
	kept[len(counts)] = share
	return kept
}

// question is what is asked of each blade of a crowd. Where the answer is known, the
// blade also stands for those like it of which it is not, because they were lost from
// sight before: it counts as
//
//	G(since)/G(until),
//
// with G the chance not to be lost before an area. Sums weighted so have the mean they
// would have with nobody lost, if blades are lost for reasons that say nothing of how
// much they had left.
//
// Source: Robins and Rotnitzky, Recovery of information and adjustment for dependent
// censoring, 1992; Bang and Tsiatis, Estimating medical costs with censored data, 2000
// [both from memory].
type question struct {
	pulls   bool      // answers it too; only blades that are not off are lost
	since   []int     // blades of the crowd before what it is known to have reached
	until   []int     // before what must have been seen of it; below 0 is not known
	figures []numbers // the answers
}

// numbers are one figure of each blade.
type numbers []float64

// known is of how many blades the answer is.
func (q *question) known() (n int) {
	for _, u := range q.until {
		if u >= 0 {
			n++
		}
	}
	return n
}

// sums are the weighted sums of the figures.
func (q *question) sums(counts, kept []float64) []float64 {
	sums := make([]float64, len(q.figures))
	for i, u := range q.until {
		if u < 0 || counts[i] == 0 {
			continue
		}
		w := counts[i] / kept[u]
		if q.since != nil {
			w *= kept[q.since[i]]
		}
		for k, f := range q.figures {
			sums[k] += w * f[i]
		}
	}
	return sums
}

// How an interval is made: the blades of a type are drawn so often, as many as there
// are, each any number of times, and 95 % of the answers lie within. What was decided
// of them stays as it was decided.
//
// Source: Efron, Bootstrap methods, 1979 [from memory].
const (
	draws = 1000
	seed  = 5
)

// answers are the sums of some questions over the crowd as it is, and then over each
// draw from it: by question, draw and figure.
func (c *crowd) answers(questions []*question, stream uint64) [][][]float64 {
	random := rand.New(rand.NewPCG(seed, stream))
	out := make([][][]float64, len(questions))
	counts := make([]float64, len(c.blades))
	for draw := range draws + 1 {
		for i := range counts {
			counts[i] = 1
			if draw > 0 {
				counts[i] = 0
			}
		}
		if draw > 0 {
			for range counts {
				counts[random.IntN(len(counts))]++
			}
		}
		kept, on := c.kept(counts, c.lost), c.kept(counts, c.on)
		for i, q := range questions {
			if q.pulls {
				out[i] = append(out[i], q.sums(counts, on))
			} else {
				out[i] = append(out[i], q.sums(counts, kept))
			}
		}
	}
	return out
}

// fewestKept is the part of the blades that must not have been lost before an age for it
// to be judged: no blade counts for more than ten.
const fewestKept = 0.1

// furthest is how far blades were run by enough that outcomes can be told, +Inf for all
// the way.
func (c *crowd) furthest() float64 {
	counts := make([]float64, len(c.blades))
	for i := range counts {
		counts[i] = 1
	}
	for i, share := range c.kept(counts, c.lost)[1:] {
		if share < fewestKept {
			return c.lives[i]
		}
	}
	return math.Inf(1)
}
