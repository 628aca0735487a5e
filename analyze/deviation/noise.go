package deviation

import (
	"cmp"
	"math"
	"slices"
)

// neighbours is one reading less the one before it on the same blade.
type neighbours struct{ off, inverse float64 }

// minPairs is the fewest neighbours a noise is measured from.
const minPairs = 8

// heightGroups is how many groups of like heights the neighbours are put in.
const heightGroups = 6

// MeasureNoise takes the noise from the differences between neighbouring
// readings, which leave out whatever moves slowly. They are grouped by height;
// each group's spread is the median difference over that of a standard normal,
// so that wild readings and steps do not move it, and the line
//
//	spread² = 2·Cut² + Probe²·(1/h1² + 1/h2²)
//
// is fitted to the groups with neither term below 0. It reports false for fewer
// than 8 neighbours, and where most are equal.
func MeasureNoise(blades [][]Cut) (Noise, bool) {
	var list []neighbours
	for _, cuts := range blades {
		last := -1
		for i := range cuts {
			if !cuts[i].known() {
				continue
			}
			if last >= 0 {
				a, b := perInch(cuts[last].Height), perInch(cuts[i].Height)
				list = append(list, neighbours{cuts[i].Deviation - cuts[last].Deviation, a*a + b*b})
			}
			last = i
		}
	}
	if len(list) < minPairs {
		return Noise{}, false
	}
	// Those of equal heights stay in order of time: sorted by size they would make
	// groups of small ones and of large ones.
	slices.SortStableFunc(list, func(a, b neighbours) int { return cmp.Compare(a.inverse, b.inverse) })
	groups := min(heightGroups, len(list)/minPairs)
	var fit sums
	for g := range groups {
		part := list[g*len(list)/groups : (g+1)*len(list)/groups]
		fit.add(groupSpread(part))
	}
	return fit.noise()
}

// groupSpread is the mean of 1/h1²+1/h2² of a group and its spread².
func groupSpread(part []neighbours) (inverse, squared float64) {
	sizes := make([]float64, len(part))
	for i, p := range part {
		inverse += p.inverse / float64(len(part))
		sizes[i] = math.Abs(p.off)
	}
	spread := median(sizes) / medianNormal
	return inverse, spread * spread
}

// medianNormal is the median of the size of a standard normal value.
const medianNormal = 0.6744897501960817

// noise is the line through the groups with no term below 0.
func (s sums) noise() (Noise, bool) {
	mean := s.y / s.n
	if !(mean > 0) {
		return Noise{}, false
	}
	xx, xy := s.xx-s.x*s.x/s.n, s.xy-s.x*s.y/s.n
	slope := 0.0
	if xx > 1e-12*s.xx {
		slope = math.Max(0, xy/xx)
	}
	level := mean - slope*s.x/s.n
	if level < 0 {
		level, slope = 0, s.xy/s.xx
	}
	return Noise{Cut: math.Sqrt(level / 2), Probe: math.Sqrt(slope)}, true
}
