package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"gullet/analyze"
)

// SawRow is what is known of one saw now.
type SawRow struct {
	Name         string
	State        analyze.StateChange // by the latest state reading; State is "" when there is none
	StateSince   time.Time           // when the saw went into that state
	Online       *bool               // by the latest alive reading, nil when there is none
	OnlineSince  time.Time
	LastAt       time.Time // latest reading, by the saw's clock; a last will is none of the saw's doing
	LastReceived time.Time // latest receipt
	Stop         *Stop     // the latest, nil when none
	Skew         time.Duration
	SkewMinutes  int // minutes of receipt the skew is the median of, 0: unknown
	Missing      int64
	Counts       map[analyze.Kind]int64
	Fitting      *FittingRow // the blade on the saw, nil when none is known
}

// Stop is one reason for which a saw stood still.
type Stop struct {
	At    time.Time
	Cause string // of a state reading, else its state; or deviation-trip, or blade-break
}

// FittingRow is a fitting with what it has done.
type FittingRow struct {
	analyze.Fitting
	Totals   []analyze.GradeTotal // by grade
	Cuts     int64                // passes through metal
	Area     float64              // in², of all grades
	Trips    int64
	Breaks   int64
	Disagree int64     // passes whose serial says another blade; counted here all the same
	LastPass time.Time // zero when none
	// LastGrade is the grade of that pass, as the saw sent it, of a fitting that
	// ended its blade: the material it ended in. It is "" of every other.
	LastGrade string
}

// query reads rows with f, which gets each row's Scan.
func (s *Store) query(ctx context.Context, f func(scanner) error, query string, args ...any) (err error) {
	rows, err := s.reader.QueryContext(ctx, query, args...)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, rows.Close()) }()
	for rows.Next() {
		if err := f(rows); err != nil {
			return err
		}
	}
	return rows.Err()
}

// Saws lists every saw that ever sent a reading, by name.
func (s *Store) Saws(ctx context.Context) ([]SawRow, error) {
	type numbered struct {
		id  int64
		row SawRow
	}
	var saws []numbered
	err := s.query(ctx, func(r scanner) error {
		var n numbered
		var received int64
		err := r.Scan(&n.id, &n.row.Name, &received)
		n.row.LastReceived = fromMicros(received)
		saws = append(saws, n)
		return err
	}, `SELECT id, name, last_received FROM saw ORDER BY name`)
	if err != nil {
		return nil, fmt.Errorf("list saws: %w", err)
	}
	var list []SawRow
	for i := range saws {
		n := &saws[i]
		for _, fill := range []func(context.Context, int64, *SawRow) error{s.sawNow, s.sawCounts, s.sawStop, s.sawSkew, s.sawFitting} {
			if err := fill(ctx, n.id, &n.row); err != nil {
				return nil, fmt.Errorf("saw %s: %w", n.row.Name, err)
			}
		}
		list = append(list, n.row)
	}
	return list, nil
}

// none turns the absence of a row into no error.
func none(err error) error {
	if errors.Is(err, sql.ErrNoRows) {
		return nil
	}
	return err
}

func (s *Store) sawNow(ctx context.Context, id int64, row *SawRow) error {
	var at, state, online int64
	err := s.reader.QueryRowContext(ctx, `SELECT MAX(at) FROM (
		SELECT * FROM (SELECT at FROM pass WHERE saw_id = $1 ORDER BY at DESC LIMIT 1) a UNION ALL
		SELECT * FROM (SELECT at FROM blade_event WHERE saw_id = $1 ORDER BY at DESC LIMIT 1) b UNION ALL
		SELECT * FROM (SELECT at FROM state_event WHERE saw_id = $1 ORDER BY at DESC LIMIT 1) c UNION ALL
		SELECT * FROM (SELECT at FROM alive_event WHERE saw_id = $1 AND online <> 0 ORDER BY at DESC LIMIT 1) d) m
		HAVING MAX(at) IS NOT NULL`, id).Scan(&at)
	if err == nil {
		row.LastAt = fromMicros(at)
	} else if none(err) != nil {
		return err
	}
	err = s.reader.QueryRowContext(ctx, `SELECT at, state, cause FROM state_event WHERE saw_id = $1
		ORDER BY at DESC, seq DESC, msg DESC LIMIT 1`, id).Scan(&state, &row.State.State, &row.State.Cause)
	if err == nil {
		row.StateSince = fromMicros(state)
	} else if none(err) != nil {
		return err
	}
	var up bool
	err = s.reader.QueryRowContext(ctx, `SELECT received, online FROM alive_event WHERE saw_id = $1
		ORDER BY received DESC, id DESC LIMIT 1`, id).Scan(&online, &up)
	if err == nil {
		// A last will is dated when the saw connected; only its receipt says
		// when the saw went.
		row.Online, row.OnlineSince = &up, fromMicros(online)
	}
	return none(err)
}

