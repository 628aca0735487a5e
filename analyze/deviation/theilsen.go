package deviation

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"
)

// Point is one cut.
type Point struct {
	Area      float64 // in² the blade had cut in all when this cut ended, ≥ 0
	Deviation float64 // how far the cut wandered, signed; the caller chooses the unit
}

// Slope is the change of deviation per 1,000 in², in the unit of the
// deviations, with its 95 % limits.
type Slope struct {
	Value, Low, High float64
	N                int // points given
}

// PerArea is the area (in²) that a Slope is told for.
const PerArea = 1000

// MinPoints is the fewest points that a slope is told from. The limits lean on
// the normal approximation of Kendall's test, and below 8 points or so they
// are close to the extreme slopes (our choice).
const MinPoints = 8

// maxPoints bounds the work, which grows with the square of the points. A blade
// makes 290 to 720 cuts in its life (the demo shop).
const maxPoints = 1000

var (
	// ErrTooFewPoints says that there are fewer than MinPoints.
	ErrTooFewPoints = fmt.Errorf("at least %d are needed for a slope", MinPoints)
	// ErrNoSpread says that too few points differ in area.
	ErrNoSpread = errors.New("the cuts do not differ enough in area for a slope")
)

// TheilSen returns the median of the slopes between all pairs of points that
// differ in area, with the 95 % limits that invert Kendall's test, ties
// included. Up to 29 % of the points may be wild without carrying it away.
// The order of the points does not matter.
//
// Of more than 1,000 points it uses 1,000: by rising area (then deviation) the
// first, the last and every one at an even step between, so that the answer is
// the same each time and the limits are those of what was used.
//
// It fails on fewer than MinPoints points (ErrTooFewPoints, wrapped with the
// number), on points of one area (ErrNoSpread) and on a number that is not
// finite or an area below 0.
//
// Source: Sen 1968, JASA 63:1379; the ranks of the limits are rounded as
// SciPy's theilslopes does.
func TheilSen(points []Point) (Slope, error) {
	if len(points) < MinPoints {
		return Slope{}, fmt.Errorf("%d cuts with a deviation: %w", len(points), ErrTooFewPoints)
	}
	for i, p := range points {
		if !(p.Area >= 0) || math.IsInf(p.Area, 0) || math.IsNaN(p.Deviation) || math.IsInf(p.Deviation, 0) {
			return Slope{}, fmt.Errorf("point %d: area %v, deviation %v: want numbers, area at least 0", i+1, p.Area, p.Deviation)
		}
	}
	used := thin(points)
	slopes := pairSlopes(used)
	if len(slopes) == 0 {
		return Slope{}, fmt.Errorf("%d cuts with a deviation: %w", len(points), ErrNoSpread)
	}
	low, high := rankLimits(used, len(slopes))
	s := Slope{N: len(points)}
	s.Value = PerArea * median(slopes)
	// That left none greater before the middle and none smaller behind it.
	half := len(slopes) / 2
	s.Low = PerArea * nth(slopes[:half+1], low)
	s.High = PerArea * nth(slopes[half:], high-half)
	if math.IsInf(s.Low, 0) || math.IsInf(s.High, 0) || math.IsNaN(s.Value) || math.IsInf(s.Value, 0) {
		return Slope{}, fmt.Errorf("%d cuts with a deviation: areas lie too close together: %w", len(points), ErrNoSpread)
	}
	return s, nil
}

// thin returns the points sorted by area, at most maxPoints of them.
func thin(points []Point) []Point {
	sorted := slices.Clone(points)
	slices.SortFunc(sorted, func(a, b Point) int {
		return cmp.Or(cmp.Compare(a.Area, b.Area), cmp.Compare(a.Deviation, b.Deviation))
	})
	if len(sorted) <= maxPoints {
		return sorted
	}
	some := make([]Point, maxPoints)
	for i := range some {
		some[i] = sorted[i*(len(sorted)-1)/(maxPoints-1)]
	}
	return some
}

// pairSlopes returns the slope of every pair that differs in area; the points
// are sorted by it.
func pairSlopes(sorted []Point) []float64 {
	slopes := make([]float64, 0, len(sorted)*(len(sorted)-1)/2)
	for i, p := range sorted {
		for _, q := range sorted[i+1:] {
			if run := q.Area - p.Area; run > 0 {
				slopes = append(slopes, (q.Deviation-p.Deviation)/run)
			}
		}
	}
	return slopes
}

// rankLimits returns the indices, among the sorted slopes of n pairs, of the
// 95 % limits. Kendall's S has mean 0 without a trend and the variance
//
//	( N(N-1)(2N+5) - Σ t(t-1)(2t+5) ) / 18,
//
// summed over groups of t tied areas and of t tied deviations.
func rankLimits(sorted []Point, n int) (low, high int) {
	const z = 1.959963984540054 // 97.5 % point of the standard normal
	areas, deviations := make([]float64, len(sorted)), make([]float64, len(sorted))
	for i, p := range sorted {
		areas[i], deviations[i] = p.Area, p.Deviation
	}
	slices.Sort(deviations)
	variance := tieTerm(len(sorted)) - tieSum(areas) - tieSum(deviations)
	reach := z * math.Sqrt(max(0, variance)/18)
	low = int(math.RoundToEven((float64(n)-reach)/2)) - 1
	high = int(math.RoundToEven((float64(n) + reach) / 2))
	return max(low, 0), min(high, n-1)
}

func tieTerm(t int) float64 {
	f := float64(t)
	return f * (f - 1) * (2*f + 5)
}

// tieSum adds the terms of the groups of equal values; values are sorted.
func tieSum(values []float64) (sum float64) {
	run := 1
	for i := 1; i <= len(values); i++ {
		if i < len(values) && values[i] == values[i-1] {
			run++
			continue
		}
		sum += tieTerm(run)
		run = 1
	}
	return sum
}

// median of unsorted values; it reorders them.
func median(values []float64) float64 {
	half := len(values) / 2
	upper := nth(values, half)
	if len(values)%2 == 1 {
		return upper
	}
	// nth left nothing greater than upper before it.
	lower := slices.Max(values[:half])
	return lower + (upper-lower)/2
}

// nth returns the value of rank k (from 0) and leaves nothing greater before
// place k and nothing smaller after it: Hoare's selection, linear on average.
// Equal values stop both pointers, so that many ties do not make it slow.
func nth(values []float64, k int) float64 {
	low, high := 0, len(values)-1
	for low < high {
		pivot := middleOf(values[low], values[low+(high-low)/2], values[high])
		i, j := low, high
		for i <= j {
			for values[i] < pivot {
				i++
			}
			for values[j] > pivot {
				j--
			}
			if i <= j {
				values[i], values[j] = values[j], values[i]
				i++
				j--
			}
		}
		switch {
		case k <= j:
			high = j
		case k >= i:
			low = i
		default:
			return values[k]
		}
	}
	return values[k]
}

func middleOf(a, b, c float64) float64 {
	return max(min(a, b), min(max(a, b), c))
}
