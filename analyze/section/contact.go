package section

import (
	"fmt"
	"math"
	"slices"

	"gullet/analyze"
)

// maxMitre is the angle no saw reaches, in degrees.
const maxMitre = 85

// maxCount is more bars than any vise holds.
const maxCount = 1000

// Pass is one cut: how the blade goes through the bars.
//
// Bars cut together are taken to lie side by side in one layer. A horizontal
// blade meets them all at once: count times the contact, the stroke of one. A
// vertical blade meets them one after another: the contact of one, count times
// the stroke. Stacks and close-packed bundles differ; their area does not.
type Pass struct {
	Mitre float64         // degrees from a square cut, above -85 and below 85
	Count int             // bars cut together, 1 to 1000
	Saw   analyze.SawKind // how the saw makes the angle
}

// Contact is how much blade is in the metal along the stroke, in inches.
type Contact struct {
	// Min is the least contact, and never more than the mean. Where the blade
	// starts from nothing, as on top of a round, the least is nothing and says
	// nothing: there the first twentieth of the stroke through a bar is left
	// out, and likewise the last one where the contact ends in nothing. The
	// twentieth is Gullet's own convention; a solid round has 0.436 of its
	// diameter in contact there.
	Min    float64
	Mean   float64 // cut area / stroke
	Max    float64 // the most, anywhere
	Stroke float64 // travel of the blade from touch to breakthrough
}

// runIn is the share of the stroke that Min leaves out where contact starts
// from or ends in nothing.
const runIn = 1.0 / 20

// Teeth is the least and the most teeth in the cut with a blade of the given
// pitch in teeth per inch (see ParseTPI): the least contact at the coarse end,
// the most at the fine end. Common practice wants at least 3, better 6 to 12,
// and no more than 24.
func (c Contact) Teeth(tpiLow, tpiHigh float64) (least, most float64) {
	return c.Min * tpiLow, c.Max * tpiHigh
}

// swath is a bar as the blade of one pass goes through it.
type swath struct {
	metal  outline // turned so that the blade lies along x and feeds along y
	stroke float64 // in, through one bar
	factor float64 // contact per chord
	bars   int     // met one after another
}

// swath checks the pass and turns the section to the blade.
//
// A swivel-frame saw turns its head about the vertical axis: what lies
// horizontal, the chord, grows by 1/cos and the stroke stays. On a
// tilting-column saw the blade is vertical and crosses the width: what stands
// upright, again the chord, grows by 1/cos and the stroke stays.
func (s Section) swath(p Pass) (swath, error) {
	if !(math.Abs(p.Mitre) < maxMitre) {
		return swath{}, fmt.Errorf("mitre is %.6g°, allowed is more than -%d° and less than %d° from a square cut", p.Mitre, maxMitre, maxMitre)
	}
	if p.Count < 1 || p.Count > maxCount {
		return swath{}, fmt.Errorf("count is %d, allowed is 1 to %d bars", p.Count, maxCount)
	}
	if err := s.Check(); err != nil {
		return swath{}, err
	}
	metal := s.outline()
	if metal == nil {
		return swath{}, fmt.Errorf("%s: contact is not known, the weight gives an area but no dimensions; give the section with its dimensions", s.name())
	}
	w := swath{metal: metal, factor: 1 / math.Cos(p.Mitre*math.Pi/180), bars: 1}
	switch p.Saw {
	case analyze.TiltingColumn:
		w.metal, w.bars = metal.turned(), p.Count
	case analyze.SwivelFrame:
		w.factor *= float64(p.Count)
	case analyze.FixedFrame:
		if p.Mitre != 0 {
			return swath{}, fmt.Errorf("mitre is %.6g°, allowed is 0 on a %s saw: its contact at an angle is not known, only its area", p.Mitre, p.Saw)
		}
		w.factor *= float64(p.Count)
	default:
		return swath{}, fmt.Errorf("saw kind is %.40q, allowed are %s", p.Saw, list(analyze.SawKinds()))
	}
	_, w.stroke = w.metal.size()
	return w, nil
}

// name is what people call the section.
func (s Section) name() string {
	if s.Designation != "" {
		return s.Designation
	}
	return string(s.Shape)
}

// Contact is the blade in the metal in one pass. It is an error when the
// section fails Check or has no known dimensions, when the pass is outside its
// domain, and for an angle on a fixed saw.
//
// Mean follows from the area, Min and Max from the dimensions: for a rolled
// shape with its published weight the mean holds the fillets, the others not.
func (s Section) Contact(p Pass) (Contact, error) {
	w, err := s.swath(p)
	if err != nil {
		return Contact{}, err
	}
	least, most := w.extremes()
	stroke := w.stroke * float64(w.bars)
	mean := CutArea(s.Area(), p.Count, p.Mitre) / stroke
	return Contact{
		Min:    min(least*w.factor, mean),
		Mean:   mean,
		Max:    most * w.factor,
		Stroke: stroke,
	}, nil
}

// extremes are the least and most chord through one bar, see Contact. Between
// two levels the chord of every section here only rises or only falls: its
// pieces are straight-sided, or arcs about a common centre. So the levels,
// seen from both sides, have the extremes.
func (w swath) extremes() (least, most float64) {
	from, to := w.settled()
	least = min(w.metal.chord(from, true), w.metal.chord(to, false))
	for _, y := range w.levels() {
		above, below := w.metal.chord(y, false), w.metal.chord(y, true)
		most = max(most, above, below)
		if from < y && y < to {
			least = min(least, above, below)
		}
	}
	return least, most
}

// settled is the part of the stroke in which Min is sought. Contact counts as
// nothing when it is so beside the stroke: rounding leaves some 1e-16 of it on
// top of a round.
func (w swath) settled() (from, to float64) {
	nothing := 1e-9 * w.stroke
	to = w.stroke
	if w.metal.chord(0, true) <= nothing {
		from = runIn * w.stroke
	}
	if w.metal.chord(w.stroke, false) <= nothing {
		to -= runIn * w.stroke
	}
	return from, to
}

// levels are the depths at which the chord through one bar steps, bends or
// turns, in order.
func (w swath) levels() []float64 {
	var ys []float64
	for _, p := range w.metal {
		ys = append(ys, p.levels()...)
	}
	slices.Sort(ys)
	return slices.Compact(ys)
}

// Chord is the contact in inches when the blade is y inches into its stroke:
// from the top on a horizontal blade, from the left on a vertical one. At a
// step it is the contact after the step, at the end of the stroke that before
// it. Outside the stroke it is 0; it is NaN where Contact gives an error.
func (s Section) Chord(p Pass, y float64) float64 {
	w, err := s.swath(p)
	if err != nil || math.IsNaN(y) {
		return math.NaN()
	}
	end := w.stroke * float64(w.bars)
	if y < 0 || y > end {
		return 0
	}
	if y == end {
		return w.metal.chord(w.stroke, false) * w.factor
	}
	return w.metal.chord(math.Mod(y, w.stroke), true) * w.factor
}
