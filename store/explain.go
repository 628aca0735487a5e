package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"strings"
	"time"
)

// Explanation is a person's record of what a stop of a saw was for. It outranks the
// cause that the saw sent; the readings stay as they came.
type Explanation struct {
	ID       int64 // given by the store
	Saw      string
	At       time.Time // any moment of the stop; it and the saw are not of a void
	Cause    string    // as the shop names it; not of a void
	Void     int64     // the earlier explanation a void strikes out, else 0
	Who      string
	Why      string
	Recorded time.Time // now
}

func (e *Explanation) check() error {
	if err := answerable(e.Who, e.Why); err != nil || e.Void != 0 {
		return err
	}
	switch {
	case strings.TrimSpace(e.Cause) == "":
		return errors.New("the cause is missing")
	case e.At.IsZero():
		return errors.New("the time is missing")
	case e.At.After(e.Recorded):
		return fmt.Errorf("%s is in the future", e.At.Format(time.RFC3339))
	}
	return bounded(e.Cause)
}

// Explain records an explanation, or strikes out an earlier one, and returns its
// number.
func (s *Store) Explain(ctx context.Context, e Explanation) (id int64, err error) {
	what := "explanation"
	switch {
	case e.Void != 0:
		what, e.Cause = "explanation void", ""
	case e.Saw != "":
		what += " on saw " + e.Saw
	}
	err = e.check()
	if err == nil {
		err = s.write(ctx, func(w *writer) error {
			if err := w.withdrawn(&e); err != nil {
				return err
			}
			saw, err := w.knownSaw(e.Saw)
			if err != nil {
				return err
			}
			err = w.row(`INSERT INTO explanation (saw_id, at, cause, void_record, who, why, recorded)
				VALUES ($1, $2, $3, $4, $5, $6, $7) RETURNING id`,
				saw.id, micros(e.At), e.Cause, reference(e.Void), e.Who, e.Why, micros(e.Recorded)).Scan(&id)
			if err != nil {
				return err
			}
			if err := w.unsum(saw.id, micros(e.At)); err != nil {
				return err
			}
			return w.arrived(1)
		})
	}
	if err != nil {
		return 0, fmt.Errorf("%s: %w", what, err)
	}
	return id, nil
}

const validExplanation = ` AND e.void_record IS NULL AND NOT EXISTS (SELECT 1 FROM explanation v WHERE v.void_record = e.id)`

// withdrawn fills in the saw and time of what a void strikes out.
func (w *writer) withdrawn(e *Explanation) error {
	if e.Void == 0 {
		return nil
	}
	var at int64
	err := w.row(`SELECT saw.name, e.at FROM explanation e JOIN saw ON saw.id = e.saw_id WHERE e.id = $1`+validExplanation, e.Void).Scan(&e.Saw, &at)
	if errors.Is(err, sql.ErrNoRows) {
		return fmt.Errorf("there is no explanation %d that still counts", e.Void)
	}
	e.At = fromMicros(at)
	return err
}

// Explanations lists what people say of a saw's stops from one moment on and before
// another, in order of the moment, then of the record. Those struck out are left out.
func (s *Store) Explanations(ctx context.Context, saw string, from, to time.Time) ([]Explanation, error) {
	var list []Explanation
	err := s.query(ctx, func(r scanner) error {
		e := Explanation{Saw: saw}
		var at, recorded int64
		err := r.Scan(&e.ID, &at, &e.Cause, &e.Who, &e.Why, &recorded)
		e.At, e.Recorded = fromMicros(at), fromMicros(recorded)
		list = append(list, e)
		return err
	}, `SELECT e.id, e.at, e.cause, e.who, e.why, e.recorded FROM explanation e
		WHERE e.saw_id = (SELECT id FROM saw WHERE name = $1) AND e.at >= $2 AND e.at < $3`+validExplanation+` ORDER BY e.at, e.id`,
		saw, micros(from), micros(to))
	if err != nil {
		return nil, fmt.Errorf("explanations of stops on saw %s: %w", saw, err)
	}
	return list, nil
}
