package sim

import (
	"math"
	"time"
)

// faults are the troubles that can be switched on.
type faults struct {
	guide       bool // s2: its guide stands off, +0.9 mil/in through every blade
	skew        bool // s3: its clock is 95 s ahead
	move        bool // a blade goes from s1 to s2
	rehang      bool // s3: a blade makes room for another and comes back
	duplicates  bool // 0.3 % of the readings are sent twice
	disorder    bool // 0.5 % of the readings are overtaken by later ones
	outage      bool // the shop's network is away for 25 minutes, its history follows
	stale       bool // a cut of days ago is the broker's retained value
	clockChange bool // the night saw works the night on which the clock changes
	grades      bool // materials nobody configured
	axis        bool // s5: its scale reads 90 for a square cut
	lot         bool // s4: three blades of a bad lot, quality × 0.7
	pushed      bool // s1: the operator of the afternoon pushes the feed
	restart     bool // s4: its controller restarts, seq begins at 1 again
	gaps        bool // at most two readings of each saw are numbered and never sent
	spoiled     bool // a bad copy, of each kind one per saw, is sent before the good one
}

var allFaults = faults{
	true, true, true, true, true, true, true, true,
	true, true, true, true, true, true, true, true,
}

// Days of the faults, counted from day 0. A moment that falls on a day off
// comes with the next work.
const (
	skewUntil              = 20
	moveDay                = 11
	rehangDay, rehangBack  = 16, 17
	pushFrom, pushTo       = 21, 26
	restartDay             = 24
	axisFrom, axisTo       = 30, 32
	outageDay              = 36
	guideFrom, guideTo     = 40, 55
	outageHour             = 10
	outageMinutes          = 25
	metricFrom, metricTo   = 14, 16 // no fault: s4 speaks mm on these days
	metricSaw              = "s4"
	nightSaw               = "s3"
	skewAhead              = 95 * time.Second
	guideOffset            = 0.9 // mil/in
	badQuality             = 0.7
	badFirst, badLast      = 4, 6 // blades of s4, by the order they were made
	pushRate, pushWander   = 1.25, 1.5
	duplicateShare         = 0.003
	lateShare              = 0.005
	lostShare, lostMost    = 0.0005, 2
	spoilShare             = 0.001
	strangeShare           = 0.01      // of batches
	resendLeast, resendMay = 1.0, 29.0 // s
)

// announce lists in the truth the faults that have a time of their own; those
// that happen once are listed when they do.
func (s *Shop) announce() {
	span := func(on bool, name, saw string, from, to time.Time, note string) {
		inside := s.until.IsZero() || from.Before(s.until)
		if on && inside && (saw == "" || s.has(saw)) {
			s.truth.Faults = append(s.truth.Faults, Fault{name, saw, from, to, note})
		}
	}
	f := s.faults
	span(f.skew, "clock", "s3", s.open, s.midnight(skewUntil), "at is 95 s ahead of the true time")
	span(f.pushed, "pushed-feed", "s1", s.midnight(pushFrom), s.midnight(pushTo), "second shift: rate × 1.25, wander × 1.5")
	span(f.axis, "axis", "s5", s.midnight(axisFrom), s.midnight(axisTo), "mitre is sent from the bar's axis; square cuts send 90 and break the contract")
	from, to := s.outage()
	span(f.outage, "outage", "", from, to, "nothing arrives; the history follows in order")
	span(f.guide, "guide", "s2", s.midnight(guideFrom), s.midnight(guideTo), "deviation + 0.9 mil/in whatever the blade")
	span(f.duplicates, "duplicates", "", s.open, s.until, "0.3 % of the readings are sent twice")
	span(f.disorder, "disorder", "", s.open, s.until, "0.5 % of the readings are overtaken by up to three later ones")
	if f.clockChange {
		s.announceClockChange()
	}
}

