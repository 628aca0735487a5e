package vigil

import (
	"fmt"
	"math"
	"time"

	"gullet/analyze"
	"gullet/analyze/alert"
	"gullet/analyze/downtime"
	"gullet/cmd/gullet/internal/floor"
	"gullet/cmd/gullet/internal/standing"
)

// stopAnew is how long what a saw stands for is believed while it tells nothing: a person
// may explain it meanwhile.
const stopAnew = time.Minute

// stopped is a stop as it was looked at last.
type stopped struct {
	looked   time.Time
	at, came time.Time // of the newest reading then
	stop     *standing.Stop
}

// Causes that are for want of material.
const (
	outOfStock      analyze.Cause = "out-of-stock"
	waitingMaterial analyze.Cause = "waiting-material"
)

// stops looks at what each saw stands for.
func (q *quick) stops() error {
	if q.Looker.stops == nil {
		q.Looker.stops = map[string]stopped{}
	}
	for i := range q.floor.Saws {
		s := &q.floor.Saws[i]
		if s.LastReading == nil {
			continue
		}
		stop, err := q.stop(s)
		if err != nil {
			return err
		}
		q.stands(s, stop)
	}
	return nil
}

// stop is that which a saw is in, nil for none that is known. The time line of a saw takes
// a while, so it is made anew only when the saw has told something or, where it stands,
// some time is over; one that does not stand must say so first.
func (q *quick) stop(s *floor.Saw) (*standing.Stop, error) {
	h := s.LastReading
	old, ok := q.Looker.stops[s.Saw]
	fresh := old.stop == nil || q.now.Sub(old.looked) < stopAnew
	if ok && fresh && old.at.Equal(h.At) && old.came.Equal(h.Received) {
		return old.stop, nil
	}
	now := q.now.Add(-skew(s)) // by the saw's clock, as its stops are dated
	// The moment before now: a stop that is not over ends with it.
	stop, err := standing.StopAt(q.ctx, q.Store, q.Config, now, s.Saw, now.Add(-time.Microsecond))
	if err != nil {
		return nil, err
	}
	q.Looker.stops[s.Saw] = stopped{q.now, h.At, h.Received, stop}
	return stop, nil
}

// stands adds the fact of a stop. Of a saw that is silent, or whose history is coming in,
// nobody knows whether it stands still.
func (q *quick) stands(s *floor.Saw, stop *standing.Stop) {
	fact := func(kind alert.Kind, level float64, w alert.Words) {
		f := alert.Fact{Key: alert.Key{Kind: kind, Saw: s.Saw}, Level: level, At: present(s), Words: w}
		if stop != nil {
			f.Since = shopTime(s, stop.From)
		}
		q.add(f)
	}
	if drains(s, q.now) || stop == nil && s.Silent {
		w := alert.Words{What: "whether the saw stands is not known", Sure: q.lastHeard(s), Path: "downtime"}
		fact(alert.UnexplainedStop, unknown, w)
		fact(alert.OutOfStock, unknown, w)
		return
	}
	if stop == nil {
		return
	}
	minutes := q.stood(s, stop)
	since := "the saw stands since " + q.style().Moment(shopTime(s, stop.From), q.now)
	if math.IsNaN(minutes) {
		since += ", how long of its shifts is not known yet"
	} else {
		since += fmt.Sprintf(", %.0f min of its shifts", minutes)
	}
	switch stop.Cause {
	case downtime.Unexplained:
		fact(alert.UnexplainedStop, minutes, alert.Words{
			What: since + ", and nobody said why",
			Sure: q.lastHeard(s), Check: []string{"the saw: what its panel says", "say what it is for: gullet downtime explain"}, Path: "downtime",
		})
	case outOfStock, waitingMaterial:
		fact(alert.OutOfStock, minutes, alert.Words{
			What: fmt.Sprintf("%s, for want of material (%s)", since, stop.Cause),
			Sure: q.lastHeard(s), Check: []string{"the bars for its next job", "who brings them"}, Path: "downtime",
		})
	}
}

// stood is how many minutes of its shifts a saw has stood. In a shop that said nothing of
// its shifts a saw that was switched off is not expected to run.
func (q *quick) stood(s *floor.Saw, stop *standing.Stop) float64 {
	if q.Config.Calendar().IsDefault() && stop.Minutes == 0 && stop.To.Sub(stop.From) >= time.Minute {
		return 0
	}
	c, known := q.calendar()
	if !known {
		return unknown
	}
	return c.Worked(s.Saw, shopTime(s, stop.From), q.now).Minutes()
}

// lastHeard says how old what is known of a saw is.
func (q *quick) lastHeard(s *floor.Saw) string {
	if s.LastReading == nil {
		return "the saw has never sent a reading"
	}
	return "last heard of at " + q.style().Moment(newest(s), q.now)
}
