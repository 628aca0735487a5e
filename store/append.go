package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"

	"gullet/analyze"
)

// batch is what one transaction has taken so far.
type batch struct {
	w    *writer
	saws map[*sawState]*sawBatch
	fits []fit // blades said to be fitted, or no longer so
	n    int64 // messages stored, as readings or as rejected
}

// sawBatch is what a batch brought for one saw.
type sawBatch struct {
	passes []newPass
	counts map[analyze.Kind]int64
	ledger int64 // the ledger is to be derived again from this time on; forever when not
	points []analyze.SeqPoint
	since  int64 // the earliest time that a reading is about; forever when none
	fresh  bool  // the saw's row and skew have changed
}

// forever is after every time a reading can have.
const forever = 1<<62 - 1

// newPass is a pass of this batch until the totals have taken it.
type newPass struct {
	id, at int64
	kind   analyze.Kind
	cut    *analyze.Cut
	area   *float64
}

// Append stores a batch in one transaction: all of it when it returns nil,
// nothing otherwise. The outcomes are in the order of the batch.
//
// A reading whose identity (saw, time, id, running number) is stored already
// is a Duplicate and changes nothing; with other content it is kept as
// rejected. So is an event that came as the broker's retained value and is not
// stored, since it may be days old or counted elsewhere.
func (s *Store) Append(ctx context.Context, arrivals []analyze.Arrival) ([]analyze.Outcome, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.w == nil {
		return nil, ErrReadOnly
	}
	outcomes := make([]analyze.Outcome, len(arrivals))
	err := s.w.transaction(ctx, func() error {
		b := s.w.batch()
		for i := range arrivals {
			var err error
			if outcomes[i], err = b.take(&arrivals[i]); err != nil {
				return err
			}
		}
		return b.finish()
	})
	if err != nil {
		return nil, fmt.Errorf("store %d messages: %w", len(arrivals), err)
	}
	return outcomes, nil
}

func (w *writer) batch() *batch { return &batch{w: w, saws: map[*sawState]*sawBatch{}} }

func (b *batch) of(s *sawState) *sawBatch {
	sb, ok := b.saws[s]
	if !ok {
		sb = &sawBatch{counts: map[analyze.Kind]int64{}, ledger: forever, since: forever}
		b.saws[s] = sb
	}
	return sb
}

func (b *batch) take(a *analyze.Arrival) (analyze.Outcome, error) {
	if a.Reading == nil {
		return analyze.Rejected, b.reject(a.Rejection)
	}
	r := a.Reading
	saw, err := b.w.saw(r.Saw)
	if err != nil {
		return "", err
	}
	event := r.Cut != nil || r.Blade != nil
	if r.Retained && event {
		switch known, err := b.w.known(saw, r); {
		case err != nil:
			return "", err
		case !known:
			return analyze.Rejected, b.reject(refusal(a, analyze.RejectRetained,
				"seen only as the broker's last value (retained), not as a new event: retry it to count it"))
		}
	}
	id, err := b.insert(saw, r)
	if err != nil {
		return "", fmt.Errorf("%s of saw %s at %s: %w", r.Kind, r.Saw, r.At, err)
	}
	if id == 0 {
		same, err := b.w.same(saw, r)
		if err != nil || same {
			return analyze.Duplicate, err
		}
		return analyze.Rejected, b.reject(refusal(a, analyze.RejectReused,
			"another reading of this saw with the same time, id and seq is stored, and its content differs"))
	}
	b.note(saw, r, id)
	return analyze.Stored, nil
}

// insert stores a reading and returns its row, 0 when its identity is taken.
func (b *batch) insert(s *sawState, r *analyze.Reading) (int64, error) {
	var id int64
	var err error
	switch {
	case r.Cut != nil:
		id, err = b.w.insertPass(s.id, r)
	case r.Blade != nil:
		err = b.w.row(`INSERT INTO blade_event (saw_id, at, seq, msg, received, action, serial, type, reason, extra)
			VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10) ON CONFLICT DO NOTHING RETURNING id`,
			s.id, micros(r.At), seq(r), r.ID, micros(r.Received),
			string(r.Blade.Action), r.Blade.Serial, r.Blade.Type, string(r.Blade.Reason), extra(r)).Scan(&id)
	case r.State != nil:
		err = b.w.row(`INSERT INTO state_event (saw_id, at, seq, msg, received, state, cause, extra)
			VALUES ($1, $2, $3, $4, $5, $6, $7, $8) ON CONFLICT DO NOTHING RETURNING id`,
			s.id, micros(r.At), seq(r), r.ID, micros(r.Received),
			string(r.State.State), string(r.State.Cause), extra(r)).Scan(&id)
	case r.Alive != nil:
		err = b.w.row(`INSERT INTO alive_event (saw_id, at, seq, msg, received, online, extra)
			VALUES ($1, $2, $3, $4, $5, $6, $7) ON CONFLICT DO NOTHING RETURNING id`,
			s.id, micros(r.At), seq(r), r.ID, micros(r.Received), r.Alive.Online, extra(r)).Scan(&id)
	default:
		return 0, errors.New("the reading has no content")
	}
	if errors.Is(err, sql.ErrNoRows) {
		return 0, nil
	}
	return id, err
}

