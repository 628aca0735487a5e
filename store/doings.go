package store

import (
	"context"
	"database/sql"
	"database/sql/driver"
	"errors"
	"fmt"
	"math"
	"slices"
	"time"

	"gullet/analyze"
	"gullet/analyze/downtime"
)

// passLimit is more than a pass can last: what ends later than that after a moment
// began after it.
const passLimit = 108_000 * time.Second

// Doings reads what downtime.Build needs for the time line of a saw over [from,
// until): the readings of that time and those around it that bear on it, with
// restart the rules' own. Standard is the rate of a grade in in²/min, 0 where none is
// known. A saw that never told anything has no readings.
func (s *Store) Doings(ctx context.Context, saw string, from, until time.Time, restart time.Duration, standard func(grade string) float64) (r downtime.Readings, err error) {
	defer func() {
		if err != nil {
			err = fmt.Errorf("what saw %s did: %w", saw, err)
		}
	}()
	conn, err := s.readers.Conn(ctx)
	if err != nil {
		return r, err
	}
	defer func() { err = errors.Join(err, conn.Close()) }()
	// One transaction, so that the lists agree with each other.
	if _, err := conn.ExecContext(ctx, `BEGIN`); err != nil {
		return r, err
	}
	defer func() {
		_, rollback := conn.ExecContext(context.WithoutCancel(ctx), `ROLLBACK`)
		err = errors.Join(err, rollback)
	}()
	d := doings{conn: conn, store: &Store{path: s.path, reader: conn}, standard: standard, grades: map[string]grade{}}
	err = conn.QueryRowContext(ctx, `SELECT id, EXISTS (SELECT 1 FROM pass WHERE saw_id = saw.id AND kind = 'cut') FROM saw WHERE name = $1`, saw).Scan(&d.saw, &d.out.TellsCuts)
	if err != nil {
		return r, none(err)
	}
	first, err := d.anchor(ctx, micros(from), restart.Microseconds())
	if err != nil {
		return r, err
	}
	last, err := d.passes(ctx, first, micros(until))
	if err != nil {
		return r, err
	}
	for _, read := range []func(context.Context, int64, int64) error{d.states, d.online, d.blades, d.missing} {
		if err := read(ctx, first, last); err != nil {
			return r, err
		}
	}
	return d.out, nil
}

// doings collects the readings of one saw.
type doings struct {
	conn     *sql.Conn
	store    *Store // on that connection
	saw      int64
	standard func(grade string) float64
	grades   map[string]grade // one of each, not one for every pass
	out      downtime.Readings
}

// anchor is the time from which on readings are needed: the end of a pass that lies
// restart or more before the standstill that from falls into; before all readings
// where there is none.
func (d *doings) anchor(ctx context.Context, from, restart int64) (int64, error) {
	at, began, err := d.passBefore(ctx, from)
	if err != nil || at == math.MinInt64 {
		return at, err
	}
	at, _, err = d.passBefore(ctx, began-restart)
	return at, err
}

// passBefore is when the last pass that took time and ended by a time ended and began.
func (d *doings) passBefore(ctx context.Context, by int64) (at, began int64, err error) {
	var seconds any
	err = d.store.reader.QueryRowContext(ctx, `SELECT at, seconds FROM pass WHERE saw_id = $1 AND at <= $2 AND seconds > 0
		ORDER BY at DESC LIMIT 1`, d.saw, by).Scan(&at, &seconds)
	if err != nil {
		return math.MinInt64, math.MinInt64, none(err)
	}
	return at, startOf(at, seconds), nil
}

// startOf is when a pass began that took so many seconds.
func startOf(at int64, seconds any) int64 {
	long, _ := seconds.(float64)
	return at - int64(math.Round(long*1e6))
}

// passes reads those that bear on the time up to until, and says up to when other
// readings do: as long as a pass can last after the first that took time and began at
// until or later, or to the end where there is none.
func (d *doings) passes(ctx context.Context, first, until int64) (last int64, err error) {
	last = until + passLimit.Microseconds()
	beyond := false
	each := func(p *downtime.Pass) { beyond = beyond || p.From < p.To && int64(p.From) >= until }
	if err := d.readPasses(ctx, each, ` AND at >= $2 AND at <= $3`, first, last); err != nil || beyond {
		return last, err
	}
	var next int64
	err = d.store.reader.QueryRowContext(ctx, `SELECT at FROM pass WHERE saw_id = $1 AND at > $2 AND seconds > 0
		ORDER BY at LIMIT 1`, d.saw, last).Scan(&next)
	switch {
	case errors.Is(err, sql.ErrNoRows):
		next = math.MaxInt64
	case err != nil:
		return 0, err
	default:
		next += passLimit.Microseconds()
	}
	return next, d.readPasses(ctx, each, ` AND at > $2 AND at <= $3`, last, next)
}

// passKinds are the kinds by the number that the query of readPasses gives them: each
// column read takes its time.
var passKinds = [...]analyze.Kind{analyze.KindCut, analyze.KindTrip, analyze.KindBreak}

