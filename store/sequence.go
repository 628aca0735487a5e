package store

import (
	"cmp"
	"errors"
	"slices"
	"time"

	"gullet/analyze"
)

func (w *writer) loadRuns(saw int64) ([]analyze.SeqRun, error) {
	var runs []analyze.SeqRun
	started := int64(never)
	err := w.each(func(r scanner) error {
		var runAt, runLast, firstAt, lastAt int64
		var span analyze.SeqSpan
		if err := r.Scan(&runAt, &runLast, &span.First, &span.Last, &firstAt, &lastAt); err != nil {
			return err
		}
		if runAt != started {
			runs = append(runs, analyze.SeqRun{FirstAt: fromMicros(runAt)})
			started = runAt
		}
		span.FirstAt, span.LastAt = fromMicros(firstAt), fromMicros(lastAt)
		run := &runs[len(runs)-1]
		run.Spans = append(run.Spans, span)
		if last := fromMicros(runLast); last.After(run.LastAt) {
			run.LastAt = last
		}
		return nil
	}, `SELECT run_at, run_last, first, last, first_at, last_at FROM seq_span
		WHERE saw_id = $1 ORDER BY run_at, first`, saw)
	return runs, err
}

// sequence adds new running numbers to the saw's runs and writes the runs that
// changed.
func (w *writer) sequence(s *sawState, points []analyze.SeqPoint) error {
	slices.SortFunc(points, analyze.ComparePoints)
	before := map[int64]analyze.SeqRun{} // changed runs as they are stored, by start
	stored := len(s.runs)
	first := stored // every run from here on may have changed
	for _, p := range points {
		i := max(0, runOf(s.runs, p.At))
		if i < len(s.runs) {
			at := micros(s.runs[i].FirstAt)
			if _, ok := before[at]; !ok && i < stored {
				before[at] = clone(s.runs[i])
			}
		}
		runs, at, ok := analyze.SeqAdd(s.runs, p)
		s.runs = runs
		first = min(first, at)
		if !ok {
			return w.rebuildRuns(s, first)
		}
	}
	for i := first; i < len(s.runs); i++ {
		old, touched := before[micros(s.runs[i].FirstAt)]
		if i < stored && !touched {
			continue
		}
		if err := w.writeRun(s.id, old, s.runs[i]); err != nil {
			return err
		}
	}
	return nil
}

func runOf(runs []analyze.SeqRun, at time.Time) int {
	i, _ := slices.BinarySearchFunc(runs, at, func(r analyze.SeqRun, t time.Time) int { return r.FirstAt.Compare(t) })
	return i - 1
}

func clone(r analyze.SeqRun) analyze.SeqRun {
	r.Spans = slices.Clone(r.Spans)
	return r
}

// writeRun writes the spans in which a run differs from what is stored.
func (w *writer) writeRun(saw int64, old, run analyze.SeqRun) error {
	stored := make(map[int64]analyze.SeqSpan, len(old.Spans))
	for _, s := range old.Spans {
		stored[s.First] = s
	}
	for i, span := range run.Spans {
		was, ok := stored[span.First]
		delete(stored, span.First)
		newest := i == len(run.Spans)-1 && !run.LastAt.Equal(old.LastAt)
		if ok && was == span && !newest {
			continue
		}
		err := w.exec(`INSERT INTO seq_span (saw_id, run_at, first, last, first_at, last_at, run_last)
			VALUES ($1, $2, $3, $4, $5, $6, $7) ON CONFLICT (saw_id, run_at, first) DO UPDATE SET
			last = excluded.last, first_at = excluded.first_at, last_at = excluded.last_at, run_last = excluded.run_last`,
			saw, micros(run.FirstAt), span.First, span.Last, micros(span.FirstAt), micros(span.LastAt), micros(run.LastAt))
		if err != nil {
			return err
		}
	}
	for first := range stored {
		err := w.exec(`DELETE FROM seq_span WHERE saw_id = $1 AND run_at = $2 AND first = $3`, saw, micros(run.FirstAt), first)
		if err != nil {
			return err
		}
	}
	return nil
}

// rebuildRuns makes the runs from index i on again from the readings, where a
// late one may have moved the border between two of them.
func (w *writer) rebuildRuns(s *sawState, i int) error {
	from := int64(never)
	if i > 0 {
		from = micros(s.runs[i].FirstAt)
	}
	var points []analyze.SeqPoint
	for _, table := range []string{"pass", "blade_event", "state_event", "alive_event"} {
		err := w.each(func(r scanner) error {
			var at int64
			var p analyze.SeqPoint
			err := r.Scan(&at, &p.Seq)
			p.At = fromMicros(at)
			points = append(points, p)
			return err
		}, `SELECT at, seq FROM `+table+` WHERE saw_id = $1 AND at >= $2 AND seq >= 0`, s.id, from)
		if err != nil {
			return err
		}
	}
	slices.SortFunc(points, analyze.ComparePoints)
	if err := w.exec(`DELETE FROM seq_span WHERE saw_id = $1 AND run_at >= $2`, s.id, from); err != nil {
		return err
	}
	s.runs = append(s.runs[:i:i], analyze.SeqRuns(points)...)
	var errs []error
	for _, run := range s.runs[i:] {
		errs = append(errs, w.writeRun(s.id, analyze.SeqRun{}, run))
	}
	return errors.Join(errs...)
}

const skewMinutes = 15

// measureSkew takes the delay of a reading from event to receipt. A backlog
// drained in a burst counts once for each minute, by its freshest reading. A
// last will is dated when the saw connected and says nothing.
func (s *sawState) measureSkew(r *analyze.Reading) {
	if r.Retained || r.Alive != nil && !r.Alive.Online {
		return
	}
	minute := micros(r.Received) / time.Minute.Microseconds()
	delay := r.Received.Sub(r.At).Microseconds()
	if old, ok := s.minutes[minute]; !ok || delay < old {
		s.minutes[minute] = delay
	}
}

// writeSkew keeps the newest minutes.
func (w *writer) writeSkew(s *sawState) error {
	minutes := make([]int64, 0, len(s.minutes))
	for m := range s.minutes {
		minutes = append(minutes, m)
	}
	slices.SortFunc(minutes, func(a, b int64) int { return cmp.Compare(b, a) })
	for i, m := range minutes {
		if i >= skewMinutes {
			delete(s.minutes, m)
			continue
		}
		err := w.exec(`INSERT INTO skew (saw_id, minute, delay) VALUES ($1, $2, $3)
			ON CONFLICT (saw_id, minute) DO UPDATE SET delay = excluded.delay WHERE skew.delay <> excluded.delay`,
			s.id, m, s.minutes[m])
		if err != nil {
			return err
		}
	}
	if len(minutes) <= skewMinutes {
		return nil
	}
	return w.exec(`DELETE FROM skew WHERE saw_id = $1 AND minute < $2`, s.id, minutes[skewMinutes-1])
}
