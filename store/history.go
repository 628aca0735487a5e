package store

import (
	"context"
	"fmt"
	"time"

	"gullet/analyze"
)

// HistoryRow is one pass of a saw, with what bears on its deviation.
type HistoryRow struct {
	At        time.Time
	Kind      analyze.Kind
	Area      *float64 // in², nil when not known
	Seconds   *float64 // in the cut
	Deviation *float64 // in, signed, nil when not measured
	Limit     *float64 // in, of a trip
	Height    *float64 // in
	Grade     string   // as the saw sent it
	Mitre     float64  // degrees
	Bars      int
	// Idle marks a trip at a time when, by the latest state reading before it,
	// the saw was not cutting. It is false where no state reading came before.
	Idle bool
}

// historyQuery reads the passes in the order of their unique index. The state
// is looked up for trips only, of which there are few.
const historyQuery = `SELECT p.at, p.kind, p.area, p.seconds, p.deviation, p.trip_limit, p.height, p.grade, p.mitre, p.bars,
	CASE WHEN p.kind = 'trip' THEN COALESCE((SELECT e.state <> 'cutting' FROM state_event e
		WHERE e.saw_id = p.saw_id AND e.at < p.at ORDER BY e.at DESC, e.seq DESC, e.msg DESC LIMIT 1), FALSE) ELSE FALSE END
	FROM pass p WHERE p.saw_id = (SELECT id FROM saw WHERE name = $1) AND p.at > $2 AND p.at <= $3
	ORDER BY p.at, p.seq, p.msg`

// History gives each the passes of a saw after one time and not after another,
// in order of time, one by one as they are read. An error of each ends it.
func (s *Store) History(ctx context.Context, saw string, from, until time.Time, each func(HistoryRow) error) error {
	var h HistoryRow
	var at, bars int64
	var kind string
	// Scanned into pointers to pointers, these five take half as long as the query.
	var area, seconds, deviation, limit, height any
	fields := []any{&at, &kind, &area, &seconds, &deviation, &limit, &height, &h.Grade, &h.Mitre, &bars, &h.Idle}
	err := s.query(ctx, func(r scanner) error {
		if err := r.Scan(fields...); err != nil {
			return err
		}
		h.At, h.Kind, h.Bars = fromMicros(at), analyze.Kind(kind), int(bars)
		h.Area, h.Seconds, h.Deviation, h.Limit, h.Height = known(area), known(seconds), known(deviation), known(limit), known(height)
		return each(h)
	}, historyQuery, saw, micros(from), micros(until))
	if err != nil {
		return fmt.Errorf("history of saw %s: %w", saw, err)
	}
	return nil
}

// PassBack is when the pass before the n newest ones of a saw up to a time was; false
// where it made no more.
func (s *Store) PassBack(ctx context.Context, saw string, until time.Time, n int) (at time.Time, ok bool, err error) {
	err = s.query(ctx, func(r scanner) error {
		var micros int64
		err := r.Scan(&micros)
		at, ok = fromMicros(micros), true
		return err
	}, `SELECT at FROM pass WHERE saw_id = (SELECT id FROM saw WHERE name = $1) AND at <= $2
		ORDER BY at DESC LIMIT 1 OFFSET $3`, saw, micros(until), n)
	if err != nil {
		return time.Time{}, false, fmt.Errorf("pass before the last %d of saw %s: %w", n, saw, err)
	}
	return at, ok, nil
}

// Totals sums the passes of a saw after one time and up to another by grade: what a
// fitting that began at the first had done by the second.
func (s *Store) Totals(ctx context.Context, saw string, from, until time.Time) (list []analyze.GradeTotal, err error) {
	err = s.query(ctx, func(r scanner) error {
		var g analyze.GradeTotal
		err := r.Scan(&g.Grade, &g.Area, &g.Cuts, &g.Seconds, &g.Travel, &g.AreaUnknown, &g.TravelUnknown)
		list = append(list, g)
		return err
	}, `SELECT `+totalColumns+` FROM pass WHERE saw_id = (SELECT id FROM saw WHERE name = $1) AND at > $2 AND at <= $3
		GROUP BY grade ORDER BY grade`, saw, micros(from), micros(until))
	if err != nil {
		return nil, fmt.Errorf("totals of saw %s: %w", saw, err)
	}
	return list, nil
}

// known is a number that was read, nil for NULL.
func known(v any) *float64 {
	f, ok := v.(float64)
	if !ok {
		return nil
	}
	return &f
}
