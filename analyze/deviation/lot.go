package deviation

import (
	"cmp"
	"math"
	"slices"
)

// LotBlade is how fast one blade wandered off with wear.
type LotBlade struct {
	Saw, Blade, Lot string  // Saw is for the caller to fill in
	Drift           float64 // outward, per unit of the wear clock of its kind of blade on its saw, over the usual drift there
}

// LotFinding is a lot whose blades wander off faster than all others.
type LotFinding struct {
	Lot    string
	Blades int
	Saws   int
	Others int
	Ratio  Estimate // of the drift to that of the others
	Chance float64
}

const (
	minLot    = 3   // blades
	minOthers = 6   // blades
	lotSD     = 0.5 // of ln drift between lots (our choice)
	chanceLot = 0.01
	leastLot  = 1.25 // times as fast
)

// Lots compares the drifts of each lot with those of all other blades, on a
// logarithmic scale, with the spread between blades taken from both. Lots of
// fewer than 3 blades and those that are no faster are left out; the chance is
// that of a lot that differs against none, times that of one at least a quarter
// faster.
func Lots(blades []LotBlade) (found []LotFinding) {
	names := map[string]bool{}
	for _, b := range blades {
		names[b.Lot] = b.Lot != ""
	}
	for lot, named := range names {
		if !named {
			continue
		}
		if f, ok := lotAgainst(lot, blades); ok {
			found = append(found, f)
		}
	}
	slices.SortFunc(found, func(a, b LotFinding) int { return cmp.Or(cmp.Compare(b.Chance, a.Chance), cmp.Compare(a.Lot, b.Lot)) })
	return found
}

func lotAgainst(lot string, blades []LotBlade) (LotFinding, bool) {
	var in, out []float64
	saws := map[string]bool{}
	for _, b := range blades {
		// A blade that went the other way, or nowhere, wore as little as can be told.
		x := math.Log(math.Max(b.Drift, 0.1))
		if b.Lot != lot {
			out = append(out, x)
			continue
		}
		in = append(in, x)
		saws[b.Saw] = true
	}
	if len(in) < minLot || len(out) < minOthers {
		return LotFinding{}, false
	}
	off := mean(in) - mean(out)
	pooled := (squaresAbout(in) + squaresAbout(out)) / float64(len(in)+len(out)-2)
	variance := pooled * (1/float64(len(in)) + 1/float64(len(out)))
	if !(variance > 0) || off <= 0 {
		return LotFinding{}, false
	}
	odds := chanceLot / (1 - chanceLot) * bayesFactor(off, variance, lotSD*lotSD)
	e := normalEstimate(off, variance)
	return LotFinding{
		Lot: lot, Blades: len(in), Saws: len(saws), Others: len(out),
		Ratio:  Estimate{math.Exp(e.Value), math.Exp(e.Low), math.Exp(e.High)},
		Chance: odds / (1 + odds) * math.Erfc((math.Log(leastLot)-off)/math.Sqrt(2*variance)) / 2,
	}, true
}

func squaresAbout(x []float64) (sum float64) {
	m := mean(x)
	for _, v := range x {
		sum += (v - m) * (v - m)
	}
	return sum
}
