package section

import (
	"fmt"
	"slices"
	"strings"
)

// The lengths a section may have, in inches. Nothing thinner is sawn, and
// nothing larger fits a saw; both catch a slip of the unit.
const (
	minLength = 0.001
	maxLength = 120.0
)

// The weight per foot (lb/ft) and density (lb/in³) a bar may have. The largest
// weight is a solid of 120 × 120 in of steel; densities reach from below
// magnesium (0.063) to above tungsten (0.70).
const (
	minPerFt, maxPerFt     = 0.01, 50_000.0
	minDensity, maxDensity = 0.03, 0.85
)

// dimension is a member of a section: its name in the message contract and
// where it is kept. One table of them serves reading, checking and the text of
// errors, so that none of the three can forget a member.
type dimension struct {
	name string
	of   func(*Section) *float64
}

var (
	dimDiameter  = dimension{"diameter", func(s *Section) *float64 { return &s.Diameter }}
	dimWidth     = dimension{"width", func(s *Section) *float64 { return &s.Width }}
	dimHeight    = dimension{"height", func(s *Section) *float64 { return &s.Height }}
	dimFlats     = dimension{"flats", func(s *Section) *float64 { return &s.Flats }}
	dimWall      = dimension{"wall", func(s *Section) *float64 { return &s.Wall }}
	dimLeg1      = dimension{"leg1", func(s *Section) *float64 { return &s.Leg1 }}
	dimLeg2      = dimension{"leg2", func(s *Section) *float64 { return &s.Leg2 }}
	dimThickness = dimension{"thickness", func(s *Section) *float64 { return &s.Thickness }}
	dimDepth     = dimension{"depth", func(s *Section) *float64 { return &s.Depth }}
	dimFlange    = dimension{"flange_width", func(s *Section) *float64 { return &s.FlangeWidth }}
	dimFlangeTh  = dimension{"flange_thickness", func(s *Section) *float64 { return &s.FlangeThickness }}
	dimWeb       = dimension{"web_thickness", func(s *Section) *float64 { return &s.WebThickness }}

	rolledDims = []dimension{dimDepth, dimFlange, dimFlangeTh, dimWeb}
)

// lengths says which lengths make a shape; a section needs all of them.
var lengths = map[Shape][]dimension{
	Round:     {dimDiameter},
	Rect:      {dimWidth, dimHeight},
	Hex:       {dimFlats},
	RoundTube: {dimDiameter, dimWall},
	RectTube:  {dimWidth, dimHeight, dimWall},
	Angle:     {dimLeg1, dimLeg2, dimThickness},
	Channel:   rolledDims,
	Beam:      rolledDims,
	Tee:       rolledDims,
	Weight:    {},
}

// Check returns an error of one line when the section cannot exist: a shape or
// lay Gullet does not know, a length outside 0.001 to 120 in, a wall that
// leaves no hole, a web thicker than the flange is wide and the like.
func (s Section) Check() error {
	dims, ok := lengths[s.Shape]
	if !ok {
		return fmt.Errorf("shape %.40q is not known, allowed are %s", s.Shape, list(Shapes()))
	}
	for _, d := range dims {
		if v := *d.of(&s); !(v >= minLength && v <= maxLength) {
			return fmt.Errorf("%s: %s is %.6g in, allowed is %g to %g in", s.Shape, d.name, v, minLength, maxLength)
		}
	}
	if err := s.checkWeight(); err != nil {
		return err
	}
	if err := s.checkFit(); err != nil {
		return err
	}
	return s.checkLay()
}

// checkWeight checks weight and density. Other shapes than Weight have a
// weight only when they come from a designation.
func (s Section) checkWeight() error {
	if (s.Shape == Weight || s.PerFt != 0) && !(s.PerFt >= minPerFt && s.PerFt <= maxPerFt) {
		return fmt.Errorf("%s: per_ft is %.6g lb/ft, allowed is %g to %g lb/ft", s.Shape, s.PerFt, minPerFt, maxPerFt)
	}
	if s.Density != 0 && !(s.Density >= minDensity && s.Density <= maxDensity) {
		return fmt.Errorf("%s: density is %.6g lb/in³, allowed is %g to %g lb/in³", s.Shape, s.Density, minDensity, maxDensity)
	}
	return nil
}

// checkFit checks the lengths against each other: metal must be left between
// two opposite sides, or the area turns negative and the chord means nothing.
// Equality is refused too; a tube without a hole is a bar.
func (s Section) checkFit() error {
	under := func(name string, v, limit float64, what string) error {
		if v < limit {
			return nil
		}
		return fmt.Errorf("%s: %s is %.6g in, allowed is less than %s (%.6g in)", s.Shape, name, v, what, limit)
	}
	switch s.Shape {
	case RoundTube:
		return under("wall", s.Wall, s.Diameter/2, "half the diameter")
	case RectTube:
		if err := under("wall", s.Wall, min(s.Width, s.Height)/2, "half the narrow side"); err != nil {
			return err
		}
		most := min(s.Width, s.Height) / 2
		if r := s.OuterRadius; r != nil && !(*r >= 0 && *r <= most) {
			return fmt.Errorf("%s: outer_radius is %.6g in, allowed is 0 to half the narrow side (%.6g in)", s.Shape, *r, most)
		}
	case Angle:
		return under("thickness", s.Thickness, min(s.Leg1, s.Leg2), "the shorter leg")
	case Channel, Beam, Tee:
		if err := under("web_thickness", s.WebThickness, s.FlangeWidth, "the flange width"); err != nil {
			return err
		}
		if s.Shape == Tee {
			return under("flange_thickness", s.FlangeThickness, s.Depth, "the depth")
		}
		return under("flange_thickness", s.FlangeThickness, s.Depth/2, "half the depth")
	}
	return nil
}

// checkLay checks the lay. Only a square bar stands on its corner: of any
// other rectangle nobody could say at what angle.
func (s Section) checkLay() error {
	if s.Lay == "" {
		return nil
	}
	lays := Lays(s.Shape)
	if len(lays) == 0 {
		return fmt.Errorf("%s: lay is %.40q, but this shape has none: leave it out", s.Shape, s.Lay)
	}
	if !slices.Contains(lays, s.Lay) {
		return fmt.Errorf("%s: lay is %.40q, allowed are %s", s.Shape, s.Lay, list(lays))
	}
	if s.Shape == Rect && s.Lay == OnCorner && s.Width != s.Height {
		return fmt.Errorf("%s: lay is %q, allowed only for a square bar, this one is %.6g × %.6g in", s.Shape, s.Lay, s.Width, s.Height)
	}
	return nil
}

// withLay fills in the default lay.
func (s Section) withLay() Section {
	if lays := Lays(s.Shape); s.Lay == "" && len(lays) > 0 {
		s.Lay = lays[0]
	}
	return s
}

// list writes words as people read them.
func list[T ~string](words []T) string {
	all := make([]string, len(words))
	for i, w := range words {
		all[i] = string(w)
	}
	return strings.Join(all, ", ")
}
