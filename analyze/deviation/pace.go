package deviation

import (
	"maps"
	"math"
	"slices"
)

// Standard is how fast a saw cuts each grade in each size with a sharp blade, and
// how a blade slows down as it wears: ln of in²/min falls by Slow with each unit
// of the wear clock.
type Standard struct {
	Slow  float64
	SD    float64 // of ln in²/min from cut to cut
	Power float64 // of the wear clock
	Cuts  int

	cells map[cell]float64 // ln in²/min
}

// cell is what is compared with its own kind only: half an octave of face.
type cell struct {
	grade string
	size  int
}

func cellOf(c *Cut) cell { return cell{c.Grade, int(math.Floor(2 * math.Log2(c.Face)))} }

const (
	minCell = 8 // cuts that make a standard
	// runIn is the area, in in², in which a new blade may be run in at less feed
	// (50 to 100 in² by common practice).
	runIn = 150
	// paceRounds is how often standards and slowing are found from each other.
	paceRounds = 3
)

// paced is ln in²/min of a finished cut, and false where it is not known.
func paced(c *Cut) (float64, bool) {
	if c.Tripped || !(c.Seconds > 0 && c.Face > 0) || math.IsInf(c.Seconds+c.Face, 0) {
		return 0, false
	}
	return math.Log(60 * c.Face / c.Seconds), true
}

// NewStandard takes the standards from past blades on a saw: the median of each
// grade and size, cuts in the run-in left out, and the slowing within blades, by
// least squares with wild cuts pulled in. SD is 0 where too little is known.
func NewStandard(past [][]Cut, power float64) Standard {
	s := Standard{Power: power, cells: map[cell]float64{}}
	list, cells := s.paced(past)
	if s.Cuts = len(list); s.Cuts < minCell {
		return s
	}
	list = slices.DeleteFunc(list, func(p *pacedCut) bool { return len(cells[p.cell]) < minCell })
	maps.DeleteFunc(cells, func(_ cell, of []*pacedCut) bool { return len(of) < minCell })
	for range paceRounds {
		for c, of := range cells {
			s.cells[c] = s.median(of)
		}
		s.SD = spread(list)
		s.slow(list)
	}
	return s
}

func (s *Standard) clock(area float64) float64 { return wearClock(area/PerArea, s.Power) }

// pacedCut is a cut of known pace behind the run-in of its blade.
type pacedCut struct {
	blade       int
	cell        cell
	pace, clock float64
	off         float64 // how much faster than standard, wear not allowed for
}

// paced are those among past cuts, in order of time and by cell.
func (s *Standard) paced(past [][]Cut) (list []*pacedCut, cells map[cell][]*pacedCut) {
	cells = map[cell][]*pacedCut{}
	for b, cuts := range past {
		room := make([]pacedCut, len(cuts))
		for i := range cuts {
			y, ok := paced(&cuts[i])
			if !ok || cuts[i].Area <= runIn {
				continue
			}
			p := &room[i]
			*p = pacedCut{blade: b, cell: cellOf(&cuts[i]), pace: y, clock: s.clock(cuts[i].Area)}
			list, cells[p.cell] = append(list, p), append(cells[p.cell], p)
		}
	}
	return list, cells
}

// median is that of the cuts of a cell, wear allowed for, which they are held against.
func (s *Standard) median(of []*pacedCut) float64 {
	values := make([]float64, len(of))
	for i, p := range of {
		values[i] = p.pace + s.Slow*p.clock
	}
	m := median(values)
	for _, p := range of {
		p.off = p.pace - m
	}
	return m
}

// spread is the noise of a cut by the median difference between neighbours.
func spread(list []*pacedCut) float64 {
	sizes := make([]float64, 0, len(list))
	for i := 1; i < len(list); i++ {
		if list[i].blade == list[i-1].blade {
			sizes = append(sizes, math.Abs(list[i].off-list[i-1].off))
		}
	}
	if len(sizes) < minPairs {
		return 0
	}
	return median(sizes) / medianNormal / math.Sqrt2
}

// slow fits the slowing within blades.
func (s *Standard) slow(list []*pacedCut) {
	xx, xy := 0.0, 0.0
	for len(list) > 0 {
		n := 1
		for n < len(list) && list[n].blade == list[0].blade {
			n++
		}
		blade := list[:n]
		if list = list[n:]; n < minCell {
			continue
		}
		level := make([]float64, len(blade))
		middle := 0.0
		for i, p := range blade {
			level[i] = p.off + s.Slow*p.clock
			middle += p.clock / float64(len(blade))
		}
		centre := median(slices.Clone(level))
		for i, p := range blade {
			held := math.Max(-3*s.SD, math.Min(3*s.SD, level[i]-centre))
			xx += (p.clock - middle) * (p.clock - middle)
			xy += (p.clock - middle) * held
		}
	}
	if xx > 0 {
		s.Slow -= xy / xx
	}
	s.Slow = math.Max(0, s.Slow)
}

// Rate is the standard of a sharp blade in in²/min for a grade and a face in in², and
// false where there is none.
func (s *Standard) Rate(grade string, face float64) (float64, bool) {
	m, ok := s.cells[cellOf(&Cut{Grade: grade, Face: face})]
	return math.Exp(m), ok
}

// Off is ln of how much faster than the standard of a sharp blade a cut was, and
// false where there is no standard for it or its time is not known.
func (s *Standard) Off(c *Cut) (float64, bool) {
	y, ok := paced(c)
	if !ok || s.SD == 0 {
		return 0, false
	}
	m, ok := s.cells[cellOf(c)]
	return y - m, ok
}

// mark tells each cut of some fittings its pace, and which are fast: those of a
// run whose mean of late is plainly above that of the blade's other cuts, until it
// is back halfway. A blade that slows down less than others is fast beside the
// standard and not beside itself.
func (s *Standard) mark(fittings []Fitting) {
	for _, f := range fittings {
		window, usual := running{over: pushedOver}, running{over: averageOverCuts, n: minCell}
		var run []*Cut
		inRun := running{over: averageOverCuts}
		for i := range f.Cuts {
			c := &f.Cuts[i]
			c.pace, c.fast = math.NaN(), false
			off, ok := s.Off(c)
			if !ok || c.Area <= runIn {
				continue
			}
			c.pace = off + s.Slow*s.clock(c.Area)
			window.n = min(window.n, pushedOver-1)
			window.add(c.pace)
			least := pushedAt
			if len(run) > 0 {
				least = (inRun.mean - usual.mean) / 2
			}
			if window.n == pushedOver && window.mean-usual.mean > least {
				run = append(run, c)
				inRun.add(c.pace)
				continue
			}
			fast(run, (usual.mean+inRun.mean)/2)
			usual.add(c.pace)
			run, inRun = nil, running{over: averageOverCuts}
		}
		fast(run, (usual.mean+inRun.mean)/2)
	}
}

// fast marks the cuts of a run that is long enough to be no accident, but for the
// last ones, with which the mean was still to come down.
func fast(run []*Cut, halfway float64) {
	for len(run) > 0 && run[len(run)-1].pace < halfway {
		run = run[:len(run)-1]
	}
	for _, c := range run {
		c.fast = len(run) >= minCell
	}
}
