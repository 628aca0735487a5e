package section

import (
	"math"
	"slices"
)

// outline is one bar as it lies, seen along its axis: pieces of metal, and
// holes in them. x runs right from the leftmost point, y runs down from the
// topmost one; both are in inches. Pieces of metal touch and never overlap, so
// chords add up.
type outline []piece

// piece is part of an outline.
type piece interface {
	// chord is the length along x at depth y, negative for a hole. Where it
	// steps, after chooses the value just below y, else the one just above.
	chord(y float64, after bool) float64
	// above is the area above depth y, negative for a hole.
	above(y float64) float64
	// levels are the depths at which the chord steps, bends or has an extreme.
	levels() []float64
	// corner is the rightmost x and the lowest y.
	corner() (x, y float64)
	// turned has x and y changed over.
	turned() piece
	// flipped is turned over, top to bottom, within a height.
	flipped(height float64) piece
}

// within says whether the depth y is in a piece that reaches from lo to hi,
// on the side asked for.
func within(y, lo, hi float64, after bool) bool {
	if after {
		return lo <= y && y < hi
	}
	return lo < y && y <= hi
}

// box is a rectangle with its sides along x and y and with rounded corners. A
// radius of half its sides makes it a circle.
type box struct {
	x0, y0, x1, y1, r float64
	hole              bool
}

func (b box) chord(y float64, after bool) float64 {
	if !within(y, b.y0, b.y1, after) {
		return 0
	}
	c := b.x1 - b.x0
	if e := min(y-b.y0, b.y1-y); e < b.r {
		// e deep into a circle of radius r, half its chord is √(e(2r-e)).
		c += 2*math.Sqrt(e*(2*b.r-e)) - 2*b.r
	}
	if b.hole {
		return -c
	}
	return c
}

func (b box) above(y float64) float64 {
	depth, height := min(max(y, b.y0), b.y1)-b.y0, b.y1-b.y0
	a := (b.x1-b.x0)*depth - b.rounded(min(depth, b.r))
	if left := height - depth; left < b.r {
		a -= b.rounded(b.r) - b.rounded(left)
	}
	if b.hole {
		return -a
	}
	return a
}

// rounded is the area that two rounded corners of one side take away from its
// first e inches, e at most r: the strip less a segment of the circle.
func (b box) rounded(e float64) float64 {
	half := math.Sqrt(e * (2*b.r - e)) // of the chord
	return 2*b.r*e - (b.r*b.r*math.Atan2(half, b.r-e) - (b.r-e)*half)
}

// Inside its corners a box bends where an arc meets a straight side; a circle
// has its widest there.
func (b box) levels() []float64 { return []float64{b.y0, b.y0 + b.r, b.y1 - b.r, b.y1} }

func (b box) corner() (x, y float64) { return b.x1, b.y1 }

// Changing x and y over mirrors the box about the diagonal; the radius stays.
func (b box) turned() piece {
	b.x0, b.y0, b.x1, b.y1 = b.y0, b.x0, b.y1, b.x1
	return b
}

func (b box) flipped(height float64) piece {
	b.y0, b.y1 = height-b.y1, height-b.y0
	return b
}

// polygon stands at an angle to the blade, where a box will not do: a convex piece of metal given by its corners in order.
type polygon []point

type point struct{ x, y float64 }

func (p polygon) chord(y float64, after bool) float64 {
	// A convex piece is met by two of its sides at every depth inside it. A
	// side along the blade is never within, so it divides by no zero.
	left, right := math.Inf(1), math.Inf(-1)
	for i, a := range p {
		b := p[(i+1)%len(p)]
		if !within(y, min(a.y, b.y), max(a.y, b.y), after) {
			continue
		}
		x := a.x + (b.x-a.x)*((y-a.y)/(b.y-a.y))
		left, right = min(left, x), max(right, x)
	}
	return max(0, right-left) // -∞ where no side is met
}

// Between two levels the chord is straight.
func (p polygon) above(y float64) float64 {
	ys := slices.Sorted(slices.Values(p.levels()))
	var a float64
	for i := 1; i < len(ys) && ys[i-1] < y; i++ {
		from, to := ys[i-1], min(ys[i], y)
		a += (to - from) * (p.chord(from, true) + p.chord(to, false)) / 2
	}
	return a
}

func (p polygon) levels() []float64 {
	ys := make([]float64, len(p))
	for i, c := range p {
		ys[i] = c.y
	}
	return ys
}

func (p polygon) corner() (x, y float64) {
	for _, c := range p {
		x, y = max(x, c.x), max(y, c.y)
	}
	return x, y
}

func (p polygon) turned() piece {
	q := make(polygon, len(p))
	for i, c := range p {
		q[i] = point{c.y, c.x}
	}
	return q
}

func (p polygon) flipped(height float64) piece {
	q := make(polygon, len(p))
	for i, c := range p {
		q[i] = point{c.x, height - c.y}
	}
	return q
}

// size is the width and height of the box around the outline.
func (o outline) size() (width, height float64) {
	for _, p := range o {
		x, y := p.corner()
		width, height = max(width, x), max(height, y)
	}
	return width, height
}

// chord is the metal along x at depth y.
func (o outline) chord(y float64, after bool) float64 {
	var c float64
	for _, p := range o {
		c += p.chord(y, after)
	}
	return max(0, c) // rounding where a hole touches the outside
}

// above is the metal above depth y.
func (o outline) above(y float64) float64 {
	var a float64
	for _, p := range o {
		a += p.above(y)
	}
	return a
}

// turned changes x and y over: the section as a vertical blade meets it, or a
// bar laid on its other side.
func (o outline) turned() outline {
	t := make(outline, len(o))
	for i, p := range o {
		t[i] = p.turned()
	}
	return t
}

// flipped turns the bar over.
func (o outline) flipped() outline {
	_, height := o.size()
	f := make(outline, len(o))
	for i, p := range o {
		f[i] = p.flipped(height)
	}
	return f
}
