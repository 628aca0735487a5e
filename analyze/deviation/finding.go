package deviation

import (
	"cmp"
	"math"
	"slices"
	"time"
)

// Kind says what a finding lays the deviation to.
type Kind string

// The kinds of finding.
const (
	BladeWear      Kind = "blade-wear"      // the blade wanders off as it wears
	SawAlignment   Kind = "saw-alignment"   // the saw stands off, whatever blade is on
	GuideGap       Kind = "guide-gap"       // guide arm or tension: tall cuts, or either side in turn
	FeedPushed     Kind = "feed-pushed"     // cuts are faster than standard and further off
	GradeOnly      Kind = "grade"           // one grade only
	MitreOnly      Kind = "mitre"           // mitred cuts only
	Lot            Kind = "lot"             // all blades of one lot, on whatever saw
	SensorFault    Kind = "sensor"          // the sensor, not the cut
	UnloggedChange Kind = "unlogged-change" // the blade was changed and nobody said so
	Machine        Kind = "machine"         // every grade is cut slower at once
)

// Kinds lists them, what makes the other readings worthless first and the blade
// last.
func Kinds() []Kind {
	return []Kind{SensorFault, UnloggedChange, SawAlignment, GuideGap, FeedPushed, MitreOnly, GradeOnly, Lot, Machine, BladeWear}
}

// Finding is what the deviations of a saw speak for.
type Finding struct {
	Kind   Kind
	Since  time.Time // zero: since before anything was followed, or no time known
	Last   time.Time // of the last cut that shows it; zero: it stands, or no time known
	Area   float64   // in² of the blade on then; NaN where that says nothing
	Chance float64   // that it is so, against nothing or another cause
	Facts  []Fact
}

// What names the sort of a Fact.
type What string

// The facts, each with what its Value, N and Name are.
const (
	FactOffset    What = "offset"     // what the saw stands off; N blades followed
	FactStep      What = "step"       // steps on the blade that is on: nobody knows yet whose they are; Value is its chance to be the blade's
	FactSurvived  What = "survived"   // N changes of blade that it has outlived
	FactStart     What = "start"      // level of a new blade; Name is the blade, N its readings
	FactSlope     What = "slope"      // of the deviation per 1,000 in²; N readings
	FactShare     What = "share"      // of the limit that the level has reached
	FactOdds      What = "odds"       // of a trip within the next shift
	FactPace      What = "pace"       // ln of how much faster than standard; N cuts, Name the grade
	FactBefore    What = "before"     // ln of how much faster than standard the blade before was; N cuts, Name the blade
	FactSlowing   What = "slowing"    // ln in²/min that this much wear takes, as the saw's blades show it
	FactTall      What = "tall"       // how much further off the tallest cuts are; N cuts
	FactHeights   What = "heights"    // in, from Low to High
	FactAlternate What = "alternates" // correlation of each reading with the one before; N readings
	FactWith      What = "with"       // how much further off the cuts meant are; N cuts, Name the grade
	FactOthers    What = "others"     // N other cuts
	FactLot       What = "lot"        // drift over that of other blades; N blades, Name the lot
	FactSaws      What = "saws"       // N saws
	FactSame      What = "same"       // N readings in a row say Value
	FactIdle      What = "idle"       // N trips while the saw did not cut
	FactTurn      What = "turn"       // half of what readings swing by with each turn; N readings, Name band or wheel
	FactDrop      What = "drop"       // how much nearer to square the readings came at once
)

// Fact is a number behind a finding. Low and High are 95 % limits, NaN where
// there are none.
type Fact struct {
	What             What
	Value, Low, High float64
	N                int
	Name             string
}

func fact(what What, e Estimate, n int, name string) Fact {
	return Fact{what, e.Value, e.Low, e.High, n, name}
}

func plainFact(what What, value float64, n int, name string) Fact {
	return Fact{what, value, math.NaN(), math.NaN(), n, name}
}

const (
	// told is the chance from which on a finding is told.
	told = 0.9
	// leaning is the chance from which on a step is laid to the saw before the next
	// blade has decided.
	leaning = 0.5
	// lasting is the chance that the saw stood off under the blade before from which on
	// a lean to it is still told.
	lasting = 0.7
	// wornShare is the part of the scale at which a blade that wanders off is worn.
	wornShare = 0.5
	// soon is the chance of a trip within a shift that makes wear worth telling.
	soon = 0.2
	// contrastFittings is how many fittings, the last ones, effects are looked for in.
	contrastFittings = 3
	// pushedAt is ln of how much faster than standard a pushed cut is, at least.
	pushedAt = 0.1
	// pushedOver is how many cuts in a row their mean is taken of.
	pushedOver = 5
	// minPushed is the fewest pushed cuts.
	minPushed = 15
	// slowAt is ln of how much slower than standard a grade is, at least.
	slowAt = -0.05
	// slowOver is how many cuts, the last ones, are looked at.
	slowOver = 80
	// slowSD is the standard deviation of ln of how much slower a machine gets (our
	// choice).
	slowSD = 0.1
)

// Order puts the findings that change what to do first on top.
func Order(list []Finding) {
	kinds := Kinds()
	slices.SortStableFunc(list, func(a, b Finding) int {
		return cmp.Or(cmp.Compare(slices.Index(kinds, a.Kind), slices.Index(kinds, b.Kind)), cmp.Compare(b.Chance, a.Chance))
	})
}
