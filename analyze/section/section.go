package section

import (
	"math"

	"gullet/analyze"
)

// Shape is the kind of cross-section.
type Shape string

// The shapes. A Weight is a bar of which only the weight per foot is known.
const (
	Round     Shape = "round"
	Rect      Shape = "rect"
	Hex       Shape = "hex"
	RoundTube Shape = "round-tube"
	RectTube  Shape = "rect-tube"
	Angle     Shape = "angle"
	Channel   Shape = "channel"
	Beam      Shape = "beam"
	Tee       Shape = "tee"
	Weight    Shape = "weight"
)

// Shapes lists every shape in the order people are shown them.
func Shapes() []Shape {
	return []Shape{Round, Rect, Hex, RoundTube, RectTube, Angle, Channel, Beam, Tee, Weight}
}

// Lay is which side of the bar the blade meets, named by how the bar lies on
// the saw seen along its axis.
type Lay string

// The lays. Which of them a shape has, Lays says.
const (
	AsGiven        Lay = "as-given"        // rect, rect-tube: width across, height up
	Turned         Lay = "turned"          // rect, rect-tube: a quarter turn, height across
	OnCorner       Lay = "on-corner"       // square bar, hex: standing on an edge
	OnFlat         Lay = "on-flat"         // hex: lying on one of its sides
	Heel           Lay = "heel"            // angle as an L: leg1 flat at the bottom, leg2 upright
	LegsDown       Lay = "legs-down"       // angle as the L turned over: leg1 flat at the top, leg2 down
	Tent           Lay = "tent"            // angle with its heel on top, both legs down at 45°
	Vee            Lay = "vee"             // angle with its heel at the bottom, both legs up at 45°
	WebVertical    Lay = "web-vertical"    // beam as an I, channel as a [
	WebHorizontal  Lay = "web-horizontal"  // beam as an H
	ToesUp         Lay = "toes-up"         // channel on its web
	ToesDown       Lay = "toes-down"       // channel on its toes
	StemUp         Lay = "stem-up"         // tee on its flange
	StemDown       Lay = "stem-down"       // tee as a T
	StemHorizontal Lay = "stem-horizontal" // tee on its side
)

// Lays lists the lays of a shape, the default first. It is empty for a shape
// that has no sides to choose from (rounds) or none that are known (weight).
func Lays(sh Shape) []Lay {
	switch sh {
	case Rect:
		return []Lay{AsGiven, Turned, OnCorner}
	case RectTube:
		return []Lay{AsGiven, Turned}
	case Hex:
		return []Lay{OnFlat, OnCorner}
	case Angle:
		return []Lay{Heel, LegsDown, Tent, Vee}
	case Channel:
		return []Lay{WebVertical, ToesUp, ToesDown}
	case Beam:
		return []Lay{WebVertical, WebHorizontal}
	case Tee:
		return []Lay{StemUp, StemDown, StemHorizontal}
	}
	return nil
}

// Section is one bar as it lies on the saw. Lengths are in inches; a length
// the shape does not have is 0.
type Section struct {
	Shape Shape
	Lay   Lay // "" is the default of the shape

	Diameter        float64  // round, round-tube: outside
	Width           float64  // rect, rect-tube: across, as given
	Height          float64  // rect, rect-tube: up, as given
	Flats           float64  // hex: across flats
	Wall            float64  // tubes: nominal wall
	OuterRadius     *float64 // rect-tube: outside corner; nil is twice the wall
	Leg1            float64  // angle: the leg that lies flat
	Leg2            float64  // angle: the other leg
	Thickness       float64  // angle: of both legs
	Depth           float64  // channel, beam, tee: overall
	FlangeWidth     float64  // channel, beam, tee
	FlangeThickness float64  // channel, beam, tee: the mean where the flange tapers
	WebThickness    float64  // channel, beam, tee

	PerFt       float64 // lb/ft; when set, the area follows from it and not from the dimensions
	Density     float64 // lb/in³, goes with PerFt; 0 is steel at 3.4 lb/ft per in²
	Designation string  // canonical spelling, "" for a section given by its dimensions
}

// steelPerFt is the weight of a foot of steel of one square inch as the
// structural tables use it (from memory). 490 lb/ft³ gives 3.4028: 0.08 % more.
const steelPerFt = 3.4

// Area is the area of a square cut through one bar, in in². Where PerFt is
// set it is the weight per foot over that of one square inch; otherwise it is
// the area of the shape made of plates with sharp corners, save that the
// rectangular tube is rounded. The section must pass Check.
func (s Section) Area() float64 {
	if s.PerFt > 0 {
		if s.Density > 0 {
			return s.PerFt / (12 * s.Density)
		}
		return s.PerFt / steelPerFt
	}
	web := s.WebThickness
	switch s.Shape {
	case Round:
		return math.Pi * s.Diameter * s.Diameter / 4
	case Rect:
		return s.Width * s.Height
	case Hex:
		return math.Sqrt(3) / 2 * s.Flats * s.Flats
	case RoundTube:
		return math.Pi * s.Wall * (s.Diameter - s.Wall)
	case RectTube:
		outer, inner := s.radii()
		return 2*s.Wall*(s.Width+s.Height-2*s.Wall) - (4-math.Pi)*(outer*outer-inner*inner)
	case Angle:
		return s.Thickness * (s.Leg1 + s.Leg2 - s.Thickness)
	case Channel, Beam:
		return 2*s.FlangeWidth*s.FlangeThickness + (s.Depth-2*s.FlangeThickness)*web
	case Tee:
		return s.FlangeWidth*s.FlangeThickness + (s.Depth-s.FlangeThickness)*web
	}
	return math.NaN()
}

// radii are the outside and inside corner radii of a rectangular tube: twice
// the wall and the wall unless an outside radius is given. A heavy wall leaves
// room for less; then the narrow side is a half circle. The two corners share
// their centre, so an outside radius below the wall leaves a sharp inside.
func (s Section) radii() (outer, inner float64) {
	outer = min(2*s.Wall, s.Width/2, s.Height/2)
	if s.OuterRadius != nil {
		outer = *s.OuterRadius
	}
	return outer, max(0, outer-s.Wall)
}

// HeightWidth is the box around one bar as it lies, in inches. ok is false
// when the dimensions are not known.
func (s Section) HeightWidth() (height, width float64, ok bool) {
	metal := s.outline()
	if metal == nil {
		return 0, 0, false
	}
	width, height = metal.size()
	return height, width, true
}

// CutArea is the area in in² that one cut goes through: the square area of one
// bar × the bars cut together / cos(mitre). The angle adds the same area
// whatever the section and whatever the saw does to make it.
func CutArea(square float64, count int, mitre float64) float64 {
	c := analyze.Cut{Square: &square, Count: count, Mitre: mitre}
	return c.Face()
}
