package plan

import (
	"errors"
	"fmt"
	"math"
	"slices"
)

// Way is one way in which a blade may end, with the chance that it has not yet
// after so much area more, given that it has come this far: 1 at 0, never rising.
type Way struct {
	Cause string
	Left  func(area float64) float64
}

// Combined is what is left of a blade that ends in whichever way comes first:
// the ways are taken to work on their own, so that the chances multiply. Make one
// with Combine.
type Combined struct {
	Causes []string
	area   []float64   // looked at, rising from 0
	total  []float64   // -ln of the chance that the blade is on still
	hazard [][]float64 // by way: -ln of its own chance; they sum to total
}

// The areas at which a combination is looked at: from one part in finest of the
// furthest on, each wider times the one before.
const (
	finest = 4000
	wider  = 1.08
)

// Combine tabulates some ways up to an area beyond which nobody asks. It fails
// without a way, on an area that is not above 0, and on a way whose chance is no
// chance or rises by more than rounding.
func Combine(ways []Way, furthest float64) (*Combined, error) {
	if len(ways) == 0 {
		return nil, errors.New("what is left: there is no way for the blade to end")
	}
	if !(furthest > 0) || math.IsInf(furthest, 0) {
		return nil, fmt.Errorf("what is left: looked at up to %v: want an area above 0", furthest)
	}
	c := &Combined{area: []float64{0}}
	for x := furthest / finest; x < furthest; x *= wider {
		c.area = append(c.area, x)
	}
	c.area = append(c.area, furthest)
	c.total = make([]float64, len(c.area))
	for _, w := range ways {
		hazard, err := w.tabulate(c.area)
		if err != nil {
			return nil, err
		}
		for i, h := range hazard {
			c.total[i] += h
		}
		c.Causes, c.hazard = append(c.Causes, w.Cause), append(c.hazard, hazard)
	}
	return c, nil
}

// tabulate is -ln of the way's chance at some areas.
func (w Way) tabulate(areas []float64) ([]float64, error) {
	hazard := make([]float64, len(areas))
	for i, x := range areas {
		left := w.Left(x)
		if !(left >= 0 && left <= 1+1e-9) {
			return nil, fmt.Errorf("what is left: the chance to outlast %q for %v is %v: want 0 to 1", w.Cause, x, left)
		}
		hazard[i] = -math.Log(math.Max(math.Min(left, 1), 1e-300))
		if i == 0 {
			continue
		}
		if hazard[i] < hazard[i-1]-1e-6 {
			return nil, fmt.Errorf("what is left: the chance to outlast %q rises at %v", w.Cause, x)
		}
		hazard[i] = math.Max(hazard[i], hazard[i-1])
	}
	return hazard, nil
}

// Left is the chance that the blade is on after an area more; between the areas
// looked at the summed hazard goes as a power of the area, before the first of them
// evenly. It is the first before 0 and that of the furthest area beyond it.
func (c *Combined) Left(area float64) float64 {
	i, exact := slices.BinarySearch(c.area, math.Max(0, area))
	switch {
	case math.IsNaN(area):
		return math.NaN()
	case exact:
		return math.Exp(-c.total[i])
	case i == len(c.area):
		return math.Exp(-c.total[i-1])
	}
	before, after := c.total[i-1], c.total[i]
	if i == 1 || !(before > 0) {
		return math.Exp(-before - (after-before)*(area-c.area[i-1])/(c.area[i]-c.area[i-1]))
	}
	share := math.Log(area/c.area[i-1]) / math.Log(c.area[i]/c.area[i-1])
	return math.Exp(-math.Pow(before, 1-share) * math.Pow(after, share))
}

// Furthest is the area up to which the ways were looked at.
func (c *Combined) Furthest() float64 { return c.area[len(c.area)-1] }

// Quantile is the area within which the blade has ended with a chance; +Inf where
// that is not so great within what is looked at.
func (c *Combined) Quantile(chance float64) float64 {
	want := -math.Log1p(-chance)
	i, _ := slices.BinarySearch(c.total, want)
	switch {
	case i == len(c.total):
		return math.Inf(1)
	case i == 0:
		return 0
	}
	before, after := c.total[i-1], c.total[i]
	if i == 1 || !(before > 0) {
		return c.area[i-1] + (want-before)/(after-before)*(c.area[i]-c.area[i-1])
	}
	return c.area[i-1] * math.Pow(c.area[i]/c.area[i-1], math.Log(want/before)/math.Log(after/before))
}

// Shares is the part of the ends within an area that comes each way, parallel to
// Causes: within each stretch the ways share the ends as they share its hazard. All
// are 0 where nothing can end.
func (c *Combined) Shares(area float64) []float64 {
	shares := make([]float64, len(c.Causes))
	sum := 0.0
	for i := 1; i < len(c.area) && c.area[i-1] < area; i++ {
		ends, hazard := math.Exp(-c.total[i-1])-math.Exp(-c.total[i]), c.total[i]-c.total[i-1]
		if hazard <= 0 {
			continue
		}
		for w, h := range c.hazard {
			part := ends * (h[i] - h[i-1]) / hazard
			shares[w] += part
			sum += part
		}
	}
	for w := range shares {
		if sum > 0 {
			shares[w] /= sum
		}
	}
	return shares
}
