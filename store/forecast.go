package store

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"time"
)

// ForecastRow is what was foretold of the blade on a saw. Areas are in², weighted
// as lives are but for Area; nil is not known, or beyond what can be foretold.
type ForecastRow struct {
	ID           int64 // given when stored
	Saw          string
	FittingID    int64
	Serial       string
	Type         string
	MadeAt       time.Time
	Method       string
	Area         float64 // cut when it was made
	WeightedArea float64
	Q10          *float64 // more to cut until the blade is done
	Q50          *float64
	Q90          *float64
	ShiftStart   time.Time // the next shift
	ShiftEnd     time.Time
	Horizon      *float64 // what the saw is likely to cut in it
	Odds         *float64 // chance that the blade needs a change in it
	Drivers      json.RawMessage
	Forced       bool // kept beside the one of its shift
}

func (f *ForecastRow) check() error {
	for _, x := range []*float64{&f.Area, &f.WeightedArea, f.Q10, f.Q50, f.Q90, f.Horizon, f.Odds} {
		if x != nil && (math.IsNaN(*x) || math.IsInf(*x, 0) || *x < 0) {
			return fmt.Errorf("a figure of %g, allowed is one of 0 or more", *x)
		}
	}
	switch {
	case f.Odds != nil && *f.Odds > 1:
		return fmt.Errorf("odds of %g, at most 1 is allowed", *f.Odds)
	case f.MadeAt.IsZero() || f.ShiftStart.IsZero() || !f.ShiftEnd.After(f.ShiftStart):
		return errors.New("it needs the time it was made and the shift it is for")
	case !json.Valid(f.Drivers):
		return errors.New("its drivers are not JSON")
	}
	return nil
}

// AddForecasts keeps forecasts for good, all or none, and returns how many were
// new: of one fitting and shift the first counts, unless another is forced.
func (s *Store) AddForecasts(ctx context.Context, list []ForecastRow) (added int, err error) {
	err = s.write(ctx, func(w *writer) error {
		for i := range list {
			n, err := w.addForecast(&list[i])
			if err != nil {
				return fmt.Errorf("saw %s: %w", list[i].Saw, err)
			}
			added += int(n)
		}
		return nil // nothing arrived: a forecast that woke readers would make the next
	})
	if err != nil {
		return 0, fmt.Errorf("keep %d forecasts: %w", len(list), err)
	}
	return added, nil
}

func (w *writer) addForecast(f *ForecastRow) (int64, error) {
	if err := f.check(); err != nil {
		return 0, err
	}
	saw, err := w.knownSaw(f.Saw)
	if err != nil {
		return 0, err
	}
	return w.change(`INSERT INTO forecast (saw_id, fitting_id, serial, type, made_at, method, area, weighted_area, q10, q50, q90,
		shift_start, shift_end, horizon, odds, drivers, forced)
		VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, $14, $15, $16, $17) ON CONFLICT DO NOTHING`,
		saw.id, f.FittingID, f.Serial, f.Type, micros(f.MadeAt), f.Method, f.Area, f.WeightedArea, number(f.Q10), number(f.Q50), number(f.Q90),
		micros(f.ShiftStart), micros(f.ShiftEnd), number(f.Horizon), number(f.Odds), string(f.Drivers), f.Forced)
}

// Forecasts gives each the forecasts made at or after a time, as they were made,
// in that order, one by one as they are read. An error of each ends it.
func (s *Store) Forecasts(ctx context.Context, since time.Time, each func(ForecastRow) error) error {
	err := s.query(ctx, func(r scanner) error {
		var f ForecastRow
		var made, start, end int64
		var q [5]sql.NullFloat64
		var drivers string
		err := r.Scan(&f.ID, &f.Saw, &f.FittingID, &f.Serial, &f.Type, &made, &f.Method, &f.Area, &f.WeightedArea,
			&q[0], &q[1], &q[2], &start, &end, &q[3], &q[4], &drivers, &f.Forced)
		if err != nil {
			return err
		}
		f.MadeAt, f.ShiftStart, f.ShiftEnd, f.Drivers = fromMicros(made), fromMicros(start), fromMicros(end), json.RawMessage(drivers)
		for i, to := range []**float64{&f.Q10, &f.Q50, &f.Q90, &f.Horizon, &f.Odds} {
			if q[i].Valid {
				*to = &q[i].Float64
			}
		}
		return each(f)
	}, `SELECT f.id, saw.name, f.fitting_id, f.serial, f.type, f.made_at, f.method, f.area, f.weighted_area, f.q10, f.q50, f.q90,
		f.shift_start, f.shift_end, f.horizon, f.odds, f.drivers, f.forced
		FROM forecast f JOIN saw ON saw.id = f.saw_id WHERE f.made_at >= $1 ORDER BY f.made_at, f.id`, bound(since))
	if err != nil {
		return fmt.Errorf("forecasts since %s: %w", since.Format(time.RFC3339), err)
	}
	return nil
}
