package life

import (
	"fmt"
	"math"
)

// Observation is what is known of one blade: it was watched while its total
// went from Start to Area, and at Area it either ended or was lost from sight.
type Observation struct {
	Start float64 // area cut before anyone kept count (delayed entry), ≥ 0; usually 0
	Area  float64 // area cut at the last look, > Start, or = Start for a blade that has cut nothing since
	Ended bool    // its life ended at Area; false: pulled early or still running
}

// Estimate is a value with its 95 % limits. A positive infinity stands for
// "not reached by the data": more than anything observed.
type Estimate struct{ Value, Low, High float64 }

// z95 is the 97.5 % point of the standard normal, for two-sided 95 % limits.
const z95 = 1.959963984540054

// check returns the number of ends, or an error naming the first observation
// (counted from 1) that cannot be. An end with no area cut under observation
// is refused: the models of this package give it no probability, and a blade
// that broke while being hung says nothing about cutting.
func check(obs []Observation) (ended int, err error) {
	for i, o := range obs {
		switch {
		case math.IsNaN(o.Start) || o.Start < 0 || math.IsInf(o.Start, 0):
			return 0, fmt.Errorf("observation %d: start %v: want a number, at least 0", i+1, o.Start)
		case math.IsNaN(o.Area) || math.IsInf(o.Area, 0):
			return 0, fmt.Errorf("observation %d: area %v: want a number", i+1, o.Area)
		case o.Area < o.Start:
			return 0, fmt.Errorf("observation %d: area %v is less than start %v", i+1, o.Area, o.Start)
		case o.Ended && o.Area == o.Start:
			return 0, fmt.Errorf("observation %d: ended at %v with no area cut since %v: leave it out", i+1, o.Area, o.Start)
		}
		if o.Ended {
			ended++
		}
	}
	return ended, nil
}
