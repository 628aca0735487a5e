package store

import (
	"database/sql"
	"errors"
	"reflect"

	"gullet/analyze"
)

const insertPass = `INSERT INTO pass (saw_id, kind, at, seq, msg, received,
	seconds, section, square, height, bars, mitre, from_axis, grade, band_speed, feed, pressure,
	deviation, trip_limit, serial, job, piece, purpose, from_share, done, place, extra, area)
	VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, $14, $15, $16, $17,
	$18, $19, $20, $21, $22, $23, $24, $25, $26, $27, $28) ON CONFLICT DO NOTHING`

// insertPass stores a cut, trip or break and returns its row, 0 when its
// identity is taken.
func (w *writer) insertPass(saw int64, r *analyze.Reading) (int64, error) {
	s, err := w.prepare(insertPass)
	if err != nil {
		return 0, err
	}
	c := r.Cut
	result, err := s.Exec(saw, string(r.Kind), micros(r.At), seq(r), r.ID, micros(r.Received),
		number(c.Seconds), c.Section, number(c.Square), number(c.Height), int64(c.Count), c.Mitre, c.FromAxis, c.Grade,
		number(c.BandSpeed), number(c.Feed), number(c.Pressure), number(c.Deviation), number(c.Limit),
		c.Serial, c.Job, c.Piece, string(c.Purpose), c.From, number(told(c)), string(c.Where), extra(r),
		number(c.Area(r.Kind)))
	if err != nil {
		return 0, err
	}
	if n, err := result.RowsAffected(); n == 0 || err != nil {
		return 0, err
	}
	return result.LastInsertId()
}

// told is the share the saw told, nil when it was estimated.
func told(c *analyze.Cut) *float64 {
	if c.Estimated {
		return nil
	}
	return c.Done
}

// identity is the key of a reading in its table.
func identity(s *sawState, r *analyze.Reading) []any {
	return []any{s.id, micros(r.At), seq(r), r.ID}
}

const byIdentity = ` WHERE saw_id = $1 AND at = $2 AND seq = $3 AND msg = $4`

// known reports whether the identity of an event is stored.
func (w *writer) known(s *sawState, r *analyze.Reading) (bool, error) {
	query := `SELECT COUNT(*) FROM pass` + byIdentity
	if r.Blade != nil {
		query = `SELECT COUNT(*) FROM blade_event` + byIdentity
	}
	var n int64
	err := w.row(query, identity(s, r)...).Scan(&n)
	return n > 0, err
}

// same reports whether the stored reading of that identity says the same. A
// resend does; only when and how it was received differs.
func (w *writer) same(s *sawState, r *analyze.Reading) (bool, error) {
	old := analyze.Reading{}
	var more sql.NullString
	var err error
	switch key := identity(s, r); {
	case r.Cut != nil:
		old.Cut = &analyze.Cut{}
		err = w.row(`SELECT kind, extra, `+cutColumns+` FROM pass`+byIdentity, key...).
			Scan(append([]any{&old.Kind, &more}, cutFields(old.Cut)...)...)
	case r.Blade != nil:
		old.Kind, old.Blade = analyze.KindBlade, &analyze.BladeChange{}
		err = w.row(`SELECT action, serial, type, reason, extra FROM blade_event`+byIdentity, key...).
			Scan(&old.Blade.Action, &old.Blade.Serial, &old.Blade.Type, &old.Blade.Reason, &more)
	case r.State != nil:
		old.Kind, old.State = analyze.KindState, &analyze.StateChange{}
		err = w.row(`SELECT state, cause, extra FROM state_event`+byIdentity, key...).
			Scan(&old.State.State, &old.State.Cause, &more)
	default:
		old.Kind, old.Alive = analyze.KindAlive, &analyze.Alive{}
		err = w.row(`SELECT online, extra FROM alive_event`+byIdentity, key...).Scan(&old.Alive.Online, &more)
	}
	if errors.Is(err, sql.ErrNoRows) {
		return false, errors.New("the reading was neither stored nor found")
	}
	content := analyze.Reading{Kind: r.Kind, Cut: r.Cut, Blade: r.Blade, State: r.State, Alive: r.Alive}
	if r.Cut != nil {
		cut := *r.Cut
		cut.Done, cut.Estimated = told(r.Cut), false
		content.Cut = &cut
	}
	return more.String == string(r.Extra) && reflect.DeepEqual(old, content), err
}

// cutColumns and cutFields name the members of a Cut in the same order.
const cutColumns = `seconds, section, square, height, bars, mitre, from_axis, grade, band_speed, feed, pressure,
	deviation, trip_limit, serial, job, piece, purpose, from_share, done, place`

func cutFields(c *analyze.Cut) []any {
	return []any{
		&c.Seconds, &c.Section, &c.Square, &c.Height, &c.Count, &c.Mitre, &c.FromAxis, &c.Grade, &c.BandSpeed,
		&c.Feed, &c.Pressure, &c.Deviation, &c.Limit, &c.Serial, &c.Job, &c.Piece, &c.Purpose, &c.From, &c.Done, &c.Where,
	}
}
