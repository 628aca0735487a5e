package section

import (
	"math"
	"slices"
)

// Stretch is a part of the stroke in which the contact only rises, only falls
// or stays. Lengths are in inches, depths from where the blade touches: from
// the top on a horizontal blade, from the left on a vertical one.
type Stretch struct {
	From, To   float64 // depths
	Begin, End float64 // contact at From, after a step there, and at To, before one
	Area       float64 // in² cut in it
}

// Least and Most are the bounds of the contact in it.
func (s Stretch) Least() float64 { return min(s.Begin, s.End) }

// Most is the most contact in it.
func (s Stretch) Most() float64 { return max(s.Begin, s.End) }

// rounding is the relative size under which two depths, contacts or numbers of
// teeth are one.
const rounding = 1e-9

// even says whether the contact stays.
func (s Stretch) even() bool { return math.Abs(s.Begin-s.End) <= rounding*s.Most() }

// Stretches are the stroke through one bar, in order: where a vertical blade
// meets several bars, each repeats them. They end where the contact steps or
// bends; those in which it changes are divided evenly, all into as many parts,
// as long as no more than upTo come of it. Errors are those of Contact.
//
// Areas are those of the outline, in closed form; they add up to the area of
// the shape made of plates, which a rolled shape's published weight exceeds by
// its fillets (0.3 to 2 %).
func (s Section) Stretches(p Pass, upTo int) ([]Stretch, error) {
	w, err := s.swath(p)
	if err != nil {
		return nil, err
	}
	whole := w.stretches()
	changing := 0
	for _, st := range whole {
		if !st.even() {
			changing++
		}
	}
	parts := 1
	if changing > 0 {
		parts = max(1, (upTo-len(whole)+changing)/changing)
	}
	var all []Stretch
	for _, st := range whole {
		from := st.From
		for k := 1; k < parts && !st.even(); k++ {
			to := st.From + (st.To-st.From)*float64(k)/float64(parts)
			all = append(all, w.stretch(from, to))
			from = to
		}
		all = append(all, w.stretch(from, st.To)) // to the level itself: beyond it may be a step
	}
	return all, nil
}

// stretches are those between two levels. Levels that differ by rounding, as
// of two corners about one centre, are one.
func (w swath) stretches() []Stretch {
	var all []Stretch
	ys := w.levels()
	for i := 1; i < len(ys); i++ {
		if ys[i]-ys[i-1] > rounding*w.stroke {
			all = append(all, w.stretch(ys[i-1], ys[i]))
		}
	}
	return all
}

func (w swath) stretch(from, to float64) Stretch {
	return Stretch{
		From: from, To: to,
		Begin: w.metal.chord(from, true) * w.factor,
		End:   w.metal.chord(to, false) * w.factor,
		Area:  (w.metal.above(to) - w.metal.above(from)) * w.factor,
	}
}

// Thinnest is where the fewest teeth are in the metal, and where a saw that
// holds its cutting rate feeds each the most: the longest stretch of the least
// contact, the first of several, or its depth (From is To) where the contact
// changes. The run-in is left out as in Contact.Min. Errors are those of Contact.
func (s Section) Thinnest(p Pass) (Stretch, error) {
	w, err := s.swath(p)
	if err != nil {
		return Stretch{}, err
	}
	from, to := w.settled()
	least := Stretch{Begin: math.Inf(1), End: math.Inf(1)}
	for _, st := range w.stretches() {
		a, b := max(st.From, from), min(st.To, to)
		if b-a <= rounding*w.stroke {
			continue
		}
		st = w.stretch(a, b).thinnest()
		less, more := least.Least()*(1-rounding), least.Least()*(1+rounding)
		if st.Least() < less || st.Least() <= more && st.To-st.From > least.To-least.From+rounding*w.stroke {
			least = st
		}
	}
	return least, nil
}

// thinnest is the part of a stretch with its least contact: one depth, or all of
// it where the contact stays.
func (s Stretch) thinnest() Stretch {
	switch {
	case s.even():
		return s
	case s.Begin < s.End:
		return Stretch{From: s.From, To: s.From, Begin: s.Begin, End: s.Begin}
	}
	return Stretch{From: s.To, To: s.To, Begin: s.End, End: s.End}
}

