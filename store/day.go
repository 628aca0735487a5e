package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"time"

	"gullet/analyze/downtime"
	"gullet/analyze/shift"
)

// SawDays is what is summed up of one saw.
type SawDays struct {
	Saw   string
	First time.Time      // beginning of the time line: the first reading
	Until time.Time      // days that end by then are summed up, all from First's on
	Days  []downtime.Day // in order
}

// ErrOvertaken says that readings came while days were summed up: they are not kept.
var ErrOvertaken = errors.New("readings came meanwhile")

// Days reads the days of each saw, by name, whose dates are in [from, to], as far as
// they are summed up under these rules; with events their stops and marks too.
func (s *Store) Days(ctx context.Context, rules string, from, to shift.Date, events bool) ([]SawDays, error) {
	var ids []int64
	var list []SawDays
	err := s.query(ctx, func(r scanner) error {
		var id, until int64
		var first sql.NullInt64
		var d SawDays
		var under string
		err := r.Scan(&id, &d.Saw, &first, &until, &under)
		if !first.Valid {
			return err // it was never heard of but by name
		}
		if d.First = fromMicros(first.Int64); under == rules && until > first.Int64 {
			d.Until = fromMicros(until)
		}
		ids, list = append(ids, id), append(list, d)
		return err
	}, `SELECT id, name, (SELECT MIN(at) FROM (
			SELECT MIN(at) AS at FROM pass WHERE saw_id = saw.id UNION ALL SELECT MIN(at) FROM blade_event WHERE saw_id = saw.id UNION ALL
			SELECT MIN(at) FROM state_event WHERE saw_id = saw.id UNION ALL SELECT MIN(at) FROM alive_event WHERE saw_id = saw.id)),
		summed_until, summed_rules FROM saw ORDER BY name`)
	if err != nil {
		return nil, fmt.Errorf("saws with their days: %w", err)
	}
	for i := range list {
		if list[i].Until.IsZero() {
			continue
		}
		if list[i].Days, err = s.days(ctx, ids[i], micros(list[i].Until), from, to, events); err != nil {
			return nil, fmt.Errorf("days of saw %s: %w", list[i].Saw, err)
		}
	}
	return list, nil
}

func (s *Store) days(ctx context.Context, saw, until int64, from, to shift.Date, events bool) (days []downtime.Day, err error) {
	query := `SELECT d.day, d.start_at, d.end_at, d.sums FROM saw_day d WHERE d.saw_id = $1 AND d.day >= $2 AND d.day <= $3 AND d.end_at <= $4 ORDER BY d.day`
	if events {
		query = `SELECT d.day, d.start_at, d.end_at, d.sums, e.events FROM saw_day d JOIN saw_day_events e ON e.saw_id = d.saw_id AND e.day = d.day
			WHERE d.saw_id = $1 AND d.day >= $2 AND d.day <= $3 AND d.end_at <= $4 ORDER BY d.day`
	}
	err = s.query(ctx, func(r scanner) error {
		var day string
		var start, end int64
		var sums, happened sql.RawBytes
		fields := []any{&day, &start, &end, &sums}
		if events {
			fields = append(fields, &happened)
		}
		if err := r.Scan(fields...); err != nil {
			return err
		}
		date, err := shift.ParseDate(day)
		if err != nil {
			return err
		}
		d := downtime.Day{Date: date, From: downtime.Moment(start), To: downtime.Moment(end)}
		if err := d.UnpackSums(sums); err != nil {
			return fmt.Errorf("%s: %w", d.Date, err)
		}
		if events {
			if err := d.UnpackEvents(happened); err != nil {
				return fmt.Errorf("%s: %w", d.Date, err)
			}
		}
		days = append(days, d)
		return nil
	}, query, saw, from.String(), to.String(), until)
	return days, err
}

// KeepDays keeps whole days of a saw that were summed up under these rules from what
// was stored at the cursor, and notes that all days up to the end of the last are.
// The days must follow on those that are kept. When anything was stored since, nothing
// is kept and ErrOvertaken returned: it may be about them.
func (s *Store) KeepDays(ctx context.Context, saw, rules string, cursor int64, days []downtime.Day) error {
	if len(days) == 0 {
		return nil
	}
	err := s.write(ctx, func(w *writer) error {
		var now int64
		if err := w.row(`SELECT n FROM arrivals WHERE id = 1`).Scan(&now); err != nil {
			return err
		}
		if now != cursor {
			return ErrOvertaken
		}
		known, err := w.knownSaw(saw)
		if err != nil {
			return err
		}
		for i := range days {
			if err := w.keepDay(known.id, &days[i]); err != nil {
				return err
			}
		}
		return w.exec(`UPDATE saw SET summed_until = $1, summed_rules = $2 WHERE id = $3`, int64(days[len(days)-1].To), rules, known.id)
	})
	if err != nil {
		return fmt.Errorf("keep the days of saw %s: %w", saw, err)
	}
	return nil
}

func (w *writer) keepDay(saw int64, d *downtime.Day) error {
	sums, events := d.Pack()
	day := d.Date.String()
	err := w.exec(`INSERT INTO saw_day (saw_id, day, start_at, end_at, sums) VALUES ($1, $2, $3, $4, $5)
		ON CONFLICT (saw_id, day) DO UPDATE SET start_at = excluded.start_at, end_at = excluded.end_at, sums = excluded.sums`,
		saw, day, int64(d.From), int64(d.To), sums)
	if err != nil {
		return err
	}
	return w.exec(`INSERT INTO saw_day_events (saw_id, day, events) VALUES ($1, $2, $3)
		ON CONFLICT (saw_id, day) DO UPDATE SET events = excluded.events`, saw, day, events)
}

// unsum notes that what was summed up of a saw about a time and later no longer
// holds: nor does it from the end of the pass before that time on, since a standstill
// may have turned out to be another.
func (w *writer) unsum(saw, from int64) error {
	var before int64
	err := w.row(`SELECT at FROM pass WHERE saw_id = $1 AND at <= $2 AND seconds > 0 ORDER BY at DESC LIMIT 1`, saw, from).Scan(&before)
	if errors.Is(err, sql.ErrNoRows) {
		before, err = -forever-1, nil
	}
	if err != nil {
		return err
	}
	return w.exec(`UPDATE saw SET summed_until = $1 WHERE id = $2 AND summed_until > $1`, before, saw)
}
