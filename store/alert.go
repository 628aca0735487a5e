package store

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"time"

	"gullet/analyze/alert"
)

// ErrStale is returned by Decide when a person has noted something that the decision
// does not know of. Nothing was written; it is to be decided anew.
var ErrStale = errors.New("a person's note came between")

// Decision is what one look at the shop came to: conditions as they stand now, what
// became of them, and whom that is told.
type Decision struct {
	Conditions []alert.Condition
	Changes    []alert.Change
	Messages   []alert.Message
	Closed     []int64 // conditions of which nothing more will be told
	Notes      int64   // the newest note it took into account, 0 for none
}

// Decide writes a decision whole or not at all. A message whose channel has one of the
// same key already is left as that is: what was decided twice is told once. Nothing
// arrives by it: a decision that woke readers would make the next.
func (s *Store) Decide(ctx context.Context, d Decision) error {
	err := s.write(ctx, func(w *writer) error {
		var newest int64
		if err := w.row(`SELECT COALESCE(MAX(id), 0) FROM alert_note`).Scan(&newest); err != nil {
			return err
		}
		if newest > d.Notes {
			return ErrStale
		}
		return w.decide(&d)
	})
	if err != nil {
		return fmt.Errorf("keep what was decided on alerts: %w", err)
	}
	return nil
}

func (w *writer) decide(d *Decision) error {
	for i := range d.Conditions {
		if err := w.keepCondition(&d.Conditions[i]); err != nil {
			return fmt.Errorf("alert %d: %w", d.Conditions[i].ID, err)
		}
	}
	for _, c := range d.Changes {
		err := w.exec(`INSERT INTO alert_change (condition_id, what, at, level, reason) VALUES ($1, $2, $3, $4, $5)`,
			c.ID, string(c.What), micros(c.At), c.Level, c.Reason)
		if err != nil {
			return fmt.Errorf("alert %d %s: %w", c.ID, c.What, err)
		}
	}
	for i := range d.Messages {
		if err := w.post(&d.Messages[i]); err != nil {
			return fmt.Errorf("message %s to %s: %w", d.Messages[i].Key, d.Messages[i].Channel, err)
		}
	}
	for _, id := range d.Closed {
		if err := w.exec(`UPDATE alert_condition SET closed = 1 WHERE id = $1`, id); err != nil {
			return fmt.Errorf("close alert %d: %w", id, err)
		}
	}
	return nil
}

func (w *writer) keepCondition(c *alert.Condition) error {
	body, err := json.Marshal(c)
	if err != nil {
		return err
	}
	return w.exec(`INSERT INTO alert_condition (id, kind, saw, of_what, severity, raised, cleared, body)
		VALUES ($1, $2, $3, $4, $5, $6, $7, $8) ON CONFLICT (id) DO UPDATE SET kind = excluded.kind, saw = excluded.saw,
		of_what = excluded.of_what, severity = excluded.severity, raised = excluded.raised, cleared = excluded.cleared, body = excluded.body`,
		c.ID, string(c.Kind), c.Saw, c.Of, c.Severity.String(), maybe(c.Raised), maybe(c.Cleared), string(body))
}

// maybe is a time as an argument: NULL for the zero time.
func maybe(t time.Time) any {
	if t.IsZero() {
		return nil
	}
	return micros(t)
}

// AlertState is what whoever decides goes on from.
type AlertState struct {
	Conditions []alert.Condition // those not closed, in order of their numbers
	Last       int64             // the highest number a condition ever had, 0 for none
	Notes      []alert.Note      // of these conditions, in the order of the records
	Newest     int64             // number of the newest note of all, 0 for none
}

// AlertState reads it at one moment.
func (s *Store) AlertState(ctx context.Context) (AlertState, error) {
	var state AlertState
	err := s.View(ctx, func(s *Store) error {
		err := s.query(ctx, func(r scanner) error {
			return r.Scan(&state.Last, &state.Newest)
		}, `SELECT (SELECT COALESCE(MAX(id), 0) FROM alert_condition), (SELECT COALESCE(MAX(id), 0) FROM alert_note)`)
		if err != nil {
			return err
		}
		err = s.query(ctx, func(r scanner) error {
			c, err := condition(r)
			state.Conditions = append(state.Conditions, c)
			return err
		}, `SELECT body FROM alert_condition WHERE closed = 0 ORDER BY id`)
		if err != nil {
			return err
		}
		state.Notes, err = s.notes(ctx, `condition_id IN (SELECT id FROM alert_condition WHERE closed = 0)`)
		return err
	})
	if err != nil {
		return AlertState{}, fmt.Errorf("read the state of alerts: %w", err)
	}
	return state, nil
}

func condition(r scanner) (c alert.Condition, err error) {
	var body string
	if err := r.Scan(&body); err != nil {
		return c, err
	}
	err = json.Unmarshal([]byte(body), &c)
	return c, err
}

// AlertFilter selects alerts; zero members select all.
type AlertFilter struct {
	ID    int64
	Open  bool      // only those that stand
	Since time.Time // only those that stood at or after this
	Saw   string
	Limit int // the newest so many; 0: no limit
}

// AlertRow is an alert with its records, each in their order. A note may be newer than
// the condition: whoever decides has not seen it yet.
type AlertRow struct {
	alert.Condition
	Changes []alert.Change `json:"changes"`
	Notes   []alert.Note   `json:"notes"`
}

// Alerts lists conditions that were raised, the newest first.
func (s *Store) Alerts(ctx context.Context, f AlertFilter) (list []AlertRow, err error) {
	query := `SELECT body FROM alert_condition WHERE raised IS NOT NULL AND ($1 = 0 OR id = $1)
		AND (cleared IS NULL OR cleared >= $2 AND NOT $3) AND ($4 = '' OR saw = $4) ORDER BY id DESC`
	args := []any{f.ID, bound(f.Since), f.Open, f.Saw}
	if f.Limit > 0 {
		query += ` LIMIT $5`
		args = append(args, f.Limit)
	}
	err = s.query(ctx, func(r scanner) error {
		c, err := condition(r)
		list = append(list, AlertRow{Condition: c})
		return err
	}, query, args...)
	if err == nil && len(list) > 0 {
		err = s.recordsOf(ctx, list)
	}
	if err != nil {
		return nil, fmt.Errorf("list alerts: %w", err)
	}
	return list, nil
}

// recordsOf fills in what became of the alerts and what people did. The rows are in
// falling order of their numbers.
func (s *Store) recordsOf(ctx context.Context, list []AlertRow) error {
	rows := map[int64]*AlertRow{}
	for i := range list {
		rows[list[i].ID] = &list[i]
	}
	first, last := list[len(list)-1].ID, list[0].ID
	err := s.query(ctx, func(r scanner) error {
		var c alert.Change
		var at int64
		err := r.Scan(&c.ID, &c.What, &at, &c.Level, &c.Reason)
		c.At = fromMicros(at)
		if row, ok := rows[c.ID]; ok {
			row.Changes = append(row.Changes, c)
		}
		return err
	}, `SELECT condition_id, what, at, level, reason FROM alert_change WHERE condition_id BETWEEN $1 AND $2 ORDER BY id`, first, last)
	if err != nil {
		return err
	}
	notes, err := s.notes(ctx, `condition_id BETWEEN $1 AND $2`, first, last)
	for _, n := range notes {
		if row, ok := rows[n.Condition]; ok {
			row.Notes = append(row.Notes, n)
		}
	}
	return err
}
