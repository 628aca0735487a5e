package plan

import (
	"cmp"
	"fmt"
	"math"
	"slices"
)

// curve is the area under a survival function, cut into panels so narrow that a
// quartic through five points of each is as good as the function.
type curve struct {
	survival func(area float64) float64
	looks    int       // at the survival so far
	panels   []panel   // side by side, from the first break on
	before   []float64 // the area under the curve before each panel, and last that under all
}

// panel is a stretch looked at in its two ends and three points between, and in one
// more at no round part of it, to see whether the five tell all.
type panel struct {
	from, width float64
	left        [5]float64
	probe       float64
}

// probed is where the probe is, in quarters.
const probed = 1.4142

// How far curves are refined: until the panels' summed doubt is this part of the
// area under all, or the survival has been looked at so often between those first seen.
const (
	doubtful = 1e-9
	maxLooks = 600
)

// tabulate takes the area under a survival between some rising breaks. It splits
// the panel in most doubt until all are good: a jump of the survival then lies in
// a panel so narrow that it no longer matters, if there are few of them; with
// hundreds of jumps the area is good to some 1e-4 of itself. It fails where the
// survival is no chance or rises by more than rounding.
func tabulate(survival func(float64) float64, breaks []float64) (*curve, error) {
	c := &curve{survival: survival}
	for i := 1; i < len(breaks); i++ {
		c.panels = append(c.panels, look(survival, breaks[i-1], breaks[i]-breaks[i-1]))
	}
	for c.looks < maxLooks {
		var all, doubt float64
		worst := 0
		for i, p := range c.panels {
			all += p.under()
			doubt += p.doubt()
			if p.doubt() > c.panels[worst].doubt() {
				worst = i
			}
		}
		if !(doubt > doubtful*all) {
			break
		}
		first, second := c.split(c.panels[worst])
		c.panels[worst] = first
		c.panels = slices.Insert(c.panels, worst+1, second)
	}
	c.before = make([]float64, len(c.panels)+1)
	for i, p := range c.panels {
		if err := p.check(); err != nil {
			return nil, err
		}
		c.before[i+1] = c.before[i] + p.under()
	}
	return c, nil
}

// to is the area under the curve up to x, and the survival there.
func (c *curve) to(x float64) (under, left float64) {
	i, exact := slices.BinarySearchFunc(c.panels, x, func(p panel, x float64) int { return cmp.Compare(p.from, x) })
	if exact {
		return c.before[i], c.panels[i].left[0]
	}
	from := c.panels[i-1].from
	p := fivePoints(c.survival, from, x-from)
	return c.before[i-1] + p.under(), p.left[4]
}

// total is the area under all of the curve.
func (c *curve) total() float64 { return c.before[len(c.panels)] }

func look(survival func(float64) float64, from, width float64) panel {
	p := fivePoints(survival, from, width)
	p.probe = survival(from + width*probed/4)
	return p
}

// fivePoints is a panel without a probe.
func fivePoints(survival func(float64) float64, from, width float64) panel {
	p := panel{from: from, width: width}
	for i := range p.left {
		p.left[i] = survival(p.at(i))
	}
	return p
}

// at is the i-th of the points looked at.
func (p panel) at(i int) float64 { return p.from + p.width*float64(i)/4 }

// split halves a panel.
func (c *curve) split(p panel) (first, second panel) {
	half := p.width / 2
	first, second = panel{from: p.from, width: half}, panel{from: p.from + half, width: half}
	for i := range 3 {
		first.left[2*i], second.left[2*i] = p.left[i], p.left[i+2]
	}
	for _, p := range []*panel{&first, &second} {
		for i := 1; i < 4; i += 2 {
			p.left[i] = c.between(p.left[i-1], p.left[i+1], p.at(i))
		}
		p.probe = c.between(p.left[1], p.left[2], p.from+half*probed/4)
	}
	return first, second
}

// between is the survival at x, which need not be looked at where it is the same
// before and after.
func (c *curve) between(before, after, x float64) float64 {
	if before == after {
		return before
	}
	c.looks++
	return c.survival(x)
}

// under is the area under a panel by Boole's rule.
func (p panel) under() float64 {
	l := p.left
	return p.width / 90 * (7*l[0] + 32*l[1] + 12*l[2] + 32*l[3] + 7*l[4])
}

// doubt is how far the quartic is from the probe, over all of the width: far more
// than Boole's rule is out where the survival is smooth, and some of a jump. Steps
// as even as a straight line do not deceive it.
func (p panel) doubt() float64 {
	return p.width * math.Abs(p.quartic(probed)-p.probe)
}

// quartic is the quartic through the five points, at s quarters.
func (p panel) quartic(s float64) float64 {
	l := p.left
	a, b, c, d, e := s, s-1, s-2, s-3, s-4
	return b*c*d*e/24*l[0] - a*c*d*e/6*l[1] + a*b*d*e/4*l[2] - a*b*c*e/6*l[3] + a*b*c*d/24*l[4]
}

// parts is the area under the first, the first two and three quarters of a panel:
// the integrals of the quartic through its points.
func (p panel) parts() [3]float64 {
	l, h := p.left, p.width/4
	return [3]float64{
		h / 720 * (251*l[0] + 646*l[1] - 264*l[2] + 106*l[3] - 19*l[4]),
		h / 90 * (29*l[0] + 124*l[1] + 24*l[2] + 4*l[3] - l[4]),
		h / 80 * (27*l[0] + 102*l[1] + 72*l[2] + 42*l[3] - 3*l[4]),
	}
}

func (p panel) check() error {
	for i, left := range p.left {
		if !(left >= 0 && left <= 1+1e-9) {
			return fmt.Errorf("the chance that a blade lasts for %v is %v: want 0 to 1", p.at(i), left)
		}
		if i > 0 && left > p.left[i-1]+1e-6 {
			return fmt.Errorf("the chance that a blade lasts rises at %v", p.at(i))
		}
	}
	return nil
}