func (s *Store) sawCounts(ctx context.Context, id int64, row *SawRow) error {
	row.Counts = map[analyze.Kind]int64{}
	err := s.query(ctx, func(r scanner) error {
		var kind analyze.Kind
		var n int64
		err := r.Scan(&kind, &n)
		row.Counts[kind] = n
		return err
	}, `SELECT kind, n FROM saw_count WHERE saw_id = $1`, id)
	if err != nil {
		return err
	}
	return s.reader.QueryRowContext(ctx, `SELECT COALESCE(SUM(missing), 0) FROM (
		SELECT MAX(last) - MIN(first) + 1 - SUM(last - first + 1) AS missing
		FROM seq_span WHERE saw_id = $1 GROUP BY run_at) r`, id).Scan(&row.Missing)
}

func (s *Store) sawStop(ctx context.Context, id int64, row *SawRow) error {
	var at int64
	var stop Stop
	err := s.reader.QueryRowContext(ctx, `SELECT at, cause FROM (
		SELECT * FROM (SELECT at, CASE cause WHEN '' THEN state ELSE cause END AS cause FROM state_event
			WHERE saw_id = $1 AND state <> 'cutting' ORDER BY at DESC, seq DESC, msg DESC LIMIT 1) a UNION ALL
		SELECT * FROM (SELECT at, 'blade-break' AS cause FROM pass WHERE saw_id = $1 AND kind = 'break' ORDER BY at DESC LIMIT 1) b UNION ALL
		SELECT * FROM (SELECT at, 'deviation-trip' AS cause FROM pass WHERE saw_id = $1 AND kind = 'trip' ORDER BY at DESC LIMIT 1) c) stops
		ORDER BY at DESC, cause LIMIT 1`, id).Scan(&at, &stop.Cause)
	if err == nil {
		stop.At = fromMicros(at)
		row.Stop = &stop
	}
	return none(err)
}

func (s *Store) sawSkew(ctx context.Context, id int64, row *SawRow) error {
	var delays []int64
	err := s.query(ctx, func(r scanner) error {
		var d int64
		err := r.Scan(&d)
		delays = append(delays, d)
		return err
	}, `SELECT delay FROM skew WHERE saw_id = $1 ORDER BY minute DESC LIMIT $2`, id, skewMinutes)
	if err != nil || len(delays) == 0 {
		return err
	}
	slices.Sort(delays)
	middle := (delays[(len(delays)-1)/2] + delays[len(delays)/2]) / 2
	row.Skew, row.SkewMinutes = time.Duration(middle)*time.Microsecond, len(delays)
	return nil
}

func (s *Store) sawFitting(ctx context.Context, id int64, row *SawRow) error {
	list, err := s.fittings(ctx, ` WHERE f.saw_id = $1 AND f.end_at IS NULL`, id)
	if err != nil || len(list) == 0 {
		return err
	}
	row.Fitting = &list[len(list)-1]
	if row.Fitting.Type != "" || row.Fitting.Serial == "" {
		return nil
	}
	return none(s.reader.QueryRowContext(ctx, `SELECT type FROM fitting WHERE serial = $1 AND type <> ''
		ORDER BY start_at DESC LIMIT 1`, row.Fitting.Serial).Scan(&row.Fitting.Type))
}

// Fittings lists the fittings that began at or after a time or are still open,
// and every other fitting of the same serials, so that each blade is there
// whole, with their totals, by saw and time. The zero time lists them all.
func (s *Store) Fittings(ctx context.Context, since time.Time) ([]FittingRow, error) {
	const from = ` WHERE (f.start_at >= $1 OR f.end_at IS NULL OR f.serial IN (
		SELECT serial FROM fitting WHERE (start_at >= $1 OR end_at IS NULL) AND serial <> ''))`
	list, err := s.fittings(ctx, from, micros(since))
	if err == nil {
		err = s.lastGrades(ctx, list, from, micros(since))
	}
	if err != nil {
		return nil, fmt.Errorf("list fittings since %s: %w", since.Format(time.RFC3339), err)
	}
	shareTypes(list)
	return list, nil
}

