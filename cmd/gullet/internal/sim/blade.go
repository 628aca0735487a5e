package sim

import (
	"fmt"
	"math"
	"time"

	"gullet/analyze"
)

// The reasons blades come off for in this shop.
const (
	planned   = analyze.ReasonPlanned
	crooked   = analyze.ReasonCrooked
	stripped  = analyze.ReasonStripped
	brokeWeld = analyze.ReasonBrokeWeld
	brokeBody = analyze.ReasonBrokeBody
	moved     = analyze.ReasonMoved
)

// The model of a blade's life.
const (
	qualitySigma = 0.18    // of the lognormal quality, median 1
	sideSigma    = 0.25    // of the lognormal lead to one side, median 1
	stripMean    = 60000.0 // weighted in², exponential
	weldShare    = 0.03    // of blades have a bad weld
	weldMean     = 800.0   // weighted in², exponential
	fatigueShape = 3.0
	planFrom     = 0.75 // of the life used, when the planner pulls it
	planTo       = 1.15
	breakIn      = 100.0 // weighted in² at half the rate
	perLot       = 3     // blades welded from one coil
)

// blade is one loop with the fate drawn for it when it was welded.
type blade struct {
	serial, lot string
	quality     float64
	lead        float64 // signed: the side it wanders to and how much
	stripAt     float64 // weighted in²
	weldAt      float64 // weighted in², +Inf for a good weld
	fatigueAt   float64 // bends
	planAt      float64 // share of the life used

	worn   float64 // weighted in² so far
	bends  float64
	recent []bool // of the last cuts, which tripped
	truth  int    // its place in Truth.Blades
	listed bool
	kind   string
}

// newBlade draws a blade for this saw.
func (w *saw) newBlade() *blade {
	w.made++
	r := w.rng
	b := &blade{
		serial:    fmt.Sprintf("B-%d%03d", w.index+1, w.made),
		lot:       fmt.Sprintf("L-%d%02d", w.index+1, (w.made-1)/perLot+1),
		quality:   logNormal(r, 1, qualitySigma),
		lead:      logNormal(r, 1, sideSigma),
		stripAt:   r.ExpFloat64() * stripMean,
		weldAt:    math.Inf(1),
		fatigueAt: w.fatigue * math.Pow(r.ExpFloat64(), 1/fatigueShape),
		planAt:    planFrom + (planTo-planFrom)*r.Float64(),
		kind:      w.bladeType,
	}
	if r.Float64() < 0.5 {
		b.lead = -b.lead
	}
	weld, weldAt := r.Float64(), r.ExpFloat64()*weldMean
	if weld < weldShare {
		b.weldAt = weldAt
	}
	if w.shop.faults.lot && w.name == "s4" && w.made >= badFirst && w.made <= badLast {
		b.quality *= badQuality
		if w.made == badFirst {
			w.happened("bad-lot", "lot "+b.lot+": quality × 0.7")
		}
	}
	return b
}

// used is the share of the blade's life that is gone.
func (w *saw) used(b *blade) float64 { return b.worn / (w.life * b.quality) }

// tripped notes whether a cut tripped and reports three trips in ten cuts.
func (b *blade) tripped(yes bool) bool {
	b.recent = append(b.recent, yes)
	if len(b.recent) > 10 {
		b.recent = b.recent[1:]
	}
	n := 0
	for _, t := range b.recent {
		if t {
			n++
		}
	}
	return n >= 3
}

// downMinutes is the median stop for a change.
func downMinutes(why analyze.EndReason) float64 {
	switch why {
	case crooked:
		return 20
	case stripped, brokeWeld, brokeBody:
		return 42
	}
	return 14
}

// change takes the blade off for a reason and fits the next.
func (w *saw) change(why analyze.EndReason, next *blade) {
	minutes := logNormal(w.rng, downMinutes(why), .25)
	w.wait(.05 * minutes)
	w.state("stopped", "blade-change")
	w.wait(.25 * minutes)
	w.remove(why)
	w.wait(.4 * minutes)
	w.fit(next)
	w.wait(.3 * minutes)
}

// remove takes the blade off.
func (w *saw) remove(why analyze.EndReason) {
	w.send(analyze.KindBlade, message{Action: "remove", Blade: w.blade.serial, Reason: string(why)})
	t := w.bladeTruth()
	t.End = why
	last := &t.Fittings[len(t.Fittings)-1]
	last.To, last.Reason = w.now, why
	w.blade = nil
}

// fit hangs a blade.
func (w *saw) fit(b *blade) {
	w.blade = b
	if !b.listed {
		b.listed, b.truth = true, len(w.shop.truth.Blades)
		w.shop.truth.Blades = append(w.shop.truth.Blades, BladeTruth{
			Serial: b.serial, Type: b.kind, Lot: b.lot, Quality: b.quality, ByGrade: map[string]float64{},
		})
	}
	t := w.bladeTruth()
	t.End = ""
	t.Fittings = append(t.Fittings, FittingTruth{Saw: w.name, From: w.now})
	w.send(analyze.KindBlade, message{Action: "fit", Blade: b.serial, Type: b.kind, Lot: b.lot})
}

// bladeTruth is the truth of the blade on the saw.
func (w *saw) bladeTruth() *BladeTruth { return &w.shop.truth.Blades[w.blade.truth] }

// wait lets minutes pass.
func (w *saw) wait(minutes float64) {
	w.now = w.now.Add((time.Duration(minutes * float64(time.Minute))).Round(time.Millisecond))
}
