package deviation

import (
	"math"
	"time"
)

// Cut is one pass of a blade through metal, as far as its deviation goes. What
// is not known is NaN, or "" of a text.
type Cut struct {
	At        time.Time
	From      float64 // in² the blade had cut in all before it, on the clock that wear goes by
	Area      float64 // and after it; never less than the cut before
	Deviation float64 // signed, over the height of the cut
	Height    float64 // in
	Face      float64 // in² of this pass, as cut
	Seconds   float64 // in the cut
	Speed     float64 // ft/min of the band
	Grade     string
	Mitre     float64 // degrees from square
	Tripped   bool
	Idle      bool // the saw said that it was not cutting

	pace float64 // ln of how much faster than standard, wear allowed for; NaN: not known
	fast bool    // one of several in a row that are plainly faster
}

// known reports whether the cut has a deviation.
func (c *Cut) known() bool { return !math.IsNaN(c.Deviation) && !math.IsInf(c.Deviation, 0) }

// Fitting is the stay of one blade on a saw.
type Fitting struct {
	Blade, Type, Lot string
	Start            time.Time
	Same             bool  // a person said that no other blade was hung meanwhile
	Cuts             []Cut // in order of time
}

// leastHeight is the height in in below which none is believed.
const leastHeight = 0.01

// perInch is what a length of the reading's own error comes to over the height
// of a cut; where that is not known it is not told apart.
func perInch(height float64) float64 {
	if height >= leastHeight {
		return 1 / height
	}
	return 0
}

// Noise is how far one reading lies off the level of its blade: a wander of the
// cut itself in proportion to its height, and an error of the probe, a length,
// that weighs less in a tall cut:
//
//	variance = Cut² + (Probe/height)².
type Noise struct {
	Cut   float64 // standard deviation, in the unit of the deviations
	Probe float64 // in the unit of a deviation times in
}

// Variance of one reading over a cut of that height in in, 0 or NaN: not known.
func (n Noise) Variance(height float64) float64 {
	p := n.Probe * perInch(height)
	return n.Cut*n.Cut + p*p
}