// fittings reads fittings with a row for each grade. A shop's life holds tens
// of thousands, so names and types are put in here rather than by joins.
func (s *Store) fittings(ctx context.Context, where string, args ...any) ([]FittingRow, error) {
	names := map[int64]string{}
	err := s.query(ctx, func(r scanner) error {
		var id int64
		var name string
		err := r.Scan(&id, &name)
		names[id] = name
		return err
	}, `SELECT id, name FROM saw`)
	if err != nil {
		return nil, err
	}
	var list []FittingRow
	err = s.query(ctx, func(r scanner) error {
		var f FittingRow
		var g analyze.GradeTotal
		var saw, start, end, last int64
		var reason, basis string
		err := r.Scan(&f.ID, &saw, &start, &end, &f.Serial, &f.Type, &reason, &basis, &f.Note, &f.Trips, &f.Breaks,
			&f.Disagree, &last, &g.Grade, &g.Area, &g.Cuts, &g.Seconds, &g.Travel, &g.AreaUnknown, &g.TravelUnknown)
		if err != nil {
			return err
		}
		if n := len(list); n == 0 || list[n-1].ID != f.ID {
			f.Saw, f.Reason, f.Basis = names[saw], analyze.EndReason(reason), analyze.Basis(basis)
			f.Start, f.End, f.LastPass = fromMicros(start), unlessNever(end), unlessNever(last)
			list = append(list, f)
		}
		if g.Cuts > 0 {
			row := &list[len(list)-1]
			row.Area += g.Area
			row.Cuts += g.Cuts
			row.Totals = append(row.Totals, g)
		}
		return nil
	}, fmt.Sprintf(`SELECT f.id, f.saw_id, f.start_at, COALESCE(f.end_at, %[1]d), f.serial, f.type, f.reason, f.basis, f.note,
		f.trips, f.breaks, f.disagree, COALESCE(f.last_pass, %[1]d), COALESCE(t.grade, ''), COALESCE(t.area, 0.0), COALESCE(t.cuts, 0),
		COALESCE(t.seconds, 0.0), COALESCE(t.travel, 0.0), COALESCE(t.area_unknown, 0), COALESCE(t.travel_unknown, 0)
		FROM fitting f LEFT JOIN fitting_total t ON t.fitting_id = f.id%[2]s
		ORDER BY f.saw_id, f.start_at, f.id, t.grade`, int64(never), where), args...)
	if err != nil {
		return nil, err
	}
	slices.SortStableFunc(list, func(a, b FittingRow) int { return strings.Compare(a.Saw, b.Saw) })
	return list, nil
}

// lastGrades fills in the grades that blades ended in. Only where a fitting cut
// several is the pass looked up, one page of a big table each.
func (s *Store) lastGrades(ctx context.Context, list []FittingRow, where string, args ...any) error {
	several := map[int64]string{}
	err := s.query(ctx, func(r scanner) error {
		var id int64
		var grade string
		err := r.Scan(&id, &grade)
		several[id] = grade
		return err
	}, `SELECT f.id, (SELECT grade FROM pass WHERE saw_id = f.saw_id AND at = f.last_pass ORDER BY seq DESC, id DESC LIMIT 1)
		FROM fitting f`+where+` AND f.last_pass IS NOT NULL AND f.reason IN (`+endingReasons()+`)
		AND (SELECT COUNT(*) FROM fitting_total t WHERE t.fitting_id = f.id) > 1`, args...)
	if err != nil {
		return err
	}
	for i := range list {
		f := &list[i]
		switch {
		case !f.Reason.Ends() || len(f.Totals) == 0:
		case len(f.Totals) == 1:
			f.LastGrade = f.Totals[0].Grade
		default:
			f.LastGrade = several[f.ID]
		}
	}
	return nil
}

// endingReasons lists the reasons that end a blade, as SQL text.
func endingReasons() string {
	var list []string
	for _, reason := range append(analyze.EndReasons(), analyze.ReasonBroke) {
		if reason.Ends() {
			list = append(list, "'"+string(reason)+"'")
		}
	}
	return strings.Join(list, ", ")
}

// Lots lists the coil lot of each blade whose fit message named one, the latest
// by the saw's clock.
func (s *Store) Lots(ctx context.Context) (map[string]string, error) {
	lots := map[string]string{}
	err := s.query(ctx, func(r scanner) error {
		var serial, lot string
		err := r.Scan(&serial, &lot)
		lots[serial] = strings.TrimSpace(lot)
		return err
	}, `SELECT serial, json_extract(extra, '$.lot') FROM blade_event
		WHERE action = 'fit' AND serial <> '' AND json_type(extra, '$.lot') IN ('text', 'integer') ORDER BY at, id`)
	if err != nil {
		return nil, fmt.Errorf("list lots: %w", err)
	}
	return lots, nil
}

func unlessNever(us int64) time.Time {
	if us == never {
		return time.Time{}
	}
	return fromMicros(us)
}

