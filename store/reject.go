package store

import (
	"context"
	"crypto/sha256"
	"database/sql"
	"errors"
	"fmt"
	"slices"
	"time"

	"gullet/analyze"
)

// RejectedRow is a message kept as it came. The same message for the same
// reason again is counted, not kept twice.
type RejectedRow struct {
	ID int64
	analyze.Rejection
	Last    time.Time // when it was received last; Received is the first time
	Times   int64
	Retried time.Time // when a retry stored it, zero when not
}

// Truncated reports whether only the head of the message was kept.
func (r *RejectedRow) Truncated() bool { return r.Size > len(r.Payload) }

// RejectedFilter selects rejected messages; zero members select all.
type RejectedFilter struct {
	ID    int64
	Code  analyze.RejectCode
	All   bool  // also those that a retry has stored
	After int64 // only those with a larger ID
	Limit int   // 0: no limit
}

func (b *batch) reject(r *analyze.Rejection) error {
	if r == nil {
		return errors.New("an arrival holds neither a reading nor a rejection")
	}
	b.n++
	digest := sha256.Sum256(r.Payload)
	payload := r.Payload
	if payload == nil {
		payload = []byte{}
	}
	err := b.w.exec(`INSERT INTO rejected (topic, code, digest, payload, size, retained, reason, first, last, times)
		VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $8, 1) ON CONFLICT (topic, code, digest, size) DO UPDATE SET
		times = rejected.times + 1, last = excluded.last, reason = excluded.reason`,
		r.Topic, string(r.Code), digest[:], payload, max(r.Size, len(payload)), r.Retained, r.Reason, micros(r.Received))
	if err != nil {
		return fmt.Errorf("keep rejected message of %s: %w", r.Topic, err)
	}
	return nil
}

// Rejected lists rejected messages in the order they first came.
func (s *Store) Rejected(ctx context.Context, f RejectedFilter) (_ []RejectedRow, err error) {
	limit := f.Limit
	if limit == 0 {
		limit = -1
	}
	query := `SELECT id, topic, code, payload, size, retained, reason, first, last, times, retried FROM rejected
		WHERE id > $1 AND ($2 = 0 OR id = $2) AND ($3 = '' OR code = $3) AND ($4 OR retried IS NULL) ORDER BY id`
	args := []any{f.After, f.ID, string(f.Code), f.All}
	if f.Limit > 0 {
		query += ` LIMIT $5`
		args = append(args, limit)
	}
	rows, err := s.reader.QueryContext(ctx, query, args...)
	if err != nil {
		return nil, fmt.Errorf("list rejected messages: %w", err)
	}
	defer func() { err = errors.Join(err, rows.Close()) }()
	var list []RejectedRow
	for rows.Next() {
		var r RejectedRow
		var first, last int64
		var retried sql.NullInt64
		err := rows.Scan(&r.ID, &r.Topic, &r.Code, &r.Payload, &r.Size, &r.Retained, &r.Reason, &first, &last, &r.Times, &retried)
		if err != nil {
			return nil, fmt.Errorf("list rejected messages: %w", err)
		}
		r.Received, r.Last = fromMicros(first), fromMicros(last)
		if retried.Valid {
			r.Retried = fromMicros(retried.Int64)
		}
		list = append(list, r)
	}
	return list, rows.Err()
}

// Decode turns a kept message into what it means by today's rules.
type Decode func(topic string, payload []byte, retained bool, received time.Time) analyze.Arrival

// retryBatch bounds one transaction, so that a running daemon is not held up.
const retryBatch = 200

// RetryRejected decodes kept messages again and stores those that have become
// readable; their rows stay, marked with the time now. A message of which only
// the head was kept cannot be retried. One that was refused as the broker's
// last value is taken as an event, and only when f names it by ID or by code:
// it may be days old or counted elsewhere. It returns how many were tried and how many
// of them are stored now (also when they were stored already); the rest stay
// rejected.
func (s *Store) RetryRejected(ctx context.Context, f RejectedFilter, decode Decode, now time.Time) (retried, stored int, err error) {
	f.All, f.Limit = false, retryBatch
	named := f.ID != 0 || f.Code == analyze.RejectRetained
	for {
		rows, err := s.Rejected(ctx, f)
		if err != nil {
			return retried, stored, err
		}
		if len(rows) == 0 {
			return retried, stored, nil
		}
		f.After = rows[len(rows)-1].ID
		if !named {
			rows = slices.DeleteFunc(rows, func(r RejectedRow) bool { return r.Code == analyze.RejectRetained })
		}
		n, m, err := s.retry(ctx, rows, decode, now)
		if err != nil {
			return retried, stored, fmt.Errorf("retry rejected messages: %w", err)
		}
		retried, stored = retried+n, stored+m
	}
}

func (s *Store) retry(ctx context.Context, rows []RejectedRow, decode Decode, now time.Time) (retried, stored int, err error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.w == nil {
		return 0, 0, ErrReadOnly
	}
	err = s.w.transaction(ctx, func() error {
		b := s.w.batch()
		for i := range rows {
			r := &rows[i]
			if r.Truncated() {
				continue
			}
			retried++
			a := decode(r.Topic, r.Payload, false, r.Received)
			if a.Reading == nil {
				continue
			}
			a.Reading.Retained = false
			ok, err := b.again(&a)
			if err != nil {
				return err
			}
			if !ok {
				continue
			}
			stored++
			if err := s.w.exec(`UPDATE rejected SET retried = $1 WHERE id = $2`, micros(now), r.ID); err != nil {
				return err
			}
		}
		return b.finish()
	})
	if err != nil {
		return 0, 0, err
	}
	return retried, stored, nil
}

// again stores a reading that was rejected before and reports whether it is
// stored now; a refusal is not kept a second time.
func (b *batch) again(a *analyze.Arrival) (bool, error) {
	s, err := b.w.saw(a.Reading.Saw)
	if err != nil {
		return false, err
	}
	id, err := b.insert(s, a.Reading)
	if err != nil {
		return false, err
	}
	if id == 0 {
		return b.w.same(s, a.Reading)
	}
	b.note(s, a.Reading, id)
	return true, nil
}
