package deviation

import (
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
	var list []pacedCut
	for b, cuts := range past {
		for i := range cuts {
			y, ok := paced(&cuts[i])
			if ok && cuts[i].Area > runIn {
				list = append(list, pacedCut{b, cellOf(&cuts[i]), y, s.clock(cuts[i].Area)})
			}
		}
	}
	if s.Cuts = len(list); s.Cuts < minCell {
		return s
	}
	for range paceRounds {
		s.cells = medians(list, func(p pacedCut) float64 { return p.pace + s.Slow*p.clock })
		s.SD = s.spread(list)
		s.slow(list)
	}
	return s
}

func (s *Standard) clock(area float64) float64 { return math.Pow(area/PerArea, s.Power) }

type pacedCut struct {
	blade       int
	cell        cell
	pace, clock float64
}

// medians is the median of each cell that has enough cuts.
func medians(list []pacedCut, of func(pacedCut) float64) map[cell]float64 {
	values := map[cell][]float64{}
	for _, p := range list {
		values[p.cell] = append(values[p.cell], of(p))
	}
	out := map[cell]float64{}
	for c, v := range values {
		if len(v) >= minCell {
			out[c] = median(v)
		}
	}
	return out
}

// off is how much faster than standard a cut was, its wear not allowed for.
func (s *Standard) off(p pacedCut) (float64, bool) {
	m, ok := s.cells[p.cell]
	return p.pace - m, ok
}

// spread is the noise of a cut by the median difference between neighbours.
func (s *Standard) spread(list []pacedCut) float64 {
	var sizes []float64
	last, before := -1, 0.0
	for _, p := range list {
		off, ok := s.off(p)
		if !ok {
			continue
		}
		if p.blade == last {
			sizes = append(sizes, math.Abs(off-before))
		}
		last, before = p.blade, off
	}
	if len(sizes) < minPairs {
		return 0
	}
	return median(sizes) / medianNormal / math.Sqrt2
}

// slow fits the slowing within blades.
func (s *Standard) slow(list []pacedCut) {
	xx, xy := 0.0, 0.0
	for from := 0; from < len(list); {
		to := from
		var blade []pacedCut
		for ; to < len(list) && list[to].blade == list[from].blade; to++ {
			if _, ok := s.cells[list[to].cell]; ok {
				blade = append(blade, list[to])
			}
		}
		from = to
		if len(blade) < minCell {
			continue
		}
		level := make([]float64, len(blade))
		middle := 0.0
		for i, p := range blade {
			off, _ := s.off(p)
			level[i] = off + s.Slow*p.clock
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
	return s.off(pacedCut{cell: cellOf(c), pace: y})
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
