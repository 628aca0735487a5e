package plan

import (
	"math"
	"math/rand/v2"
	"slices"
)

// Group is what the forecasts of one blade add to a mean over all. They end in one
// outcome, so they are not independent of each other.
type Group struct{ Sum, Count float64 }

// FewestGroups is how many blades limits need: fewer cannot show how blades differ.
const FewestGroups = 5

// draws is how often the groups are drawn again. More than 1,000 are common for
// limits of 95 %.
const draws = 2000

// GroupMean is Σ Sum / Σ Count; NaN without a count.
func GroupMean(groups []Group) float64 {
	var all Group
	for _, g := range groups {
		all.Sum += g.Sum
		all.Count += g.Count
	}
	if !(all.Count > 0) {
		return math.NaN()
	}
	return all.Sum / all.Count
}

// GroupMeanLimits are 95 % limits of GroupMean that take only the groups as
// independent: as many groups are drawn again with replacement, 2,000 times, and the
// limits are the quantiles at 2.5 and 97.5 % of the means. They are NaN with fewer
// than FewestGroups groups that count anything. The same seed gives the same limits.
//
// With few groups they are somewhat narrow, as all of the bootstrap are.
//
// Source: Efron, Bootstrap methods: another look at the jackknife, 1979; drawing
// whole groups as in Davison and Hinkley, Bootstrap Methods and their Application,
// 1997, section 3.8 [from memory].
func GroupMeanLimits(groups []Group, seed uint64) (low, high float64) {
	counted := counting(groups)
	if len(counted) < FewestGroups {
		return math.NaN(), math.NaN()
	}
	drawn := make([]Group, len(counted))
	return resampled(len(counted), seed, func(which []int) float64 {
		for i, k := range which {
			drawn[i] = counted[k]
		}
		return GroupMean(drawn)
	})
}

// resampled are the quantiles at 2.5 and 97.5 % of a figure of n groups drawn again;
// NaN where it is never known.
func resampled(n int, seed uint64, figure func(which []int) float64) (low, high float64) {
	random := rand.New(rand.NewPCG(seed, 0))
	var figures []float64
	which := make([]int, n)
	for range draws {
		for k := range which {
			which[k] = random.IntN(n)
		}
		if x := figure(which); !math.IsNaN(x) {
			figures = append(figures, x)
		}
	}
	if len(figures) == 0 {
		return math.NaN(), math.NaN()
	}
	slices.Sort(figures)
	cut := len(figures) * 25 / 1000
	return figures[cut], figures[len(figures)-1-cut]
}

// GroupShareLimits is GroupMeanLimits of a share, whose Sum is how many of Count were
// so. Where it is the same in every group, none or all, drawing again shows no doubt:
// the limits are then the exact ones of as many cases as there are groups.
func GroupShareLimits(groups []Group, seed uint64) (low, high float64) {
	counted := counting(groups)
	share := GroupMean(counted)
	if len(counted) >= FewestGroups && (share == 0 || share == 1) {
		return ShareLimits(int(share)*len(counted), len(counted))
	}
	return GroupMeanLimits(counted, seed)
}

// counting is the groups that count anything.
func counting(groups []Group) []Group {
	return slices.DeleteFunc(slices.Clone(groups), func(g Group) bool { return !(g.Count > 0) })
}
