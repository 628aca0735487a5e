package store

import (
	"fmt"
	"time"

	"gullet/analyze"
)

// replaceFittings writes the derived fittings over those stored from a time
// on. A fitting keeps its number while it begins at the same time, or carries
// the same serial over a common stretch of time.
func (w *writer) replaceFittings(s *sawState, from int64, derived []analyze.LedgerFitting) (map[int64]bool, error) {
	var stored []*fittingState
	err := w.each(func(r scanner) error {
		f, err := s.scanFitting(r)
		stored = append(stored, f)
		return err
	}, `SELECT `+fittingColumns+` FROM fitting WHERE saw_id = $1 AND start_at >= $2 ORDER BY start_at`, s.id, from)
	if err != nil {
		return nil, err
	}
	old, left := match(stored, derived)
	for _, f := range left {
		for _, query := range []string{`DELETE FROM fitting_total WHERE fitting_id = $1`, `DELETE FROM fitting WHERE id = $1`} {
			if err := w.exec(query, f.ID); err != nil {
				return nil, err
			}
		}
	}
	summed := map[int64]bool{}
	for i := range derived {
		f := &fittingState{LedgerFitting: derived[i], start: micros(derived[i].Start), end: forever}
		if !f.End.IsZero() {
			f.end = micros(f.End)
		}
		if err := w.writeFitting(s, f, old[i]); err != nil {
			return nil, err
		}
		if needsSum(f, old[i]) {
			summed[f.ID] = true
			if err := w.sum(s, f); err != nil {
				return nil, fmt.Errorf("sum fitting %d: %w", f.ID, err)
			}
		}
	}
	return summed, nil
}

// match pairs each derived fitting with the stored one it continues, nil when
// it is new, and returns the stored ones that are no more.
func match(stored []*fittingState, derived []analyze.LedgerFitting) (old, left []*fittingState) {
	old = make([]*fittingState, len(derived))
	taken := map[*fittingState]bool{}
	pair := func(fits func(f *fittingState, d *analyze.LedgerFitting) bool) {
		for i := range derived {
			for _, f := range stored {
				if old[i] == nil && !taken[f] && fits(f, &derived[i]) {
					old[i], taken[f] = f, true
				}
			}
		}
	}
	pair(func(f *fittingState, d *analyze.LedgerFitting) bool { return f.Start.Equal(d.Start) })
	pair(func(f *fittingState, d *analyze.LedgerFitting) bool {
		return f.Serial == d.Serial && (d.End.IsZero() || f.Start.Before(d.End)) && (f.End.IsZero() || d.Start.Before(f.End))
	})
	for _, f := range stored {
		if !taken[f] {
			left = append(left, f)
		}
	}
	return old, left
}

// needsSum reports whether the totals of a fitting can have changed but by the
// passes of this batch: not when it merely ended after its last pass.
func needsSum(f, old *fittingState) bool {
	return old == nil || f.start != old.start || f.Serial != old.Serial || f.end > old.end || old.lastPass > f.end
}

func instant(t time.Time) any {
	if t.IsZero() {
		return nil
	}
	return micros(t)
}

func (w *writer) writeFitting(s *sawState, f, old *fittingState) error {
	if old == nil {
		return w.row(`INSERT INTO fitting (saw_id, start_at, end_at, serial, type, reason, basis, note, stale, firm_at)
			VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10) RETURNING id`,
			s.id, f.start, instant(f.End), f.Serial, f.Type, string(f.Reason), string(f.Basis), f.Note, f.Stale, instant(f.Firm)).Scan(&f.ID)
	}
	f.ID, f.Saw = old.ID, old.Saw
	if f.LedgerFitting == old.LedgerFitting {
		return nil
	}
	return w.exec(`UPDATE fitting SET start_at = $1, end_at = $2, serial = $3, type = $4, reason = $5, basis = $6,
		note = $7, stale = $8, firm_at = $9 WHERE id = $10`,
		f.start, instant(f.End), f.Serial, f.Type, string(f.Reason), string(f.Basis), f.Note, f.Stale, instant(f.Firm), f.ID)
}

// totalColumns are the sums over passes of a grade that make a total of it.
const totalColumns = `grade, COALESCE(SUM(area), 0.0), COUNT(*), COALESCE(SUM(seconds), 0.0), COALESCE(SUM(band_speed * seconds / 60), 0.0),
	COUNT(*) - COUNT(area), COUNT(*) - COUNT(band_speed * seconds)`

