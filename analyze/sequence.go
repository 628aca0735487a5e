package analyze

import (
	"slices"
	"sort"
	"time"
)

// SeqJitter is how far the times of two readings may disagree with the order
// of their numbers: a cut is dated at breakthrough but numbered when it is
// sent. A number that is lower than one dated longer ago than this belongs to
// a controller that started again.
const SeqJitter = 30 * time.Second

const (
	// seqStart is the highest number a controller starts again with; one so low
	// that lies seqFar below the run needs no SeqJitter to be told from a late
	// reading.
	seqStart = 1
	seqFar   = 100
	// seqJump is more than any saw leaves out: a number that far above the rest
	// is a fault or another counter, and no gap that could be filled.
	seqJump = 1_000_000
)

// SeqPoint is the number and the time of one reading.
type SeqPoint struct {
	At  time.Time
	Seq int64
}

// SeqSpan is a stretch of numbers that are all there.
type SeqSpan struct {
	First, Last     int64
	FirstAt, LastAt time.Time // of the readings First and Last
}

// SeqRun is what came between two starts of the saw's controller.
type SeqRun struct {
	FirstAt, LastAt time.Time // earliest and latest reading
	Spans           []SeqSpan // ascending, with at least one number missing between two
}

// SeqGap is a stretch of numbers that never came. The readings were made
// between two times.
type SeqGap struct {
	First, Last   int64
	After, Before time.Time
}

// Missing is how many readings the gap lacks.
func (g SeqGap) Missing() int64 { return g.Last - g.First + 1 }

// Gaps lists the numbers missing between the first and the last of the run.
func (r *SeqRun) Gaps() []SeqGap {
	var gaps []SeqGap
	for i := 1; i < len(r.Spans); i++ {
		a, b := r.Spans[i-1], r.Spans[i]
		gaps = append(gaps, SeqGap{First: a.Last + 1, Last: b.First - 1, After: a.LastAt, Before: b.FirstAt})
	}
	return gaps
}

// SeqRuns splits readings in order of time (then number) into runs. A reading
// begins a new run when the present one holds a number at least as high that
// is dated SeqJitter or more before it, when it starts over from seqStart far
// below what came before, and when it jumps seqJump ahead of it.
func SeqRuns(points []SeqPoint) []SeqRun {
	var runs []SeqRun
	settled := 0 // the first point of the present run that is younger than SeqJitter
	highest := int64(-1)
	top := int64(-1) // of the present run, settled or not
	for _, p := range points {
		for settled < len(points) && !points[settled].At.After(p.At.Add(-SeqJitter)) {
			highest = max(highest, points[settled].Seq)
			settled++
		}
		if len(runs) == 0 || highest >= p.Seq || restarts(p, top) && p.At.After(runs[len(runs)-1].LastAt) {
			runs = append(runs, SeqRun{FirstAt: p.At})
			highest, top = -1, -1
			settled = sort.Search(len(points), func(k int) bool { return !points[k].At.Before(p.At) })
		}
		top = max(top, p.Seq)
		runs[len(runs)-1].add(p)
	}
	return runs
}

// restarts reports whether a number cannot belong to a run that reached top. Two
// readings of one instant stay together all the same, so that a run is known by
// the time it begins.
func restarts(p SeqPoint, top int64) bool {
	return p.Seq <= seqStart && p.Seq+seqFar <= top || p.Seq-top > seqJump
}

// ComparePoints orders readings by time, then number.
func ComparePoints(a, b SeqPoint) int {
	if c := a.At.Compare(b.At); c != 0 {
		return c
	}
	return int(min(1, max(-1, a.Seq-b.Seq)))
}

