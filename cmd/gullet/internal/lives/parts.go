package lives

import (
	"math"
	"time"

	"gullet/analyze"
	"gullet/analyze/life"
	"gullet/store"
)

// Part is one way in which blades of a type end, from where one blade stands on
// that way's clock.
type Part struct {
	Cause analyze.EndReason // "" where the curve is of several ways, or nobody told it

	area, bends stand
}

// stand is a curve and where a blade stands on its clock.
type stand struct {
	curve        *life.Weibull
	cut, counted float64
}

// Survives is the chance that the blade has not ended this way after so much more
// weighted in² and bends of the band, the doubt of the fit folded in. Breaks of the
// body go by bends where those are known; NaN is not known.
func (p Part) Survives(area, bends float64) float64 {
	if p.bends.curve != nil && !math.IsNaN(bends) {
		return p.bends.curve.Survives(p.bends.cut, p.bends.counted, bends)
	}
	return p.area.curve.Survives(p.area.cut, p.area.counted, area)
}

// Parts are the ways in which a blade of an open fitting may end.
func (s *Shop) Parts(f *Forecast, b *Blade) []Part {
	parts := s.parts(s.types[b.Type])
	for i := range parts {
		p := &parts[i]
		p.area.cut, p.area.counted = f.cut, f.counted
		if b.bends == nil {
			p.bends.curve = nil
			continue
		}
		if p.bends.cut = *b.bends; f.counted > 0 {
			p.bends.counted = *b.bends
		}
	}
	return parts
}

// NewParts are the ways in which a new blade of a type may end; nil where no life
// can be told.
func (s *Shop) NewParts(kind string) []Part { return s.parts(s.types[kind]) }

// parts are the curves of a type. Breaks of the body go by bends of the band where
// all its blades' bends are known, since fatigue counts those.
func (s *Shop) parts(t *TypeLife) []Part {
	if t == nil || t.Fit == nil {
		return nil
	}
	ways, ok := t.forecast.(life.Ways)
	if !ok {
		cause, _ := t.onlyWay()
		return []Part{{Cause: cause, area: stand{curve: t.Fit}}}
	}
	var list []Part
	for i := range ways.Curves {
		p := Part{Cause: reasonOf(ways.Causes[i]), area: stand{curve: &ways.Curves[i]}}
		if p.Cause == analyze.ReasonBrokeBody {
			p.bends.curve = t.fatigue()
		}
		list = append(list, p)
	}
	return list
}

// fitFatigue fits the bends at which bodies broke, all other ends censored; nil where
// the bends of some blade that cut are not known, or no curve fits.
func (t *TypeLife) fitFatigue() *life.Weibull {
	if t.unbent {
		return nil
	}
	w, err := life.FitWeibull(t.bends)
	if err != nil {
		return nil
	}
	return &w
}

// Fittings lists the fittings that the shop was gathered from, by saw and time.
func (s *Shop) Fittings() []store.FittingRow { return s.fittings }

// On lists the open fittings of a saw.
func (s *Shop) On(saw string) (list []*store.FittingRow) {
	for i := range s.fittings {
		if f := &s.fittings[i]; f.Saw == saw && f.Open() {
			list = append(list, f)
		}
	}
	return list
}

// Usual is what a saw cut in the fittings of the last days.
type Usual struct {
	Area, Weighted float64 // in² in all
	Seconds        float64 // in the cut
	Bends          float64 // per in²
}

// Usual sums what a saw cut in the fittings that were on in the last days.
func (s *Shop) Usual(saw string, now time.Time) Usual {
	var u Usual
	perTravel := s.bendsPerTravel(saw)
	bends, known := 0.0, perTravel > 0
	for i := range s.fittings {
		f := &s.fittings[i]
		if f.Saw != saw || !f.Open() && !f.End.After(now.AddDate(0, 0, -mixDays)) {
			continue
		}
		for _, t := range f.Totals {
			u.Area += t.Area
			u.Weighted += t.Area * s.Weight(t.Grade)
			u.Seconds += t.Seconds
			bends += t.Travel * perTravel
			known = known && t.TravelUnknown == 0 && t.AreaUnknown == 0
		}
	}
	u.Bends = math.NaN()
	if known && u.Area > 0 {
		u.Bends = bends / u.Area
	}
	return u
}

// Bends is the bends of the band in all, nil where not known.
func (b *Blade) Bends() *float64 { return b.bends }
