package store

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"time"

	"gullet/analyze/alert"
)

// OutboxRow is a message that waits to be delivered.
type OutboxRow struct {
	alert.Message
	Tries     int // in vain so far
	NextTry   time.Time
	LastError string // of the last try, "" for none
}

// post puts a message into the outbox, if there is none of its channel and key.
func (w *writer) post(m *alert.Message) error {
	body, err := json.Marshal(m)
	if err != nil {
		return err
	}
	return w.exec(`INSERT INTO outbox (channel, key, at, expires, severity, test, body, next_try)
		VALUES ($1, $2, $3, $4, $5, $6, $7, $3) ON CONFLICT (channel, key) DO NOTHING`,
		m.Channel, m.Key, micros(m.At), micros(m.Expires), m.Severity.String(), m.Test, string(body))
}

const waits = `sent IS NULL AND dropped IS NULL`

// Due lists messages whose next try has come, of each channel the oldest first and at
// most limit: a channel that takes nothing holds up no other. None of a channel overtakes
// an older one that is still to be tried again. Those that have expired are among them.
func (s *Store) Due(ctx context.Context, now time.Time, limit int) (list []OutboxRow, err error) {
	err = s.query(ctx, func(r scanner) error {
		var o OutboxRow
		var id, next int64
		var body string
		if err := r.Scan(&id, &body, &o.Tries, &next, &o.LastError); err != nil {
			return err
		}
		if err := json.Unmarshal([]byte(body), &o.Message); err != nil {
			return fmt.Errorf("message %d: %w", id, err)
		}
		o.ID, o.NextTry = id, fromMicros(next)
		list = append(list, o)
		return nil
	}, `SELECT id, body, tries, next_try, last_error FROM (SELECT id, channel, body, tries, next_try, last_error,
			ROW_NUMBER() OVER (PARTITION BY channel ORDER BY id) AS place,
			MAX(next_try) OVER (PARTITION BY channel ORDER BY id) AS behind FROM outbox WHERE `+waits+`) AS waiting
		WHERE behind <= $1 AND place <= $2 ORDER BY channel, id`, micros(now), limit)
	if err != nil {
		return nil, fmt.Errorf("list messages to deliver: %w", err)
	}
	return list, nil
}

// Sent records that a channel took a message.
func (s *Store) Sent(ctx context.Context, id int64, at time.Time) error {
	return s.settle(ctx, "sent", id, `UPDATE outbox SET sent = $1 WHERE id = $2 AND `+waits, micros(at), id)
}

// Failed records a try in vain, and when to try next. Why must hold no secret.
func (s *Store) Failed(ctx context.Context, id int64, at, next time.Time, why string) error {
	return s.settle(ctx, "failed", id, `UPDATE outbox SET tries = tries + 1, tried = $1, next_try = $2, last_error = $3 WHERE id = $4 AND `+waits,
		micros(at), micros(next), why, id)
}

// Drop gives a message up. The note says why and must hold no secret.
func (s *Store) Drop(ctx context.Context, id int64, at time.Time, note string) error {
	return s.settle(ctx, "dropped", id, `UPDATE outbox SET dropped = $1, note = $2 WHERE id = $3 AND `+waits, micros(at), note, id)
}

// settle changes one message that waits.
func (s *Store) settle(ctx context.Context, what string, id int64, query string, args ...any) error {
	err := s.write(ctx, func(w *writer) error {
		n, err := w.change(query, args...)
		if err == nil && n == 0 {
			err = errors.New("no such message waits")
		}
		return err
	})
	if err != nil {
		return fmt.Errorf("record message %d as %s: %w", id, what, err)
	}
	return nil
}

// OutboxState is how the delivery to one channel stands.
type OutboxState struct {
	Channel   string
	Waiting   int
	Oldest    time.Time // when the oldest that waits was made, zero for none
	Sent      int       // since the time asked for
	Dropped   int       // likewise
	LastSent  time.Time // zero for never
	Failed    int       // tries in vain of those messages that failed since LastSent
	LastTried time.Time // in vain, zero for never
	LastError string    // of that try
}

// Outbox sums up each channel that ever had a message, by name.
func (s *Store) Outbox(ctx context.Context, since time.Time) (list []OutboxState, err error) {
	err = s.query(ctx, func(r scanner) error {
		var o OutboxState
		var oldest, sent, tried sql.NullInt64
		err := r.Scan(&o.Channel, &o.Waiting, &oldest, &o.Sent, &o.Dropped, &sent, &tried, &o.Failed, &o.LastError)
		o.Oldest, o.LastSent, o.LastTried = fromMaybe(oldest), fromMaybe(sent), fromMaybe(tried)
		list = append(list, o)
		return err
	}, `WITH c AS (SELECT channel, SUM(CASE WHEN `+waits+` THEN 1 ELSE 0 END) AS waiting,
			MIN(CASE WHEN `+waits+` THEN at END) AS oldest, SUM(CASE WHEN sent >= $1 THEN 1 ELSE 0 END) AS sent,
			SUM(CASE WHEN dropped >= $1 THEN 1 ELSE 0 END) AS dropped, MAX(sent) AS last_sent, MAX(tried) AS last_tried
			FROM outbox GROUP BY channel)
		SELECT c.channel, c.waiting, c.oldest, c.sent, c.dropped, c.last_sent, c.last_tried,
			(SELECT COALESCE(SUM(o.tries), 0) FROM outbox o WHERE o.channel = c.channel AND o.tried > COALESCE(c.last_sent, $2)),
			COALESCE((SELECT o.last_error FROM outbox o WHERE o.channel = c.channel AND o.tried = c.last_tried ORDER BY o.id DESC LIMIT 1), '')
		FROM c ORDER BY c.channel`, bound(since), never)
	if err != nil {
		return nil, fmt.Errorf("sum up messages: %w", err)
	}
	return list, nil
}

// RecentMessages is when the messages since a time were made, by channel and in order.
// Those with which somebody tried a channel are left out.
func (s *Store) RecentMessages(ctx context.Context, since time.Time) (map[string][]time.Time, error) {
	made := map[string][]time.Time{}
	err := s.query(ctx, func(r scanner) error {
		var channel string
		var at int64
		err := r.Scan(&channel, &at)
		made[channel] = append(made[channel], fromMicros(at))
		return err
	}, `SELECT channel, at FROM outbox WHERE at >= $1 AND test = 0 ORDER BY channel, at`, bound(since))
	if err != nil {
		return nil, fmt.Errorf("messages since %s: %w", since.Format(time.RFC3339), err)
	}
	return made, nil
}
