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
	panels   []panel   // side by side, from the first break on
	before   []float64 // the area under the curve before each panel, and last that under all
}

// panel is a stretch looked at in its two ends and three points between.
type panel struct {
	from, width float64
	left        [5]float64
}

// How far curves are refined: until the panels' summed doubt is this part of the
// area under all, or the survival has been looked at so often beyond the breaks.
const (
	doubtful = 1e-9
	maxLooks = 600
)

// tabulate takes the area under a survival between some rising breaks. It splits
// the panel in most doubt until all are good: a jump of the survival then lies in
// a panel so narrow that it no longer matters, if there are few of them; with some
// hundred jumps the area is good to about 1e-5 of itself. It fails where the
// survival is no chance or rises by more than rounding.
func tabulate(survival func(float64) float64, breaks []float64) (*curve, error) {
	c := &curve{survival: survival}
	for i := 1; i < len(breaks); i++ {
		c.panels = append(c.panels, look(survival, breaks[i-1], breaks[i]-breaks[i-1]))
	}
	for looks := 0; looks < maxLooks; looks += 4 {
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
		first, second := c.panels[worst].split(survival)
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
	p := look(c.survival, from, x-from)
	return c.before[i-1] + p.under(), p.left[4]
}

// total is the area under all of the curve.
func (c *curve) total() float64 { return c.before[len(c.panels)] }

func look(survival func(float64) float64, from, width float64) panel {
	p := panel{from: from, width: width}
	for i := range p.left {
		p.left[i] = survival(p.at(i))
	}
	return p
}

// at is the i-th of the points looked at.
func (p panel) at(i int) float64 { return p.from + p.width*float64(i)/4 }

// split halves a panel.
func (p panel) split(survival func(float64) float64) (first, second panel) {
	half := p.width / 2
	first, second = panel{from: p.from, width: half}, panel{from: p.from + half, width: half}
	for i := range 3 {
		first.left[2*i], second.left[2*i] = p.left[i], p.left[i+2]
	}
	for i := 1; i < 4; i += 2 {
		first.left[i], second.left[i] = survival(first.at(i)), survival(second.at(i))
	}
	return first, second
}

// under is the area under a panel by Boole's rule.
func (p panel) under() float64 {
	l := p.left
	return p.width / 90 * (7*l[0] + 32*l[1] + 12*l[2] + 32*l[3] + 7*l[4])
}

// doubt is by how much Simpson's rule over the halves differs from that over the
// whole, a fifteenth of it: far more than Boole's rule is out where the survival is
// smooth, and about as much at a jump.
func (p panel) doubt() float64 {
	l := p.left
	return p.width / 180 * math.Abs(l[0]-4*l[1]+6*l[2]-4*l[3]+l[4])
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
