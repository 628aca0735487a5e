package sim

import (
	"container/heap"
	"slices"
	"time"

	"gullet/analyze"
)

// Options say which shop to run. The zero Zone is UTC.
type Options struct {
	Seed   uint64
	Start  time.Time      // when the shop opens; its date in Zone is day 0
	Days   int            // calendar days, of which five a week are worked; 0 = without end
	Zone   *time.Location // of the shop's shifts and of the offsets in "at"
	Saws   []string       // by name, s1 to s5, nil = all; a name that is not there is passed over
	Faults bool           // inject the faults listed in Truth.Faults
}

// Shop runs the saws and hands out their messages. It is not safe for
// concurrent use.
type Shop struct {
	zone   *time.Location
	open   time.Time // start of the shop
	until  time.Time // end of the last day, zero = without end
	faults faults
	saws   []*saw
	queue  queue
	order  int // of lines that would be published at the same moment
	rack   *racked
	truth  Truth
}

// racked is a blade on its way from one saw to another.
type racked struct {
	blade *blade
	since time.Time
}

// New opens a shop. The same options give the same lines, byte for byte.
func New(o Options) *Shop {
	f := faults{}
	if o.Faults {
		f = allFaults
	}
	return open(o, f)
}

// open is New with the faults chosen one by one.
func open(o Options, f faults) *Shop {
	s := &Shop{zone: o.Zone, faults: f}
	if s.zone == nil {
		s.zone = time.UTC
	}
	s.open = o.Start.In(s.zone).Truncate(time.Millisecond)
	if o.Days > 0 {
		s.until = s.midnight(o.Days)
	}
	for i := range models {
		if o.Saws == nil || slices.Contains(o.Saws, models[i].name) {
			s.saws = append(s.saws, newSaw(s, i, o.Seed))
		}
	}
	s.announce()
	return s
}

// Next is the next message in order of publishing; false when the days are over.
//
// The saws run one step (a cut, a change, a stop) at a time, always the one
// that is furthest behind, so that only the messages of a few minutes are held.
func (s *Shop) Next() (Line, bool) {
	for {
		var behind *saw
		for _, w := range s.saws {
			if !w.done && (behind == nil || w.now.Before(behind.now)) {
				behind = w
			}
		}
		// No saw publishes anything before its own clock.
		if len(s.queue) > 0 && (behind == nil || s.queue[0].At.Before(behind.now)) {
			return heap.Pop(&s.queue).(queued).Line, true
		}
		if behind == nil {
			return Line{}, false
		}
		behind.step()
	}
}

// publish queues a line.
func (s *Shop) publish(l Line) {
	s.order++
	heap.Push(&s.queue, queued{l, s.order})
}

// has reports whether the saw is in the shop.
func (s *Shop) has(name string) bool {
	return slices.ContainsFunc(s.saws, func(w *saw) bool { return w.name == name })
}

// midnight is the beginning of a day, counted from day 0.
func (s *Shop) midnight(day int) time.Time { return s.clock(day, 0, 0) }

// clock is a wall-clock time of a day, counted from day 0.
func (s *Shop) clock(day, hour, minute int) time.Time {
	y, m, d := s.open.Date()
	return time.Date(y, m, d+day, hour, minute, 0, 0, s.zone)
}

// day is the number of the day a moment falls on, whatever the clock change.
func (s *Shop) day(t time.Time) int {
	civil := func(t time.Time) time.Time {
		y, m, d := t.In(s.zone).Date()
		return time.Date(y, m, d, 0, 0, 0, 0, time.UTC)
	}
	return int(civil(t).Sub(civil(s.open)) / (24 * time.Hour))
}

// shift is one turn of work.
type shift struct {
	start, end time.Time
	second     bool // the afternoon
}

// shiftAt is the shift a moment falls in, or else the next one; false when no
// more begins before the shop's end. Monday to Friday has two of eight hours.
func (s *Shop) shiftAt(saw string, t time.Time) (shift, bool) {
	for day := s.day(t) - 1; ; day++ {
		if !s.until.IsZero() && !s.midnight(day).Before(s.until) {
			return shift{}, false
		}
		for _, sh := range s.shifts(saw, day) {
			if sh.end.After(t) && sh.end.After(s.open) {
				return sh, true
			}
		}
	}
}

// shifts are those that begin on a day.
func (s *Shop) shifts(saw string, day int) []shift {
	var out []shift
	early, late, night, morning := s.clock(day, 6, 0), s.clock(day, 14, 0), s.clock(day, 22, 0), s.clock(day+1, 6, 0)
	if wd := early.Weekday(); wd != time.Saturday && wd != time.Sunday {
		out = append(out, shift{start: early, end: late}, shift{start: late, end: night, second: true})
	}
	if s.faults.clockChange && saw == nightSaw && changesClock(night, morning) {
		out = append(out, shift{start: night, end: morning})
	}
	return out
}

// changesClock reports whether the zone's offset differs between two moments.
func changesClock(a, b time.Time) bool {
	_, before := a.Zone()
	_, after := b.Zone()
	return before != after
}

// Truth is what really happened. It is complete when Next has returned false;
// before that it may be a step ahead of the lines handed out.
func (s *Shop) Truth() Truth { return s.truth.clone() }

// queued is a line waiting for its moment.
type queued struct {
	Line
	order int
}

// queue is a heap of lines by moment of publishing.
type queue []queued

func (q queue) Len() int      { return len(q) }
func (q queue) Swap(i, j int) { q[i], q[j] = q[j], q[i] }
func (q queue) Less(i, j int) bool {
	if !q[i].At.Equal(q[j].At) {
		return q[i].At.Before(q[j].At)
	}
	return q[i].order < q[j].order
}
func (q *queue) Push(x any) { *q = append(*q, x.(queued)) }
func (q *queue) Pop() any {
	old := *q
	last := old[len(old)-1]
	old[len(old)-1] = queued{}
	*q = old[:len(old)-1]
	return last
}

// topic is where a saw publishes a kind.
func topic(saw string, k analyze.Kind) string {
	return analyze.DefaultSite + "/" + saw + "/" + string(k)
}