// announceClockChange looks for the night within the days, or the first year.
func (s *Shop) announceClockChange() {
	if !s.has(nightSaw) {
		return
	}
	for day := range 366 {
		night, morning := s.clock(day, 22, 0), s.clock(day+1, 6, 0)
		if !s.until.IsZero() && !night.Before(s.until) {
			return
		}
		if changesClock(night, morning) {
			s.truth.Faults = append(s.truth.Faults, Fault{"clock-change", nightSaw, night, morning, "works the night on which the zone's clock changes"})
		}
	}
}

// happened lists a fault that has come.
func (w *saw) happened(name, note string) {
	w.shop.truth.Faults = append(w.shop.truth.Faults, Fault{Name: name, Saw: w.name, From: w.now, Note: note})
}

// outage is when the network is away.
func (s *Shop) outage() (from, to time.Time) {
	from = s.clock(outageDay, outageHour, 0)
	return from, from.Add(outageMinutes * time.Minute)
}

// during reports whether a fault of some days is on now.
func (w *saw) during(on bool, saw string, from, to int) bool {
	if !on || w.name != saw {
		return false
	}
	d := w.shop.day(w.now)
	return d >= from && d < to
}

// guide is the offset of the saw's guide now, in mil/in.
func (w *saw) guide() float64 {
	if w.during(w.shop.faults.guide, "s2", guideFrom, guideTo) {
		return guideOffset
	}
	return 0
}

// pushing reports whether the operator pushes the feed now.
func (w *saw) pushing() bool {
	return w.shift.second && w.during(w.shop.faults.pushed, "s1", pushFrom, pushTo)
}

// saysMitre is the angle the saw sends for a true one.
func (w *saw) saysMitre(deg float64) float64 {
	if w.during(w.shop.faults.axis, "s5", axisFrom, axisTo) {
		return 90 - deg
	}
	return deg
}

// clockError is how far the saw's clock is ahead of the true time.
func (w *saw) clockError() time.Duration {
	if w.during(w.shop.faults.skew, "s3", math.MinInt, skewUntil) {
		return skewAhead
	}
	return 0
}

// strange is a grade nobody configured, for a few batches, or the true one.
func (w *saw) strange(grade string) string {
	if !w.shop.faults.grades || w.mishap.Float64() >= strangeShare {
		return grade
	}
	if w.index%2 == 0 {
		return "MYSTERY-7"
	}
	return "unknown"
}

// troubles are the events that happen once, before a cut.
func (w *saw) troubles() {
	f, day := w.shop.faults, w.shop.day(w.now)
	once := func(on bool, name, saw string, from int) bool {
		if !on || w.name != saw || day < from || w.had[name] {
			return false
		}
		w.had[name] = true
		return true
	}
	switch {
	case once(f.move && w.shop.has("s2"), "moved", "s1", moveDay):
		w.giveAway()
	case w.shop.rack != nil && w.name == "s2" && w.now.Sub(w.shop.rack.since) > 30*time.Minute:
		moved := w.shop.rack.blade
		w.shop.rack = nil
		w.change(planned, moved)
	case once(f.rehang, "rehung", "s3", rehangDay):
		w.aside = w.blade
		w.happened("rehung", "blade "+w.blade.serial+" makes room for another, to be hung again")
		w.change(planned, w.newBlade())
	case w.aside != nil && day >= rehangBack:
		back := w.aside
		w.aside = nil
		w.change(planned, back)
	case once(f.restart, "restart", "s4", restartDay):
		w.restart()
	}
}

// giveAway takes the blade off for another saw.
func (w *saw) giveAway() {
	b := w.blade
	w.happened("moved", "blade "+b.serial+" goes to s2 with life left")
	w.change(moved, w.newBlade())
	w.shop.rack = &racked{b, w.now}
}

// restart is the controller's: away for three minutes, then numbers from 1.
func (w *saw) restart() {
	w.happened("restart", "the controller restarts and numbers from 1; ids go on")
	w.state("stopped", "fault")
	w.alive(false)
	w.wait(3)
	w.seq = 0
	w.alive(true)
}