// sum makes the totals of a fitting anew from its passes.
func (w *writer) sum(s *sawState, f *fittingState) error {
	if err := w.exec(`DELETE FROM fitting_total WHERE fitting_id = $1`, f.ID); err != nil {
		return err
	}
	const passes = ` FROM pass WHERE saw_id = $2 AND at > $3 AND at <= $4`
	err := w.exec(`INSERT INTO fitting_total (fitting_id, grade, area, cuts, seconds, travel, area_unknown, travel_unknown)
		SELECT $1, `+totalColumns+passes+` GROUP BY grade`, f.ID, s.id, f.start, f.end)
	if err != nil {
		return err
	}
	var trips, breaks, disagree int64
	var last any
	err = w.row(`SELECT COUNT(CASE WHEN kind = 'trip' THEN 1 END), COUNT(CASE WHEN kind = 'break' THEN 1 END),
		COUNT(CASE WHEN serial <> '' AND serial <> $1 THEN 1 END), MAX(at)`+passes, f.Serial, s.id, f.start, f.end).
		Scan(&trips, &breaks, &disagree, &last)
	if err != nil {
		return err
	}
	return w.exec(`UPDATE fitting SET trips = $1, breaks = $2, disagree = $3, last_pass = $4 WHERE id = $5`,
		trips, breaks, disagree, last, f.ID)
}

// tally is what a batch adds to the totals of the fittings.
type tally map[int64]*fittingTally

type fittingTally struct {
	trips, breaks, disagree, lastPass int64
	grades                            map[string]*analyze.GradeTotal
}

func (t tally) of(f *fittingState, grade string) (*fittingTally, *analyze.GradeTotal) {
	ft, ok := t[f.ID]
	if !ok {
		ft = &fittingTally{lastPass: never, grades: map[string]*analyze.GradeTotal{}}
		t[f.ID] = ft
	}
	g, ok := ft.grades[grade]
	if !ok {
		g = &analyze.GradeTotal{Grade: grade}
		ft.grades[grade] = g
	}
	return ft, g
}

func (t tally) add(f *fittingState, p *newPass) {
	ft, g := t.of(f, p.cut.Grade)
	g.Cuts++
	addOrCount(&g.Area, &g.AreaUnknown, p.area)
	addOrCount(&g.Travel, &g.TravelUnknown, p.cut.Travel())
	if p.cut.Seconds != nil {
		g.Seconds += *p.cut.Seconds
	}
	switch p.kind {
	case analyze.KindTrip:
		ft.trips++
	case analyze.KindBreak:
		ft.breaks++
	}
	if p.cut.Serial != "" && p.cut.Serial != f.Serial {
		ft.disagree++
	}
	ft.lastPass = max(ft.lastPass, p.at)
}

func (t tally) change(f *fittingState, c change) {
	_, g := t.of(f, c.grade)
	addOrCount(&g.Area, &g.AreaUnknown, c.new)
	if c.old == nil {
		g.AreaUnknown--
	} else {
		g.Area -= *c.old
	}
}

func addOrCount(sum *float64, unknown *int64, x *float64) {
	if x == nil {
		*unknown++
		return
	}
	*sum += *x
}

func (w *writer) writeTally(t tally) error {
	for id, ft := range t {
		err := w.exec(`UPDATE fitting SET trips = trips + $1, breaks = breaks + $2, disagree = disagree + $3,
			last_pass = CASE WHEN last_pass > $4 OR $4 = $5 THEN last_pass ELSE $4 END WHERE id = $6`,
			ft.trips, ft.breaks, ft.disagree, ft.lastPass, int64(never), id)
		if err != nil {
			return err
		}
		for _, g := range ft.grades {
			err := w.exec(`INSERT INTO fitting_total (fitting_id, grade, area, cuts, seconds, travel, area_unknown, travel_unknown)
				VALUES ($1, $2, $3, $4, $5, $6, $7, $8) ON CONFLICT (fitting_id, grade) DO UPDATE SET
				area = fitting_total.area + excluded.area, cuts = fitting_total.cuts + excluded.cuts,
				seconds = fitting_total.seconds + excluded.seconds, travel = fitting_total.travel + excluded.travel,
				area_unknown = fitting_total.area_unknown + excluded.area_unknown,
				travel_unknown = fitting_total.travel_unknown + excluded.travel_unknown`,
				id, g.Grade, g.Area, g.Cuts, g.Seconds, g.Travel, g.AreaUnknown, g.TravelUnknown)
			if err != nil {
				return err
			}
		}
	}
	return nil
}
