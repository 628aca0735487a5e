package plan

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"
	"pgregory.net/rapid"
)

// singles is n groups of one case each, of which the first k are so.
func singles(k, n int) []Group {
	groups := make([]Group, n)
	for i := range groups {
		groups[i].Count = 1
		if i < k {
			groups[i].Sum = 1
		}
	}
	return groups
}

// drawn is the quantile of the number of successes, the least k that is not
// exceeded with the chance: what drawing n single cases again amounts to exactly.
func drawn(chance, share float64, n int) float64 {
	b := distuv.Binomial{N: float64(n), P: share}
	k := 0.0
	for b.CDF(k) < chance {
		k++
	}
	return k / float64(n)
}

// Drawing n cases of which a share is so gives a binomial number of them; the wanted
// limits are its quantiles by gonum 0.17, one case more or less for the 2,000 draws.
func TestGroupLimitsOfSingleCasesAreBinomial(t *testing.T) {
	for _, c := range []struct{ k, n int }{{5, 10}, {16, 20}, {40, 50}, {3, 200}, {170, 200}} {
		low, high := GroupShareLimits(singles(c.k, c.n), 1)
		share, one := float64(c.k)/float64(c.n), 1/float64(c.n)+1e-9
		if wantLow, wantHigh := drawn(0.025, share, c.n), drawn(0.975, share, c.n); math.Abs(low-wantLow) > one || math.Abs(high-wantHigh) > one {
			t.Errorf("%d of %d: %v to %v, want %v to %v", c.k, c.n, low, high, wantLow, wantHigh)
		}
	}
}

// Ten forecasts of a blade that came to one say no more than one of them: the limits
// are those of the blades.
func TestForecastsOfOneBladeCountOnce(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(FewestGroups, 40).Draw(t, "blades")
		k := rapid.IntRange(0, n).Draw(t, "inside")
		each := float64(rapid.IntRange(2, 50).Draw(t, "forecasts"))
		once := singles(k, n)
		many := singles(k, n)
		for i := range many {
			many[i].Sum *= each
			many[i].Count *= each
		}
		low, high := GroupShareLimits(once, 3)
		lowMany, highMany := GroupShareLimits(many, 3)
		if math.Abs(low-lowMany) > 1e-12 || math.Abs(high-highMany) > 1e-12 {
			t.Errorf("once %v to %v, %v times %v to %v", low, high, each, lowMany, highMany)
		}
	})
}

func TestGroupLimitsHoldTheMeanAndRepeat(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		groups := rapid.SliceOfN(rapid.Custom(func(t *rapid.T) Group {
			return Group{rapid.Float64Range(0, 1e4).Draw(t, "sum"), float64(rapid.IntRange(0, 30).Draw(t, "count"))}
		}), 0, 30).Draw(t, "groups")
		low, high := GroupMeanLimits(groups, 7)
		if again, _ := GroupMeanLimits(groups, 7); again != low && !math.IsNaN(low) {
			t.Errorf("%v and then %v by the same seed", low, again)
		}
		counted := len(counting(groups))
		if math.IsNaN(low) != (counted < FewestGroups) {
			t.Errorf("limits from %v of %d blades", low, counted)
		}
		if low > high {
			t.Errorf("limits %v to %v", low, high)
		}
	})
}

// What never or always was has the exact limits of as many blades: of ten out of ten
// 69 to 100 %, by (0.025)^(1/10).
func TestGroupLimitsOfAllAndNone(t *testing.T) {
	low, high := GroupShareLimits([]Group{{3, 3}, {1, 1}, {9, 9}, {2, 2}, {1, 1}, {4, 4}, {1, 1}, {1, 1}, {1, 1}, {1, 1}, {0, 0}}, 1)
	if want := math.Pow(0.025, 0.1); math.Abs(low-want) > 1e-9 || high != 1 {
		t.Errorf("all: %v to %v, want %v to 1", low, high, want)
	}
	low, high = GroupShareLimits(singles(0, 10), 1)
	if want := 1 - math.Pow(0.025, 0.1); low != 0 || math.Abs(high-want) > 1e-9 {
		t.Errorf("none: %v to %v, want 0 to %v", low, high, want)
	}
	if low, _ := GroupShareLimits(singles(4, 4), 1); !math.IsNaN(low) {
		t.Errorf("of four blades limits from %v", low)
	}
	if m := GroupMean(nil); !math.IsNaN(m) {
		t.Errorf("the mean of nothing is %v", m)
	}
}
