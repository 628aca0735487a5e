package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"time"

	"gullet/analyze/alert"
)

// mostSnooze bounds a snooze: who wants to hear of something never again is to change
// the rule of its kind, where others see it.
const mostSnooze = 30 * 24 * time.Hour

func checkNote(n *alert.Note) error {
	if err := answerable(n.Who, n.Why); err != nil {
		return err
	}
	switch {
	case n.Action != alert.Acknowledge && n.Action != alert.Snooze:
		return fmt.Errorf("it is none of %s, %s", alert.Acknowledge, alert.Snooze)
	case n.At.IsZero():
		return errors.New("the time is missing")
	case n.Action == alert.Acknowledge && !n.Until.IsZero():
		return errors.New("only a snooze has an end")
	case n.Action == alert.Snooze && !n.Until.After(n.At):
		return fmt.Errorf("until %s, allowed is a time after %s", n.Until.Format(time.RFC3339), n.At.Format(time.RFC3339))
	case n.Action == alert.Snooze && n.Until.Sub(n.At) > mostSnooze:
		return fmt.Errorf("until %s, allowed are up to 30 days", n.Until.Format(time.RFC3339))
	}
	return nil
}

// NoteAlert records what a person did about an alert that stands and returns the
// record's number. Whoever decides takes it into account next.
func (s *Store) NoteAlert(ctx context.Context, n alert.Note) (id int64, err error) {
	err = checkNote(&n)
	if err == nil {
		err = s.write(ctx, func(w *writer) error {
			if err := w.stands(n.Condition); err != nil {
				return err
			}
			return w.row(`INSERT INTO alert_note (condition_id, action, until, who, why, at)
				VALUES ($1, $2, $3, $4, $5, $6) RETURNING id`,
				n.Condition, string(n.Action), maybe(n.Until), n.Who, n.Why, micros(n.At)).Scan(&id)
		})
	}
	if err != nil {
		return 0, fmt.Errorf("%s alert %d: %w", n.Action, n.Condition, err)
	}
	return id, nil
}

// stands refuses an alert that nobody was told of or that is over.
func (w *writer) stands(id int64) error {
	var cleared sql.NullInt64
	err := w.row(`SELECT cleared FROM alert_condition WHERE id = $1 AND raised IS NOT NULL`, id).Scan(&cleared)
	switch {
	case errors.Is(err, sql.ErrNoRows):
		return errors.New("there is no such alert")
	case err == nil && cleared.Valid:
		return fmt.Errorf("it is over since %s", fromMicros(cleared.Int64).Format(time.RFC3339))
	}
	return err
}

// AlertNotes lists what people did about alerts, in the order of the records, after
// the one of that number.
func (s *Store) AlertNotes(ctx context.Context, after int64) ([]alert.Note, error) {
	list, err := s.notes(ctx, `id > $1`, after)
	if err != nil {
		return nil, fmt.Errorf("notes on alerts: %w", err)
	}
	return list, nil
}

func (s *Store) notes(ctx context.Context, where string, args ...any) (list []alert.Note, err error) {
	err = s.query(ctx, func(r scanner) error {
		var n alert.Note
		var until sql.NullInt64
		var at int64
		err := r.Scan(&n.ID, &n.Condition, &n.Action, &until, &n.Who, &n.Why, &at)
		n.Until, n.At = fromMaybe(until), fromMicros(at)
		list = append(list, n)
		return err
	}, `SELECT id, condition_id, action, until, who, why, at FROM alert_note WHERE `+where+` ORDER BY id`, args...)
	return list, err
}

// fromMaybe is a time that was read, the zero time for NULL.
func fromMaybe(us sql.NullInt64) time.Time {
	if !us.Valid {
		return time.Time{}
	}
	return fromMicros(us.Int64)
}
