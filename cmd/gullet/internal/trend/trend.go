// Package trend answers whether the cut of each saw is wandering, and whether
// the blade or the saw is to blame.
//
// The cuts come from the store (shop.go) or from a shop's own list (csv.go) and
// are read by one function, Study, so that both give one answer. The statistics
// are those of analyze/deviation; what is here decides which area a blade had
// cut, over what height a deviation is told and what the trip limit is, and says
// in words what was found. It commands nothing: a finding says what to check
// first, and a person decides.
package trend

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"

	"gullet/analyze"
	"gullet/analyze/deviation"
	"gullet/cmd/gullet/internal/lives"
)

// Data is what a study is made of.
type Data struct {
	Saws   []Saw
	Over   bool        // deviations are over the height of their cuts; else as they were told
	Unit   string      // of the areas people are told: unitArea or unitCuts
	Weigh  bool        // the wear clock is weighted area
	Doubts []string    // what a person should know of the data
	Lives  *lives.Shop // every blade of the store, by which the clock goes; nil for a list
}

// The units of area.
const (
	unitArea = "in2"
	unitCuts = "cuts"
)

// ErrNoSaw says that no saw has the name asked for.
var ErrNoSaw = errors.New("there is no such saw")

// Only keeps the one saw of that name, all with none. Lots are then judged by its
// blades alone.
func (d *Data) Only(name string) error {
	if name == "" {
		return nil
	}
	var names []string
	for _, s := range d.Saws {
		names = append(names, s.Name)
		if s.Name == name {
			d.Saws = []Saw{s}
			return nil
		}
	}
	return fmt.Errorf("%w: %q, allowed is %s", ErrNoSaw, name, strings.Join(names, ", "))
}

// Saw is one saw and how its wear clock is told to people.
type Saw struct {
	deviation.Saw
	Name     string
	PerUnit  float64 // wear clock per unit of area of what the saw cuts
	WhyShift string  // why the work of a shift is not known
	GuideGap *float64
	Note     string // on the limit
}

// Machine takes what the configuration knows of the saw.
func (s *Saw) Machine(row analyze.Saw) {
	s.GuideGap, s.Band, s.Wheel = row.GuideGap, math.NaN(), math.NaN()
	if row.BandLength != nil {
		s.Band = *row.BandLength
	}
	if row.WheelDiameter != nil {
		s.Wheel = math.Pi * *row.WheelDiameter / 12
	}
}

// on is the fitting that is on the saw, nil when none.
func (s *Saw) on() *deviation.Fitting {
	if len(s.Fittings) == 0 {
		return nil
	}
	return &s.Fittings[len(s.Fittings)-1]
}

const (
	// sameLimit is the spread up to which limits count as one.
	sameLimit = 0.05
	// limitsOver is how many limits, the last ones, are looked at.
	limitsOver = 50
)

// limits are the limits that cuts told, as lengths, with their heights.
type limits struct{ limits, heights []float64 }

func (l *limits) add(limit, height float64) {
	l.limits, l.heights = append(l.limits, limit), append(l.heights, height)
	if len(l.limits) > limitsOver {
		l.limits, l.heights = l.limits[1:], l.heights[1:]
	}
}

// over is the limit over the height of the cut. One that is the same length for
// every height is told for a cut of the middle height, with those of the saw's usual
// heights beside it.
func (l *limits) over(usual []float64) (limit float64, all []float64, note string) {
	if len(l.limits) == 0 {
		return math.NaN(), nil, ""
	}
	ratios := make([]float64, len(l.limits))
	for i := range ratios {
		ratios[i] = l.limits[i] / l.heights[i]
	}
	slices.Sort(ratios)
	lengths := slices.Sorted(slices.Values(l.limits))
	if one := lengths[0]; spread(lengths) <= sameLimit && spread(ratios) > sameLimit && len(usual) > 0 {
		limit, all = lengthOver(one, usual)
		return limit, all, "the limit is one length for every height: told for the middle height, the forecast counts the saw's own mix"
	}
	return ratios[len(ratios)/2], nil, ""
}

// lengthOver is a length over the middle of some heights, and over each of nine that
// part them evenly.
func lengthOver(length float64, heights []float64) (limit float64, all []float64) {
	sorted := slices.Sorted(slices.Values(heights))
	for i := range mixedLimits {
		all = append(all, length/quantile(sorted, (float64(i)+0.5)/mixedLimits))
	}
	return all[mixedLimits/2], all
}

// mixedLimits is how many heights stand for the mix of a saw's.
const mixedLimits = 9

// spread is the relative difference between the ends of sorted values.
func spread(sorted []float64) float64 { return sorted[len(sorted)-1]/sorted[0] - 1 }

// quantile is that of sorted values.
func quantile(sorted []float64, share float64) float64 {
	return sorted[min(len(sorted)-1, int(share*float64(len(sorted))))]
}
