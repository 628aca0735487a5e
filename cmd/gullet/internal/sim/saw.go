package sim

import (
	"fmt"
	"math"
	"math/rand/v2"
	"time"

	"gullet/analyze"
)

// saw is one machine at work. Its clock runs ahead of what is handed out by at
// most the messages of one step.
type saw struct {
	model
	index  int
	shop   *Shop
	rng    *rand.Rand // of what happens
	mishap *rand.Rand // of what goes wrong with the telling, so that it changes nothing that happens
	truth  int        // its place in Truth.Saws

	now   time.Time
	done  bool
	shift shift
	due   []stop // stops to come in this shift
	blade *blade
	aside *blade // taken off to be hung again
	made  int    // blades so far
	job   job
	jobs  int

	standing bool // told to stand; the next cut tells that it cuts again
	since    time.Time
	cause    string

	seq, sent, births int64
	late              []held
	lost              int
	spoilt            int
	had               map[string]bool // troubles that come once
}

// job is a batch of equal pieces.
type job struct {
	name     string
	left     int // pieces to cut
	piece    int
	trim     bool // the end of the bar is cleaned first
	section  section
	material material
	grade    string
	mitre    float64 // degrees from square
	count    int
}

func newSaw(s *Shop, index int, seed uint64) *saw {
	w := &saw{
		model: models[index], index: index, shop: s, had: map[string]bool{}, truth: len(s.truth.Saws),
		rng:    rand.New(rand.NewPCG(seed, uint64(2*index))),
		mishap: rand.New(rand.NewPCG(seed, uint64(2*index+1))),
		now:    s.open,
	}
	s.truth.Saws = append(s.truth.Saws, SawTruth{
		Name: w.name, Messages: map[analyze.Kind]int{}, Down: map[string]time.Duration{},
	})
	return w
}

// sum is the truth of the saw.
func (w *saw) sum() *SawTruth { return &w.shop.truth.Saws[w.truth] }

// step does the next thing: go to work, stand, begin a job or make a cut.
func (w *saw) step() {
	switch {
	case !w.now.Before(w.shift.end):
		w.nextShift()
	case len(w.due) > 0 && !w.now.Before(w.due[0].at):
		w.stand()
	case w.job.left == 0:
		w.nextJob()
	default:
		w.troubles()
		w.cut()
	}
}

// nextShift goes on to the next shift, or home when none follows at once. The
// last cut of the day runs out unattended.
func (w *saw) nextShift() {
	next, more := w.shop.shiftAt(w.name, w.now)
	if w.blade != nil && (!more || next.start.After(w.now)) {
		w.state("off", "")
	}
	if !more {
		w.finish()
		return
	}
	if next.start.After(w.now) {
		w.now = next.start
	}
	w.shift = next
	w.due = w.drawStops(next)
	w.sum().Shifts++
	if w.blade == nil {
		w.begin()
	}
}

// begin is the first moment of all: the saw says it is there, and what is on it.
func (w *saw) begin() {
	if w.shop.faults.stale && w.name == "s2" {
		w.leaveStale()
	}
	w.alive(true)
	w.fit(w.newBlade())
}

// nextJob finishes the batch, if there was one, and sets up another.
func (w *saw) nextJob() {
	if w.jobs > 0 {
		w.state("stopped", "count-done")
		w.wait(w.handling)
	}
	w.state("idle", "setup")
	w.wait(logNormal(w.rng, w.setup, .4))
	w.job = w.drawJob()
}

// drawJob draws a batch. The order of the draws never depends on their outcome,
// so that a changed probability does not reshuffle the rest.
func (w *saw) drawJob() job {
	r := w.rng
	w.jobs++
	mix := w.pick(r.Float64())
	sec := mix.sections[r.IntN(len(mix.sections))]
	mitred, angle, which := r.Float64(), r.Float64(), r.Float64()
	bundle, bars, trim := r.Float64(), 3+r.IntN(3), r.Float64()
	j := job{
		name: fmt.Sprintf("J%d-%04d", w.index+1, w.jobs),
		left: 1 + int(math.Round(r.ExpFloat64()*w.batch)), trim: trim < .3,
		section: sec, material: mix, grade: sec.grade, count: 1,
	}
	if j.grade == "" {
		j.grade = mix.grades[int(which*float64(len(mix.grades)))]
	}
	j.grade = w.strange(j.grade)
	if mitred < w.mitred {
		j.mitre = w.angles[int(angle*float64(len(w.angles)))]
	}
	if sec.bundle && bundle < .5 {
		j.count = bars
	}
	return j
}

// pick is the material at a quantile of the mix.
func (w *saw) pick(u float64) material {
	for _, m := range w.mix {
		if u -= m.share; u < 0 {
			return m
		}
	}
	return w.mix[len(w.mix)-1]
}

// state tells what the saw does now and why. While it stands, the truth books
// the time to the cause last told.
func (w *saw) state(state, cause string) {
	w.book()
	w.send(analyze.KindState, message{State: state, Cause: cause})
	w.standing, w.since, w.cause = state != "cutting", w.now, cause
}

// book puts the time stood so far to its cause; a saw that is off has none.
func (w *saw) book() {
	if w.standing && w.cause != "" {
		w.sum().Down[w.cause] += w.now.Sub(w.since)
	}
}

// logNormal draws from a lognormal by its median.
func logNormal(r *rand.Rand, median, sigma float64) float64 {
	return median * math.Exp(sigma*r.NormFloat64())
}
