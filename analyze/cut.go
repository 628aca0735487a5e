package analyze

import "math"

// Purpose says what a cut was for. All of them wear the blade.
type Purpose string

// The purposes of a cut.
const (
	PurposePart  Purpose = "part"
	PurposeTrim  Purpose = "trim"
	PurposeTrial Purpose = "trial"
)

// Place says where a band broke.
type Place string

// The places a band breaks at.
const (
	PlaceWeld    Place = "weld"
	PlaceBody    Place = "body"
	PlaceUnknown Place = "unknown"
)

// Cut is one pass of the blade through metal: a finished cut, one that a
// deviation trip stopped, or one that a blade break ended.
type Cut struct {
	Seconds   *float64 // s, tooth touch to breakthrough (or to the stop)
	Section   string   // designation, or the section object as compact JSON; "" when only an area was given
	Square    *float64 // in², square-cut area of one bar
	Height    *float64 // in, height of the section as it lay (of the stack when that is known)
	Count     int      // bars cut together, ≥ 1
	Mitre     float64  // degrees from a square cut, in (-85, 85)
	FromAxis  bool     // the saw counted the angle from the bar's axis (90 = square); Mitre is already converted
	Grade     string   // as the saw sent it, "" when it did not
	BandSpeed *float64 // ft/min
	Feed      *float64 // in/min
	Pressure  *float64 // psi
	Deviation *float64 // in, signed
	Limit     *float64 // in, the trip limit in force
	Serial    string   // the blade the saw believes it has, "" when it does not say
	Job       string
	Piece     string
	Purpose   Purpose
	From      float64  // share of the section already cut when this pass began, in [0, 1)
	Done      *float64 // share of the section cut when it stopped; nil for a finished cut or when unknown
	Estimated bool     // Done was estimated, not told
	Where     Place    // of a break, else ""
}

// Share is the share of the section this pass went through: 1 - From for a
// finished cut, Done - From for one that stopped; nil when Done is unknown.
func (c *Cut) Share(kind Kind) *float64 {
	end := 1.0
	if kind != KindCut {
		if c.Done == nil {
			return nil
		}
		end = *c.Done
	}
	s := math.Max(0, end-c.From)
	return &s
}

// Area is what the pass cut, in in²: square area × bars / cos(mitre) × share.
// The slanted face of a prism cut at an angle from square is its square
// section over the cosine of that angle, whatever the section (projection of
// a plane area). It is nil when the area or the share is unknown.
func (c *Cut) Area(kind Kind) *float64 {
	share := c.Share(kind)
	if c.Square == nil || share == nil {
		return nil
	}
	a := c.Face() * *share
	return &a
}

// Face is the whole slanted face in in², as if the cut had been finished from
// the start; NaN when the square area is unknown.
func (c *Cut) Face() float64 {
	if c.Square == nil {
		return math.NaN()
	}
	return *c.Square * float64(c.Count) / math.Cos(c.Mitre*math.Pi/180)
}

// Travel is the length of band that passed through the cut, in ft: band speed
// × time. It is nil when either is unknown.
func (c *Cut) Travel() *float64 {
	if c.BandSpeed == nil || c.Seconds == nil {
		return nil
	}
	t := *c.BandSpeed * *c.Seconds / 60
	return &t
}

// EstimateDone is the share of the section a stopped pass had cut, from its
// time in the cut at the given rate (in²/min): From + rate × time / face,
// capped at 1. It is nil when face, time or rate is unknown or not positive.
func (c *Cut) EstimateDone(rate float64) *float64 {
	face := c.Face()
	if c.Seconds == nil || !(face > 0) || !(rate > 0) {
		return nil
	}
	d := math.Min(1, c.From+rate**c.Seconds/60/face)
	return &d
}
