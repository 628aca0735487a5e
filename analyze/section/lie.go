package section

import "math"

// How each shape lies. Every shape is drawn once, upright in its default lay;
// the other lays are that drawing with its sides changed over (a quarter turn)
// or turned top to bottom, so a shape and its lays cannot disagree. Only what
// stands at 45° is drawn on its own.

// outline draws the section as it lies; nil when its dimensions are unknown.
// The section must pass Check.
func (s Section) outline() outline {
	s = s.withLay()
	switch s.Lay {
	case OnCorner:
		if s.Shape == Hex {
			return s.upright().turned()
		}
		return squareOnCorner(s.Width)
	case Tent:
		return s.tent()
	case Vee:
		return s.tent().flipped()
	case Turned, WebHorizontal, ToesDown, StemHorizontal:
		return s.upright().turned()
	case ToesUp:
		return s.upright().turned().flipped()
	case LegsDown, StemDown:
		return s.upright().flipped()
	}
	return s.upright()
}

// upright draws the section in its default lay.
func (s Section) upright() outline {
	switch s.Shape {
	case Round:
		return outline{disc(s.Diameter)}
	case Rect:
		return outline{box{x1: s.Width, y1: s.Height}}
	case Hex:
		return hexOnFlat(s.Flats)
	case RoundTube:
		return outline{disc(s.Diameter), bore(s.Diameter, s.Diameter, s.Wall, s.Diameter/2-s.Wall)}
	case RectTube:
		outer, inner := s.radii()
		return outline{box{x1: s.Width, y1: s.Height, r: outer}, bore(s.Width, s.Height, s.Wall, inner)}
	case Angle:
		// An L cut into the upright leg and the whole flat one, which share
		// no metal. The edge between them is one number, used by both, so that
		// no sliver opens there by rounding.
		foot := s.Leg2 - s.Thickness
		return outline{box{x1: s.Thickness, y1: foot}, box{x1: s.Leg1, y0: foot, y1: s.Leg2}}
	case Channel:
		return s.flanged(0)
	case Beam:
		return s.flanged((s.FlangeWidth - s.WebThickness) / 2)
	case Tee:
		foot, left := s.Depth-s.FlangeThickness, (s.FlangeWidth-s.WebThickness)/2
		return outline{
			box{x0: left, x1: left + s.WebThickness, y1: foot},
			box{x1: s.FlangeWidth, y0: foot, y1: s.Depth},
		}
	}
	return nil
}

// flanged draws two flanges and the web between them, left from their edge: 0
// for a channel, the middle for a beam. Flanges are even and corners sharp:
// taper, fillets and toe radii are left out, which hides 0.3 to 2 % of the
// area and touches the contact only near the web.
func (s Section) flanged(left float64) outline {
	top, foot := s.FlangeThickness, s.Depth-s.FlangeThickness
	return outline{
		box{x1: s.FlangeWidth, y1: top},
		box{x0: left, x1: left + s.WebThickness, y0: top, y1: foot},
		box{x1: s.FlangeWidth, y0: foot, y1: s.Depth},
	}
}

// disc is a round bar: a square of side d with corners of half its side.
func disc(d float64) piece { return box{x1: d, y1: d, r: d / 2} }

// bore is the hole in a tube of the given outside; r is the radius of its own
// corners.
func bore(width, height, wall, r float64) piece {
	return box{x0: wall, y0: wall, x1: width - wall, y1: height - wall, r: r, hole: true}
}

// squareOnCorner draws a square bar standing on an edge: a diamond with the
// diagonal side·√2 as its height and width.
func squareOnCorner(side float64) outline {
	h := side / math.Sqrt2 // half the diagonal
	return outline{polygon{{h, 0}, {2 * h, h}, {h, 2 * h}, {0, h}}}
}

// hexOnFlat draws a hexagon lying on one side; f is across flats, a side is
// f/√3 and the width across corners 2f/√3.
func hexOnFlat(f float64) outline {
	q := f / math.Sqrt(3) / 2 // half a side
	return outline{polygon{{q, 0}, {3 * q, 0}, {4 * q, f / 2}, {3 * q, f}, {q, f}, {0, f / 2}}}
}

// tent draws an angle with its heel on top and its legs down at 45°: the L
// about its heel, turned by an eighth. Leg 1 goes down to the right.
func (s Section) tent() outline {
	a, b, t := s.Leg1, s.Leg2, s.Thickness
	at := func(along1, along2 float64) point {
		return point{(along1 - along2 + b) / math.Sqrt2, (along1 + along2) / math.Sqrt2}
	}
	return outline{
		polygon{at(0, 0), at(a, 0), at(a, t), at(0, t)},
		polygon{at(0, t), at(t, t), at(t, b), at(0, b)},
	}
}
