package plan

import (
	"cmp"
	"math"
	"slices"
)

// Fates is the outcomes of the forecasts of one blade, on the scale of their own
// windows: 1 at Q10, 2 at Q50, 3 at Q90, straight between and beyond.
type Fates []fate

type fate struct {
	at   float64
	lost bool // from sight; else it ended there
}

// Add counts the outcome of a forecast. Beyond an end of the window that is +Inf nobody
// can tell where it falls: it is lost from sight there.
func (f *Fates) Add(w Window, o Outcome) {
	edges := [4]float64{0, w.Q10, w.Q50, w.Q90}
	k := 0
	for k < 2 && o.Area > edges[k+1] {
		k++
	}
	low, high := edges[k], edges[k+1]
	switch {
	case math.IsInf(high, 1):
		*f = append(*f, fate{float64(k), true})
	case high == low:
		*f = append(*f, fate{float64(k + 1), o.Beyond})
	default:
		*f = append(*f, fate{float64(k) + (o.Area-low)/(high-low), o.Beyond})
	}
}

// Shares is how outcomes fall below, within and above their windows.
type Shares struct{ Below, Inside, Above float64 }

// Allowed is what Cover's share would be if every outcome were known: by the
// Kaplan-Meier curve on the scale of the windows, on which those lost from sight count
// for as far as they were seen. It holds where what is lost (changed early, still on) is
// as the others are. Outcomes at an edge are within the window, as in Cover. The shares
// are NaN where nothing is seen to get to Q90 and not all ended before it.
func Allowed(blades []Fates) Shares {
	all, weights := sorted(blades)
	for i := range weights {
		weights[i] = 1
	}
	return allowed(all, weights)
}

// AllowedLimits are 95 % limits of Allowed's share inside, as GroupMeanLimits makes
// them; a drawing in which it is not known is left out. They are NaN with fewer than
// FewestGroups blades.
func AllowedLimits(blades []Fates, seed uint64) (low, high float64) {
	if len(blades) < FewestGroups {
		return math.NaN(), math.NaN()
	}
	all, weights := sorted(blades)
	return resampled(len(blades), seed, func(which []int) float64 {
		clear(weights)
		for _, k := range which {
			weights[k]++
		}
		return allowed(all, weights).Inside
	})
}

// blades' fates in order, with the blade of each.
type ordered struct {
	fate
	blade int
}

// sorted is all fates in order, ends before losses at the same place, and a weight for
// each blade.
func sorted(blades []Fates) (all []ordered, weights []float64) {
	for k, fates := range blades {
		for _, f := range fates {
			all = append(all, ordered{f, k})
		}
	}
	slices.SortStableFunc(all, func(a, b ordered) int {
		if c := cmp.Compare(a.at, b.at); c != 0 || a.lost == b.lost {
			return c
		}
		if b.lost {
			return -1
		}
		return 1
	})
	return all, make([]float64, len(blades))
}

// allowed is Allowed of fates in order, by the weight of each blade.
func allowed(all []ordered, weights []float64) Shares {
	atRisk := 0.0
	for _, o := range all {
		atRisk += weights[o.blade]
	}
	left, before, after := 1.0, 1.0, math.NaN() // at Q10 and behind Q90
	for _, o := range all {
		w := weights[o.blade]
		if w == 0 {
			continue
		}
		if o.at > 3 && math.IsNaN(after) {
			after = left
		}
		if !o.lost {
			left *= math.Max(0, 1-w/atRisk)
		}
		if o.at < 1 {
			before = left
		}
		atRisk -= w
	}
	if left < 1e-12 && math.IsNaN(after) {
		after = 0
	}
	return Shares{1 - before, before - after, after}
}