// note remembers what a new reading changes beside its own row.
func (b *batch) note(s *sawState, r *analyze.Reading, id int64) {
	sb := b.of(s)
	b.n++
	sb.counts[r.Kind]++
	sb.fresh = true
	at := micros(r.At)
	sb.since = min(sb.since, at)
	s.lastReceived = max(s.lastReceived, micros(r.Received))
	s.measureSkew(r)
	if r.Seq != nil {
		sb.points = append(sb.points, analyze.SeqPoint{At: r.At, Seq: *r.Seq})
	}
	switch {
	case r.Cut != nil:
		if r.Cut.Seconds != nil {
			sb.since = min(sb.since, startOf(at, *r.Cut.Seconds))
		}
		sb.passes = append(sb.passes, newPass{id: id, at: at, kind: r.Kind, cut: r.Cut, area: r.Cut.Area(r.Kind)})
		if r.Kind == analyze.KindBreak {
			sb.ledger = min(sb.ledger, at)
		}
	case r.Blade != nil:
		sb.ledger = min(sb.ledger, at)
		if r.Blade.Action == analyze.ActionFit {
			b.fits = append(b.fits, fit{saw: s.id, at: at, serial: r.Blade.Serial})
		}
	}
}

// finish brings everything derived up to date with the batch.
func (b *batch) finish() error {
	if err := b.spreadFits(); err != nil {
		return fmt.Errorf("blades fitted elsewhere: %w", err)
	}
	for s, sb := range b.saws {
		if err := b.finishSaw(s, sb); err != nil {
			return fmt.Errorf("saw %s: %w", s.name, err)
		}
	}
	return b.w.arrived(b.n)
}

func (b *batch) finishSaw(s *sawState, sb *sawBatch) error {
	changed, err := b.w.estimate(s, sb.passes)
	if err != nil {
		return fmt.Errorf("estimate the share of stopped cuts: %w", err)
	}
	if err := b.w.settle(s, sb, changed); err != nil {
		return fmt.Errorf("blade ledger: %w", err)
	}
	if since := min(sb.since, sb.ledger); since < forever {
		if err := b.w.unsum(s.id, since); err != nil {
			return fmt.Errorf("days summed up: %w", err)
		}
	}
	if err := b.w.sequence(s, sb.points); err != nil {
		return fmt.Errorf("running numbers: %w", err)
	}
	for _, kind := range analyze.Kinds() {
		if n := sb.counts[kind]; n > 0 {
			err := b.w.exec(`INSERT INTO saw_count (saw_id, kind, n) VALUES ($1, $2, $3)
				ON CONFLICT (saw_id, kind) DO UPDATE SET n = saw_count.n + excluded.n`, s.id, string(kind), n)
			if err != nil {
				return err
			}
		}
	}
	if !sb.fresh {
		return nil
	}
	if err := b.w.exec(`UPDATE saw SET last_received = $1 WHERE id = $2`, s.lastReceived, s.id); err != nil {
		return err
	}
	return b.w.writeSkew(s)
}

// seq is the running number of a reading, -1 when it has none.
func seq(r *analyze.Reading) int64 {
	if r.Seq == nil {
		return -1
	}
	return *r.Seq
}

func extra(r *analyze.Reading) any {
	if r.Extra == nil {
		return nil
	}
	return string(r.Extra)
}

// refusal is how a reading is kept that cannot be stored as meant.
func refusal(a *analyze.Arrival, code analyze.RejectCode, reason string) *analyze.Rejection {
	r := a.Reading
	return &analyze.Rejection{
		Topic: a.Topic, Payload: a.Payload, Size: len(a.Payload),
		Retained: r.Retained, Received: r.Received, Code: code, Reason: reason,
	}
}