// Share is how much of a cut goes with a number of teeth in the metal.
type Share struct {
	From, To float64 // teeth; To is +Inf in the last
	Stroke   float64 // share of the stroke, 0 to 1
	Area     float64 // share of the cut area, 0 to 1
}

// bounds of the numbers of teeth that Shares tells apart: by common practice 3
// at least, 6 to 12 best and 24 at most.
var bounds = []float64{0, 3, 6, 12, 24, math.Inf(1)}

// Shares divides the cut by the teeth in the metal at tpi teeth per inch: fewer
// than 3, 3 to 6, 6 to 12, 12 to 24 and more than 24; exactly 12 and 24 belong
// below. The depths at which the number passes a bound are found to 1e-12 of
// the stroke, the areas between them are in closed form. Errors are those of
// Contact; all shares are NaN unless tpi is above 0 and finite.
func (s Section) Shares(p Pass, tpi float64) ([]Share, error) {
	w, err := s.swath(p)
	if err != nil {
		return nil, err
	}
	shares := make([]Share, len(bounds)-1)
	var stroke, area float64
	for i := range shares {
		shares[i] = Share{From: bounds[i], To: bounds[i+1]}
	}
	for _, st := range w.stretches() {
		for _, part := range w.divided(st, tpi) {
			to := &shares[band(tpi*w.metal.chord((part.From+part.To)/2, true)*w.factor)]
			to.Stroke += part.To - part.From
			to.Area += part.Area
		}
		stroke += st.To - st.From
		area += st.Area
	}
	if !(tpi > 0) || math.IsInf(tpi, 1) {
		stroke = math.NaN()
		area = stroke
	}
	for i := range shares {
		shares[i].Stroke /= stroke
		shares[i].Area /= area
	}
	return shares, nil
}

// band is the share that a number of teeth belongs to.
func band(teeth float64) int {
	switch {
	case teeth > 24*(1+rounding):
		return 4
	case teeth > 12*(1+rounding):
		return 3
	case teeth >= 6*(1-rounding):
		return 2
	case teeth >= 3*(1-rounding):
		return 1
	}
	return 0
}

// divided parts a stretch where its number of teeth passes a bound.
func (w swath) divided(st Stretch, tpi float64) []Stretch {
	at := []float64{st.From, st.To}
	for _, teeth := range bounds[1 : len(bounds)-1] {
		if contact := teeth / tpi; st.Least() < contact && contact < st.Most() {
			at = append(at, w.depth(st, contact))
		}
	}
	slices.Sort(at)
	var parts []Stretch
	for i := 1; i < len(at); i++ {
		parts = append(parts, w.stretch(at[i-1], at[i]))
	}
	return parts
}

// depth finds by halving where within a stretch the contact passes a value.
func (w swath) depth(st Stretch, contact float64) float64 {
	low, high := st.From, st.To
	for range 40 {
		mid := (low + high) / 2
		if (w.metal.chord(mid, true)*w.factor < contact) == (st.Begin < st.End) {
			low = mid
		} else {
			high = mid
		}
	}
	return (low + high) / 2
}

// Drive is how a blade goes through the metal. A saw holds its cutting rate or
// its feed while the contact changes: the one it does not hold is 0.
type Drive struct {
	Rate  float64 // in²/min
	Feed  float64 // in/min
	Speed float64 // of the band, ft/min
	TPI   float64 // teeth per inch
}

// Bite is the feed per tooth in inches where so much is in contact,
//
//	feed/(12·speed·tpi),   feed = rate/contact where the rate is held,
//
// +Inf where nothing is in contact at a held rate, and NaN unless speed, tpi and
// one of rate and feed are above 0.
//
// Source: kinematics of a band (the project's domain reference, section 3).
func (d Drive) Bite(contact float64) float64 {
	feed := d.Feed
	if d.Rate > 0 {
		feed = d.Rate / contact
	}
	if !(feed > 0 && d.Speed > 0 && d.TPI > 0) {
		return math.NaN()
	}
	return feed / (12 * d.Speed * d.TPI)
}