// shareTypes gives a fitting whose message did not name the type of the blade
// the type that another fitting of the same serial was given, the latest by
// start.
func shareTypes(list []FittingRow) {
	type named struct {
		start time.Time
		name  string
	}
	types := map[string]named{}
	for i := range list {
		f := &list[i]
		if t := types[f.Serial]; f.Type != "" && f.Serial != "" && !f.Start.Before(t.start) {
			types[f.Serial] = named{f.Start, f.Type}
		}
	}
	for i := range list {
		if f := &list[i]; f.Type == "" {
			f.Type = types[f.Serial].name
		}
	}
}

func fromNull(n sql.NullInt64) time.Time {
	if !n.Valid {
		return time.Time{}
	}
	return fromMicros(n.Int64)
}

// DeviationRow is one pass of a fitting.
type DeviationRow struct {
	At        time.Time
	Kind      analyze.Kind
	Area      *float64 // in², nil when not known
	Deviation *float64 // in, signed, nil when not measured
	Height    *float64 // in
	Grade     string   // as the saw sent it
}

// Deviations lists the last passes of a fitting, at most limit, in order of
// time.
func (s *Store) Deviations(ctx context.Context, fittingID int64, limit int) ([]DeviationRow, error) {
	var list []DeviationRow
	err := s.query(ctx, func(r scanner) error {
		var d DeviationRow
		var at int64
		err := r.Scan(&at, &d.Kind, &d.Area, &d.Deviation, &d.Height, &d.Grade)
		d.At = fromMicros(at)
		list = append(list, d)
		return err
	}, `SELECT p.at, p.kind, p.area, p.deviation, p.height, p.grade FROM fitting f JOIN pass p
		ON p.saw_id = f.saw_id AND p.at > f.start_at AND p.at <= COALESCE(f.end_at, $1)
		WHERE f.id = $2 ORDER BY p.at DESC, p.seq DESC, p.msg DESC LIMIT $3`, int64(forever), fittingID, limit)
	if err != nil {
		return nil, fmt.Errorf("deviations of fitting %d: %w", fittingID, err)
	}
	slices.Reverse(list)
	return list, nil
}

// PaceRow is what a saw cut since a time.
type PaceRow struct {
	Area        float64 // in²
	AreaUnknown int64   // passes missing from Area
	Passes      int64
	Seconds     float64   // in the cut
	First, Last time.Time // earliest and latest pass, zero when none
}

// Pace sums what a saw cut after a time. Divided by the time that has passed
// since (or since First, for a saw that is newer), it tells in² a day.
func (s *Store) Pace(ctx context.Context, saw string, since time.Time) (PaceRow, error) {
	var p PaceRow
	var first, last sql.NullInt64
	err := s.reader.QueryRowContext(ctx, `SELECT COALESCE(SUM(area), 0.0), COUNT(*) - COUNT(area), COUNT(*),
		COALESCE(SUM(seconds), 0.0), MIN(at), MAX(at) FROM pass
		WHERE saw_id = (SELECT id FROM saw WHERE name = $1) AND at > $2`, saw, micros(since)).
		Scan(&p.Area, &p.AreaUnknown, &p.Passes, &p.Seconds, &first, &last)
	if err != nil {
		return p, fmt.Errorf("pace of saw %s: %w", saw, err)
	}
	p.First, p.Last = fromNull(first), fromNull(last)
	return p, nil
}

// SawGap is a stretch of running numbers that never came, or not yet.
type SawGap struct {
	Saw string
	analyze.SeqGap
}

// Gaps lists what is missing, by saw and time.
func (s *Store) Gaps(ctx context.Context) ([]SawGap, error) {
	var list []SawGap
	err := s.query(ctx, func(r scanner) error {
		var g SawGap
		var after, before int64
		err := r.Scan(&g.Saw, &g.First, &g.Last, &after, &before)
		g.After, g.Before = fromMicros(after), fromMicros(before)
		list = append(list, g)
		return err
	}, `SELECT name, first, last, after, before FROM (
		SELECT saw.name AS name, LAG(s.last) OVER run + 1 AS first, s.first - 1 AS last,
		LAG(s.last_at) OVER run AS after, s.first_at AS before, s.run_at AS run_at
		FROM seq_span s JOIN saw ON saw.id = s.saw_id
		WINDOW run AS (PARTITION BY s.saw_id, s.run_at ORDER BY s.first)) g
		WHERE first IS NOT NULL ORDER BY name, run_at, first`)
	if err != nil {
		return nil, fmt.Errorf("gaps in running numbers: %w", err)
	}
	return list, nil
}

// Cursor changes whenever anything was stored.
func (s *Store) Cursor(ctx context.Context) (int64, error) {
	var n int64
	err := s.reader.QueryRowContext(ctx, `SELECT n FROM arrivals WHERE id = 1`).Scan(&n)
	if err != nil {
		return 0, fmt.Errorf("cursor: %w", err)
	}
	return n, nil
}
