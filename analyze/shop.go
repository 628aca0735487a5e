package analyze

// SawKind says how a saw makes a mitre, which decides what the angle does to
// the length of the blade in the metal.
type SawKind string

// The kinds of saw.
const (
	TiltingColumn SawKind = "tilting-column" // vertical blade; the column leans, vertical dimensions stretch
	SwivelFrame   SawKind = "swivel-frame"   // horizontal blade; the head turns, horizontal dimensions stretch
	FixedFrame    SawKind = "fixed"          // horizontal blade, square cuts only
)

// SawKinds lists every kind of saw.
func SawKinds() []SawKind { return []SawKind{TiltingColumn, SwivelFrame, FixedFrame} }

// Saw is what the shop knows of one machine. Nil is unknown.
type Saw struct {
	Name          string
	Kind          SawKind
	BandLength    *float64 // ft, developed length of the loop
	WheelDiameter *float64 // in
	TripLimit     *float64 // in, deviation at which the saw stops itself
	GuideGap      *float64 // in, free band between the guides
	MitreFromAxis bool     // its scale reads 90 for a square cut
}

// BladeType is a kind of blade the shop buys.
type BladeType struct {
	Name      string
	Width     *float64 // in, tooth tip to back
	Thickness *float64 // in
	TPI       string   // "3" or variable "3/4"
	Teeth     string   // tooth material, e.g. "bimetal", "carbide"
	Price     *float64 // in the shop's currency
}

// Grade is a material and how it treats a blade.
type Grade struct {
	Name      string
	Others    []string // other names the saws use for it
	Class     string   // materials that wear a blade alike
	Severity  float64  // wear per in² relative to the reference class (1)
	BandSpeed float64  // ft/min, usual
	Rate      float64  // in²/min, usual with a sharp blade
	Source    string   // "handbook", "common practice" or "shop"
}
