package backtest

import (
	"fmt"
	"math"
	"slices"
	"time"

	"gullet/analyze/deviation"
	"gullet/analyze/shift"
	"gullet/cmd/gullet/internal/planning"
	"gullet/cmd/gullet/internal/trend"
	"gullet/store"
)

// stay is one fitting while its saw is followed.
type stay struct {
	row     *store.FittingRow
	kind    string
	earlier []*store.FittingRow // of the same blade
	blade   *blade              // nil: nothing is decided of it
	ruling  ruling
	weights map[string]float64
}

// track is one saw while its passes are read.
type track struct {
	*Input
	saw      string
	weights  map[string]float64 // of grades, by all of the history
	calendar *shift.Calendar
	stays    []*stay
	at       int
	course   deviation.Course
	then     float64 // weighted in² of the blade that is on, in the measure of then
	now      float64 // and in that of now
	hung     float64 // the same when it was hung

	limits trend.Limits
	turn   shift.Turn // of the last pass
	cuts   int        // in it
	area   float64    // weighted in², in it
	shifts []worked   // of the last days
}

// worked is a shift in which the saw worked.
type worked struct {
	end  time.Time
	area float64 // weighted in²
}

// run reads the passes from some fittings before the first that is judged. What those
// cut is weighed as known when that one was hung.
func (t *track) run() error {
	first := slices.IndexFunc(t.stays, func(s *stay) bool { return s.blade != nil })
	if first < 0 {
		return nil
	}
	t.stays = t.stays[max(0, first-fittingsBefore):]
	var weights map[string]float64
	for i := len(t.stays) - 1; i >= 0; i-- {
		if b := t.stays[i].blade; b != nil {
			weights = b.told.weigher.weights
		}
		t.stays[i].weights = weights
	}
	// Behind the last that is judged nothing is asked.
	for i := range t.stays {
		if t.stays[i].weights == nil {
			t.stays = t.stays[:i]
			break
		}
	}
	t.hang()
	last := t.stays[len(t.stays)-1].row
	until := t.Now
	if !last.Open() && last.End.Before(until) {
		until = last.End
	}
	if err := t.Passes(t.saw, t.stays[0].row.Start, until, t.pass); err != nil {
		return err
	}
	t.to(until)
	return nil
}

// hang begins the fitting the track is at.
func (t *track) hang() {
	s := t.stays[t.at]
	t.then, t.now = 0, 0
	for _, f := range s.earlier {
		for _, g := range f.Totals {
			t.then += g.Area * s.weights[g.Grade]
			t.now += g.Area * t.weights[g.Grade]
		}
	}
	t.hung = t.now
	t.limits.Keep(heightsKept)
	limit, _ := t.limit()
	t.course.Fit(s.kind, t.then, limit)
}

// limit is the trip limit over the height by all that the saw has told so far, on this
// blade and before, and those of its heights; NaN and none are not known.
func (t *track) limit() (limit float64, over []float64) {
	saw, _ := t.Config.SawOf(t.saw)
	limit, over, _ = t.limits.Over(saw.TripLimit)
	if len(over) == 0 && limit > 0 {
		over = []float64{limit}
	}
	return limit, over
}

// heightsKept is how many passes stand for the heights that a saw cuts.
const heightsKept = 1000

// to lets time run on to a moment at which a pass was made, or the last one.
func (t *track) to(at time.Time) {
	if !t.turn.End.IsZero() && !t.turn.End.After(at) {
		t.change(t.turn.End)
		if t.cuts >= planning.TurnCuts {
			t.worked()
		}
		t.turn, t.cuts, t.area = shift.Turn{}, 0, 0
	}
	t.change(at)
}

// change goes to the fitting of a moment.
func (t *track) change(at time.Time) {
	for t.at+1 < len(t.stays) && !t.stays[t.at].row.Open() && at.After(t.stays[t.at].row.End) {
		t.at++
		t.hang()
	}
}

// on reports whether the blade of the fitting was on at a moment.
func (t *track) on(at time.Time) bool {
	f := t.stays[t.at].row
	return at.After(f.Start) && (f.Open() || !at.After(f.End))
}

// pass takes a pass to the blade it was made with.
func (t *track) pass(h store.HistoryRow) error {
	t.to(h.At)
	if t.turn.End.IsZero() {
		t.turn, _ = t.calendar.At(t.saw, h.At)
	}
	if !t.on(h.At) {
		return nil // between two blades
	}
	c := trend.CutOf(&h, t.then, t.stays[t.at].weights[h.Grade])
	if err := t.course.Add(&c); err != nil {
		return fmt.Errorf("saw %s on %s: %w", t.saw, h.At.Format(time.RFC3339), err)
	}
	if h.Area != nil {
		t.now += *h.Area * t.weights[h.Grade]
	}
	t.then = c.Area
	if r := &t.stays[t.at].ruling; c.Tripped && r.seen > 0 && r.tripped == 0 {
		r.tripped = t.now
	}
	t.limits.Add(&h)
	t.cuts++
	t.area += c.Area - c.From
	return nil
}

// worked decides at the end of a shift in which the saw worked.
func (t *track) worked() {
	end := t.turn.End
	t.shifts = append(t.shifts, worked{end, t.area})
	for t.shifts[0].end.Before(end.AddDate(0, 0, -planning.PaceDays)) {
		t.shifts = t.shifts[1:]
	}
	s := t.stays[t.at]
	if s.blade == nil || !t.on(end) {
		return
	}
	r, told := &s.ruling, s.blade.told
	look := r.seen == 0 && t.now >= told.half
	if r.changed && !look {
		return
	}
	_, over := t.limit()
	o := t.course.Outlook(over...)
	if o == nil {
		if !r.changed && told.plan <= t.now {
			r.changed, r.age, r.at = true, math.Max(told.plan, t.hung), end
		}
		return
	}
	r.followed = true
	left, err := told.weigher.left(t.then, o)
	if err != nil {
		return // nor would the plan advise anything
	}
	if look {
		r.seen, r.left = t.now, scaled(quantiles(left, 0), t.now/t.then)
	}
	if !r.changed && told.weigher.now(left, t.usual()) {
		r.changed, r.age, r.at = true, t.now, end
	}
}

// usual is what the saw makes of a shift, in weighted in².
func (t *track) usual() float64 {
	sum := 0.0
	for _, s := range t.shifts {
		sum += s.area
	}
	return sum / float64(len(t.shifts))
}
