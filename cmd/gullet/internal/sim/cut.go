package sim

import (
	"fmt"
	"math"
	"time"

	"gullet/analyze"
)

// The model of one cut.
const (
	tripAt      = 2.4  // mil of deviation per inch of cut height
	wander      = 0.3  // mil/in of a sharp blade
	wanderWorn  = 1.5  // mil/in more at the end of its life, with the square of what is used
	wanderSigma = 0.25 // mil/in from cut to cut
	probeSigma  = 1.0  // mil, of the reading
	slowWorn    = 0.35 // share by which a worn-out blade is slower
	timeSigma   = 0.05 // lognormal
	speedSigma  = 0.01 // lognormal
	untoldShare = 0.2  // of trips and breaks do not tell how far they came
	trialShare  = 0.02 // of cleaning cuts are trials instead
)

// pass is one trip of the blade through metal, from a share of the section to
// another.
type pass struct {
	kind      analyze.Kind
	where     string // of a break
	from, to  float64
	seconds   float64
	speed     float64 // ft/min
	deviation float64 // in
	limit     float64 // in
	mitre     float64 // degrees from square
	purpose   string
	piece     string
	whole     float64 // in², the face as if cut from the start
	severity  float64
}

// cut makes one cut of the job, with whatever happens in it, and sees to the
// blade after it.
func (w *saw) cut() {
	p := w.ready()
	p = w.through(p)
	crookedNow := w.blade.tripped(p.kind == analyze.KindTrip)
	if p.kind == analyze.KindTrip {
		w.state("stopped", "deviation-trip")
		if crookedNow {
			w.change(crooked, w.newBlade())
		} else {
			w.wait(2 + 4*w.rng.Float64())
		}
		p.from = p.to
		p = w.through(p)
	}
	w.next()
	w.after(p)
}

// ready is the cut to come.
func (w *saw) ready() pass {
	j := &w.job
	p := pass{mitre: j.mitre, severity: j.material.severity, limit: round(tripAt*j.section.height/1000, 4)}
	if j.trim {
		// The mill end is cleaned square.
		p.mitre, p.purpose = 0, "trim"
		if w.rng.Float64() < trialShare {
			p.purpose = "trial"
		}
	} else {
		p.piece = fmt.Sprintf("%s/%d", j.name, j.piece+1)
	}
	p.whole = j.section.area * float64(j.count) / math.Cos(p.mitre*math.Pi/180)
	return p
}

// next counts the cut off the job.
func (w *saw) next() {
	if w.job.trim {
		w.job.trim = false
		return
	}
	w.job.piece++
	w.job.left--
}

// after is what follows a cut: handling, or the end of the blade.
func (w *saw) after(p pass) {
	switch b := w.blade; {
	case p.kind == analyze.KindBreak:
		w.state("stopped", "blade-break")
		w.change(map[string]analyze.EndReason{"weld": brokeWeld, "body": brokeBody}[p.where], w.newBlade())
	case b.worn >= b.stripAt:
		w.state("stopped", "fault")
		w.change(stripped, w.newBlade())
	case w.used(b) >= b.planAt:
		w.change(planned, w.newBlade())
	default:
		w.wait(w.handling * (.8 + .4*w.rng.Float64()))
	}
}

// through draws what the pass becomes, wears the blade, and tells it. A cut that
// goes on after a trip does not trip again.
func (w *saw) through(p pass) pass {
	if w.standing {
		w.state("cutting", "")
	}
	p = w.draw(p)
	w.breaks(&p)
	w.wait(p.seconds / 60)
	told := w.tell(p)
	w.wear(p, told)
	return p
}