func (d *doings) readPasses(ctx context.Context, each func(*downtime.Pass), where string, args ...int64) error {
	// Lists that grow by themselves are copied several times over, which takes longer
	// than counting in an index.
	args = append([]int64{d.saw}, args...)
	var n int
	if err := d.room(ctx, &n, `SELECT COUNT(*) FROM pass WHERE saw_id = $1`+where, args...); err != nil {
		return err
	}
	d.out.Passes = slices.Grow(d.out.Passes, n)
	return raw(d.conn, func(row []driver.Value) error {
		at, _ := row[0].(int64)
		kind, _ := row[1].(int64)
		g := d.grade(row[4])
		p := downtime.Pass{
			From: downtime.Moment(startOf(at, row[2])), To: downtime.Moment(at), Kind: passKinds[kind>>1], Grade: g.name,
			Piece: kind&1 != 0, Area: math.NaN(), Standard: math.NaN(),
		}
		if a, ok := row[3].(float64); ok {
			p.Area = a
			if g.rate > 0 {
				p.Standard = a / g.rate
			}
		}
		each(&p)
		d.out.Passes = append(d.out.Passes, p)
		return nil
	}, `SELECT at, CASE kind WHEN 'cut' THEN 0 WHEN 'trip' THEN 2 ELSE 4 END + (purpose = 'part'), seconds, area, grade
		FROM pass WHERE saw_id = $1`+where+` ORDER BY at`, args...)
}

// room counts the rows that a query is going to give.
func (d *doings) room(ctx context.Context, n *int, query string, args ...int64) error {
	list := make([]any, len(args))
	for i, a := range args {
		list[i] = a
	}
	return d.conn.QueryRowContext(ctx, query, list...).Scan(n)
}

// grade is a grade's name and its standard rate in in²/min.
type grade struct {
	name string
	rate float64
}

func (d *doings) grade(text any) grade {
	name, _ := text.(string)
	g, ok := d.grades[name]
	if !ok {
		g = grade{name, d.standard(name)}
		d.grades[name] = g
	}
	return g
}

// around reads rows of a table of events from the latest by first on, up to last.
func (d *doings) around(each func(row []driver.Value), columns, table, when string, first, last int64) error {
	query := `SELECT ` + columns + ` FROM ` + table + ` WHERE saw_id = $1 AND ` + when + ` >=
		COALESCE((SELECT ` + when + ` FROM ` + table + ` WHERE saw_id = $1 AND ` + when + ` <= $2 ORDER BY ` + when + ` DESC LIMIT 1), $2)
		AND ` + when + ` <= $3 ORDER BY ` + when
	return raw(d.conn, func(row []driver.Value) error { each(row); return nil }, query, d.saw, first, last)
}

func (d *doings) states(ctx context.Context, first, last int64) error {
	var n int
	if err := d.room(ctx, &n, `SELECT COUNT(*) FROM state_event WHERE saw_id = $1 AND at >= $2 AND at <= $3`, d.saw, first, last); err != nil {
		return err
	}
	d.out.States = make([]downtime.State, 0, n+1) // one may come before
	return d.around(func(row []driver.Value) {
		at, _ := row[0].(int64)
		seq, _ := row[1].(int64)
		state, _ := row[2].(string)
		cause, _ := row[3].(string)
		d.out.States = append(d.out.States, downtime.State{At: downtime.Moment(at), Seq: seq, State: analyze.State(state), Cause: analyze.Cause(cause)})
	}, `at, seq, state, cause`, `state_event`, `at`, first, last)
}

// online reads births by the saw's clock and deaths by their receipt, as a last will
// is dated when the saw connected.
func (d *doings) online(_ context.Context, first, last int64) error {
	const table = `(SELECT saw_id, CASE WHEN online <> 0 THEN at ELSE received END AS moment, online <> 0 AS up FROM alive_event WHERE saw_id = $1) e`
	return d.around(func(row []driver.Value) {
		at, _ := row[0].(int64)
		up, _ := row[1].(int64)
		d.out.Online = append(d.out.Online, downtime.Online{At: downtime.Moment(at), Online: up != 0})
	}, `moment, up`, table, `moment`, first, last)
}

// blades reads what the ledger says, so that persons' corrections count.
func (d *doings) blades(_ context.Context, first, last int64) error {
	return d.around(func(row []driver.Value) {
		on, _ := row[0].(int64)
		d.out.Blades = append(d.out.Blades, downtime.Blade{At: downtime.Moment(on), Action: analyze.ActionFit})
		if off, ok := row[1].(int64); ok && off <= last {
			reason, _ := row[2].(string)
			d.out.Blades = append(d.out.Blades, downtime.Blade{At: downtime.Moment(off), Action: analyze.ActionRemove, Reason: analyze.EndReason(reason)})
		}
	}, `start_at, end_at, reason`, `fitting`, `start_at`, first, last)
}

// missing reads where running numbers are missing. They are few, so all are.
func (d *doings) missing(ctx context.Context, _, _ int64) error {
	var run, last, until int64
	return d.store.query(ctx, func(r scanner) error {
		var of, from, to, began, ended int64
		err := r.Scan(&of, &from, &to, &began, &ended)
		if of == run && from > last+1 {
			d.out.Missing = append(d.out.Missing, downtime.Missing{From: downtime.Moment(until), To: downtime.Moment(began)})
		}
		run, last, until = of, to, ended
		return err
	}, `SELECT run_at, first, last, first_at, last_at FROM seq_span WHERE saw_id = $1 ORDER BY run_at, first`, d.saw)
}