// SeqAdd adds a reading to the runs of its saw and returns the index of the
// run that took it. It returns false when the reading may move the border
// between two runs: then the runs from that index on must be made again from
// the readings since the index's FirstAt (all of them for index 0).
func SeqAdd(runs []SeqRun, p SeqPoint) (_ []SeqRun, index int, ok bool) {
	i := sort.Search(len(runs), func(i int) bool { return !runs[i].FirstAt.Before(p.At) }) - 1
	if i < 0 {
		if len(runs) == 0 {
			r := SeqRun{FirstAt: p.At}
			r.add(p)
			return append(runs, r), 0, true
		}
		return runs, 0, false
	}
	r := &runs[i]
	newest := i == len(runs)-1
	top := r.Spans[len(r.Spans)-1].Last
	switch {
	case newest && p.Seq <= top && !r.LastAt.After(p.At.Add(-SeqJitter)):
		next := SeqRun{FirstAt: p.At}
		next.add(p)
		return append(runs, next), i + 1, true
	case p.Seq <= seqStart && p.Seq < top || p.Seq-top > seqJump ||
		p.At.Before(r.LastAt) && (r.cutBy(p) || r.jumps()):
		return runs, i, false // p, or a number after it, may start a run
	case newest && p.Seq > top && r.LastAt.Before(p.At.Add(SeqJitter)):
	case r.fills(p):
	default:
		return runs, i, false
	}
	r.add(p)
	return runs, i, true
}

// cutBy reports whether a high number may come before a low one of this run,
// which then is a restart. A low one is dated less than SeqJitter after the
// last of its span, or it would have begun a run.
func (r *SeqRun) cutBy(p SeqPoint) bool {
	low := r.Spans[0]
	return low.First <= seqStart && p.Seq >= seqFar && p.At.Before(low.LastAt.Add(SeqJitter))
}

// jumps reports whether the run holds a jump, which two readings of one instant
// can bring: what comes between may begin a run.
func (r *SeqRun) jumps() bool {
	for i := 1; i < len(r.Spans); i++ {
		if r.Spans[i].First-r.Spans[i-1].Last > seqJump {
			return true
		}
	}
	return false
}

// fills reports whether the reading lies between its neighbours in number and
// in time. Then it cannot be a restart: all higher numbers are dated less than
// SeqJitter before the upper neighbour, or that one would have begun a run.
func (r *SeqRun) fills(p SeqPoint) bool {
	i := r.above(p.Seq)
	if i == 0 || i == len(r.Spans) {
		return false
	}
	a, b := r.Spans[i-1], r.Spans[i]
	return p.Seq > a.Last && !p.At.Before(a.LastAt) && !p.At.After(b.FirstAt)
}

// above is the index of the first span that begins above the number.
func (r *SeqRun) above(seq int64) int {
	return sort.Search(len(r.Spans), func(i int) bool { return r.Spans[i].First > seq })
}

// add puts a number into the spans, joining those it links.
func (r *SeqRun) add(p SeqPoint) {
	if p.At.After(r.LastAt) {
		r.LastAt = p.At
	}
	i := r.above(p.Seq)
	if i > 0 && p.Seq <= r.Spans[i-1].Last {
		return // the number was there, the first reading dates it
	}
	joinsBelow := i > 0 && r.Spans[i-1].Last == p.Seq-1
	joinsAbove := i < len(r.Spans) && r.Spans[i].First == p.Seq+1
	switch {
	case joinsBelow && joinsAbove:
		r.Spans[i-1].Last, r.Spans[i-1].LastAt = r.Spans[i].Last, r.Spans[i].LastAt
		r.Spans = slices.Delete(r.Spans, i, i+1)
	case joinsBelow:
		r.Spans[i-1].Last, r.Spans[i-1].LastAt = p.Seq, p.At
	case joinsAbove:
		r.Spans[i].First, r.Spans[i].FirstAt = p.Seq, p.At
	default:
		r.Spans = slices.Insert(r.Spans, i, SeqSpan{First: p.Seq, Last: p.Seq, FirstAt: p.At, LastAt: p.At})
	}
}