// draw is what the pass would become with a blade that holds: time, speed,
// deviation and whether it trips. The draws come in the same order whatever
// they give.
func (w *saw) draw(p pass) pass {
	r, b, x := w.rng, w.blade, w.used(w.blade)
	m := w.job.material
	pushed, strayed := 1.0, 1.0
	if w.pushing() {
		pushed, strayed = pushRate, pushWander
	}
	rate := m.rate * pushed
	if b.worn < breakIn {
		rate /= 2
	}
	p.speed = math.Round(logNormal(r, m.speed, speedSigma))
	full := p.whole / rate * (1 + slowWorn*x*x) * logNormal(r, 1, timeSigma) * 60
	perInch := b.lead*(wander+wanderWorn*x*x)*strayed + w.guide() + wanderSigma*r.NormFloat64()
	read := perInch*w.job.section.height + probeSigma*r.NormFloat64()
	stop, over := round(.2+.75*r.Float64(), 3), 1+.05*r.Float64()

	p.kind, p.to = analyze.KindCut, 1
	// The probe stops the cut at the limit: a trip reads a little over it, and
	// a cut that ran through never read more.
	limit := p.limit * 1000
	read = math.Copysign(math.Min(math.Abs(read), .98*limit), read)
	if math.Abs(perInch) > tripAt && p.from == 0 {
		p.kind, p.to = analyze.KindTrip, stop
		read = math.Copysign(limit*over, perInch)
	}
	p.deviation = round(read/1000, 4)
	p.seconds = round(full*(p.to-p.from), 1)
	return p
}

// breaks makes the pass a break if the blade's weld or body gives out in it.
func (w *saw) breaks(p *pass) {
	b := w.blade
	span := p.to - p.from
	// The share of this pass at which a counter reaches its end; 1 or more is
	// not in this pass.
	weld := (b.weldAt - b.worn) / (p.whole * span * p.severity)
	body := (b.fatigueAt - b.bends) / w.bends(*p)
	at := math.Min(weld, body)
	if at >= 1 {
		return
	}
	p.kind, p.where = analyze.KindBreak, "body"
	if weld < body {
		p.where = "weld"
	}
	p.seconds = math.Max(.1, round(p.seconds*at, 1))
	p.to = round(p.from+span*math.Max(at, 0), 3)
}

// bends is how often the band bends over a wheel in the pass: twice a turn.
func (w *saw) bends(p pass) float64 { return 2 * p.speed * p.seconds / 60 / w.band }

// tell sends the pass and reports what a reader who takes it at its word adds
// up, in in²; NaN when the share done is not told, 0 when nothing can be added.
func (w *saw) tell(p pass) float64 {
	j := w.job
	m := message{
		Seconds: p.seconds, Grade: j.grade, Mitre: w.saysMitre(p.mitre), Job: j.name, Piece: p.piece,
		Purpose: p.purpose, From: p.from, BandSpeed: p.speed, Deviation: &p.deviation, Where: p.where,
		Section: j.section.says, Feed: round(j.section.height*(p.to-p.from)/p.seconds*60, 3),
	}
	if j.count > 1 {
		m.Count = j.count
	}
	if w.serial {
		m.Blade = w.blade.serial
	}
	if w.pressure {
		m.Pressure = math.Round(350 + 150*w.used(w.blade))
	}
	if p.kind == analyze.KindTrip {
		m.Limit = p.limit
	}
	untold := p.kind != analyze.KindCut && w.rng.Float64() < untoldShare
	if p.kind != analyze.KindCut && !untold {
		m.Done = &p.to
	}
	if w.name == metricSaw {
		if d := w.shop.day(w.now); d >= metricFrom && d < metricTo {
			m = m.inMM()
		}
	}
	whole := j.section.area * float64(j.count) / math.Cos(m.Mitre*math.Pi/180)
	if untold {
		w.send(p.kind, m)
		return math.NaN()
	}
	if !w.sendArea(p.kind, m, whole*(p.to-p.from)) {
		return 0
	}
	return whole * (p.to - p.from)
}

// wear books the pass: on the blade, and in the truth of blade and saw.
func (w *saw) wear(p pass, told float64) {
	area := p.whole * (p.to - p.from)
	b, t, s := w.blade, w.bladeTruth(), w.sum()
	b.worn += area * p.severity
	b.bends += w.bends(p)
	t.Area += area
	t.ByGrade[w.job.grade] += area
	t.Weighted, t.Bends = b.worn, b.bends
	if math.IsNaN(told) {
		t.Untold += area
	} else {
		t.Told += told
	}
	s.Area += area
	s.InCut += time.Duration(p.seconds * float64(time.Second))
	switch p.kind {
	case analyze.KindCut:
		t.Cuts++
		s.Cuts++
	case analyze.KindTrip:
		t.Trips++
		s.Trips++
	}
}
