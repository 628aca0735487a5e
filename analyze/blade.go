package analyze

import "time"

// BladeAction is what was done with a blade.
type BladeAction string

// The actions on a blade.
const (
	ActionFit    BladeAction = "fit"
	ActionRemove BladeAction = "remove"
)

// EndReason says why a blade left the saw.
type EndReason string

// The reasons for taking a blade off. ReasonBroke is Gullet's own for a break
// reading that does not say where the band broke.
const (
	ReasonPlanned   EndReason = "planned"
	ReasonDull      EndReason = "dull"
	ReasonCrooked   EndReason = "crooked"
	ReasonStripped  EndReason = "stripped"
	ReasonBrokeWeld EndReason = "broke-weld"
	ReasonBrokeBody EndReason = "broke-body"
	ReasonBroke     EndReason = "broke"
	ReasonDamaged   EndReason = "damaged"
	ReasonMoved     EndReason = "moved"
	ReasonUnknown   EndReason = "unknown"
)

// EndReasons lists the reasons a saw may send.
func EndReasons() []EndReason {
	return []EndReason{
		ReasonPlanned, ReasonDull, ReasonCrooked, ReasonStripped, ReasonBrokeWeld,
		ReasonBrokeBody, ReasonDamaged, ReasonMoved, ReasonUnknown,
	}
}

// Ends reports whether the reason is the end of the blade's life. A planned
// change, a move and an unknown reason are not: the blade had life left that
// nobody saw the end of (it is censored).
func (r EndReason) Ends() bool {
	switch r {
	case ReasonDull, ReasonCrooked, ReasonStripped, ReasonBrokeWeld, ReasonBrokeBody, ReasonBroke, ReasonDamaged:
		return true
	}
	return false
}

// BladeChange is the body of a blade reading.
type BladeChange struct {
	Action BladeAction
	Serial string
	Type   string    // name of the blade type, "" when not said
	Reason EndReason // of a removal, else ""
}

// Fitting is one blade on one saw from a time to a time. The same serial hung
// twice is one blade with two fittings.
type Fitting struct {
	ID     int64 // the store's number, 0 before it has one
	Saw    string
	Serial string // "" for a blade nobody named
	Type   string // "" when not known
	Start  time.Time
	End    time.Time // zero while it is on the saw
	Reason EndReason // "" while it is on the saw
	Basis  Basis     // how Gullet knows of it
	Note   string    // what a person should know about how it began or ended, "" when nothing
}

// Open reports whether the blade is still on the saw.
func (f Fitting) Open() bool { return f.End.IsZero() }

// Basis says on what evidence a fitting stands.
type Basis string

// The bases of a fitting, weakest last.
const (
	BasisCorrection Basis = "correction" // a person's record
	BasisMessage    Basis = "message"    // a blade message
	BasisCut        Basis = "cut"        // the serial carried by a cut, no blade message said otherwise
	BasisNone       Basis = "none"       // cuts were made with no known blade
)

// GradeTotal is what one fitting has done in one grade. Grade is as the saw
// sent it; class and severity are looked up when it is read, so that mending
// the configuration mends the history.
type GradeTotal struct {
	Grade         string
	Area          float64 // in²
	Cuts          int64   // passes through metal: cuts, trips and breaks
	Seconds       float64 // s in the cut
	Travel        float64 // ft of band through the cut
	AreaUnknown   int64   // passes whose area is not known and is missing from Area
	TravelUnknown int64   // passes whose band travel is not known and is missing from Travel
}
