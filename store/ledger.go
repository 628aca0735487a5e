package store

import (
	"database/sql"
	"errors"
	"fmt"
	"time"

	"gullet/analyze"
)

// fittingState is a fitting as it is stored.
type fittingState struct {
	analyze.LedgerFitting
	start, end int64 // end is forever while the blade is on
	lastPass   int64 // never when it has none
}

func (f *fittingState) covers(at int64) bool { return f.start < at && at <= f.end }

// fit is a blade said to be fitted on a saw.
type fit struct {
	saw, at int64
	serial  string
}

// spreadFits marks the ledgers of other saws on which a blade hung that is now
// said to be fitted here, or was taken as gone for that reason.
func (b *batch) spreadFits() error {
	for _, f := range b.fits {
		var names []string
		err := b.w.each(func(r scanner) error {
			var name string
			err := r.Scan(&name)
			names = append(names, name)
			return err
		}, `SELECT saw.name FROM fitting JOIN saw ON saw.id = fitting.saw_id WHERE fitting.serial = $1
			AND fitting.start_at < $2 AND (fitting.end_at IS NULL OR fitting.end_at >= $2) AND saw.id <> $3`,
			f.serial, f.at, f.saw)
		if err != nil {
			return err
		}
		for _, name := range names {
			other, err := b.w.saw(name)
			if err != nil {
				return err
			}
			sb := b.of(other)
			sb.ledger = min(sb.ledger, f.at)
		}
	}
	return nil
}

// settle brings the fittings and their totals up to date. In the usual case
// every pass falls to the fitting that is on and only its totals grow;
// otherwise the ledger is derived again from the first time that is in doubt.
func (w *writer) settle(s *sawState, sb *sawBatch, changed []change) error {
	for i := range sb.passes {
		p := &sb.passes[i]
		if p.at > sb.ledger {
			continue
		}
		f, err := w.fittingAt(s, p.at)
		if err != nil {
			return err
		}
		if f == nil || !f.Settled(fromMicros(p.at), p.cut.Serial) {
			sb.ledger = p.at
		}
	}
	var summed map[int64]bool
	if sb.ledger != forever {
		var err error
		if summed, err = w.derive(s, sb.ledger); err != nil {
			return err
		}
	}
	t := tally{}
	for i := range sb.passes {
		p := &sb.passes[i]
		f, err := w.fittingAt(s, p.at)
		if err != nil {
			return err
		}
		if f == nil {
			return fmt.Errorf("no fitting covers the pass at %s", fromMicros(p.at))
		}
		if !summed[f.ID] {
			t.add(f, p)
		}
	}
	for _, c := range changed {
		f, err := w.fittingAt(s, c.at)
		if err != nil {
			return err
		}
		if !summed[f.ID] {
			t.change(f, c)
		}
	}
	return w.writeTally(t)
}

const fittingColumns = `id, start_at, end_at, serial, type, reason, basis, note, stale, firm_at, last_pass`

func (s *sawState) scanFitting(r scanner) (*fittingState, error) {
	f := &fittingState{end: forever, lastPass: never}
	var end, firm, last sql.NullInt64
	err := r.Scan(&f.ID, &f.start, &end, &f.Serial, &f.Type, &f.Reason, &f.Basis, &f.Note, &f.Stale, &firm, &last)
	if err != nil {
		return nil, err
	}
	f.Saw, f.Start = s.name, fromMicros(f.start)
	if end.Valid {
		f.end, f.End = end.Int64, fromMicros(end.Int64)
	}
	if firm.Valid {
		f.Firm = fromMicros(firm.Int64)
	}
	if last.Valid {
		f.lastPass = last.Int64
	}
	return f, nil
}

// fittingAt is the fitting that a pass at that time belongs to, nil when none.
// It remembers the one it found last, which most passes belong to.
func (w *writer) fittingAt(s *sawState, at int64) (*fittingState, error) {
	if s.fitting != nil && s.fitting.covers(at) {
		return s.fitting, nil
	}
	f, err := s.scanFitting(w.row(`SELECT `+fittingColumns+` FROM fitting
		WHERE saw_id = $1 AND start_at < $2 ORDER BY start_at DESC LIMIT 1`, s.id, at))
	if errors.Is(err, sql.ErrNoRows) || err == nil && !f.covers(at) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	s.fitting = f
	return f, nil
}

// derive makes the fittings of a saw again as far as an event at that time can
// reach, writes what differs and returns the fittings whose totals it summed
// anew from the passes.
func (w *writer) derive(s *sawState, from int64) (map[int64]bool, error) {
	s.fitting = nil
	seed, err := w.seed(s, from)
	if err != nil {
		return nil, fmt.Errorf("where to begin: %w", err)
	}
	events, remarks, err := w.ledgerEvents(s, bound(seed.From))
	if err != nil {
		return nil, fmt.Errorf("read events: %w", err)
	}
	fittings, said, err := analyze.Ledger(seed, events, analyze.LedgerSource{
		Next: func(after, until time.Time, except ...string) (analyze.LedgerPass, bool, error) {
			return w.nextPass(s, after, until, except)
		},
		Away: func(serial string, after time.Time) (analyze.LedgerEvent, bool, error) {
			return w.fittedElsewhere(s, serial, after)
		},
	})
	if err != nil {
		return nil, err
	}
	if err := w.writeRemarks(remarks, said); err != nil {
		return nil, fmt.Errorf("write remarks: %w", err)
	}
	return w.replaceFittings(s, bound(seed.From), fittings)
}

// seed goes back far enough from a time: to the fitting an event then can
// change, and to the one with a serial before it, whose end it may explain.
func (w *writer) seed(s *sawState, from int64) (analyze.LedgerSeed, error) {
	const before = `SELECT ` + fittingColumns + ` FROM fitting WHERE saw_id = $1 AND start_at < $2`
	at := from
	var f *fittingState
	for _, named := range []string{``, ` AND serial <> ''`} {
		var err error
		f, err = s.scanFitting(w.row(before+named+` ORDER BY start_at DESC LIMIT 1`, s.id, at))
		if errors.Is(err, sql.ErrNoRows) {
			return analyze.LedgerSeed{}, nil
		}
		if err != nil {
			return analyze.LedgerSeed{}, err
		}
		at = f.start
	}
	seed := analyze.LedgerSeed{From: f.Start, Stale: f.Stale}
	last, err := s.scanFitting(w.row(before+` AND serial <> '' ORDER BY start_at DESC LIMIT 1`, s.id, at))
	switch {
	case errors.Is(err, sql.ErrNoRows):
		return seed, nil
	case err == nil:
		seed.Last = &last.LedgerFitting
	}
	return seed, err
}

// nextPass is what the ledger asks of the passes.
func (w *writer) nextPass(s *sawState, after, until time.Time, except []string) (p analyze.LedgerPass, ok bool, err error) {
	end := int64(forever)
	if !until.IsZero() {
		end = micros(until)
	}
	query := `SELECT at, serial FROM pass WHERE saw_id = $1 AND at > $2 AND at <= $3`
	args := []any{s.id, bound(after), end}
	for i, serial := range except {
		query += fmt.Sprintf(` AND serial <> $%d`, i+4)
		args = append(args, serial)
	}
	var at int64
	err = w.row(query+` ORDER BY at, serial LIMIT 1`, args...).Scan(&at, &p.Serial)
	if errors.Is(err, sql.ErrNoRows) {
		return p, false, nil
	}
	p.At = fromMicros(at)
	return p, err == nil, err
}

// Messages and corrections that a person has struck out do not count.
const (
	validEvent  = ` AND NOT EXISTS (SELECT 1 FROM correction v WHERE v.void_event = e.id)`
	validRecord = ` AND NOT EXISTS (SELECT 1 FROM correction v WHERE v.void_record = e.id)`
)

// fittedElsewhere is the first fit of a serial on another saw after a time.
func (w *writer) fittedElsewhere(s *sawState, serial string, after time.Time) (analyze.LedgerEvent, bool, error) {
	e := analyze.LedgerEvent{Action: analyze.LedgerAway, Serial: serial}
	var at int64
	err := w.row(`SELECT f.at, saw.name FROM (
		SELECT e.saw_id, e.at FROM blade_event e WHERE e.serial = $1 AND e.at > $2 AND e.saw_id <> $3 AND e.action = 'fit'`+validEvent+`
		UNION ALL
		SELECT e.saw_id, e.at FROM correction e WHERE e.serial = $1 AND e.at > $2 AND e.saw_id <> $3 AND e.action = 'fit'`+validRecord+`
		) f JOIN saw ON saw.id = f.saw_id ORDER BY f.at, saw.name LIMIT 1`, serial, micros(after), s.id).Scan(&at, &e.Saw)
	if errors.Is(err, sql.ErrNoRows) {
		return e, false, nil
	}
	e.At = fromMicros(at)
	return e, err == nil, err
}

// remarkKey tells messages from corrections; both are numbered from 1.
type remarkKey struct {
	corrected bool
	id        int64
}

// ledgerEvents are the events of a saw from a time on, in the order the ledger
// takes them, with the remarks stored beside them.
func (w *writer) ledgerEvents(s *sawState, from int64) ([]analyze.LedgerEvent, map[remarkKey]string, error) {
	var events []analyze.LedgerEvent
	remarks := map[remarkKey]string{}
	read := func(corrected bool) func(scanner) error {
		return func(r scanner) error {
			e := analyze.LedgerEvent{Corrected: corrected}
			var at int64
			var action, remark string
			if err := r.Scan(&e.Ref, &at, &action, &e.Serial, &e.Type, &e.Reason, &e.Order, &remark); err != nil {
				return err
			}
			e.At, e.Action = fromMicros(at), ledgerActions[action]
			events = append(events, e)
			remarks[remarkKey{corrected, e.Ref}] = remark
			return nil
		}
	}
	err := w.each(read(false), `SELECT e.id, e.at, e.action, e.serial, e.type, e.reason, e.seq || ' ' || e.msg, e.remark
		FROM blade_event e WHERE e.saw_id = $1 AND e.at >= $2`+validEvent, s.id, from)
	if err != nil {
		return nil, nil, err
	}
	err = w.each(read(true), `SELECT e.id, e.at, e.action, e.serial, e.type, e.reason, e.recorded || ' ' || e.id, e.remark
		FROM correction e WHERE e.saw_id = $1 AND e.at >= $2 AND e.action IN ('fit', 'remove', 'name')`+validRecord, s.id, from)
	if err != nil {
		return nil, nil, err
	}
	err = w.each(func(r scanner) error {
		e := analyze.LedgerEvent{Action: analyze.LedgerBreak}
		var at int64
		var place analyze.Place
		err := r.Scan(&at, &e.Serial, &place, &e.Order)
		e.At, e.Reason = fromMicros(at), breakReasons[place]
		events = append(events, e)
		return err
	}, `SELECT at, serial, place, seq || ' ' || msg FROM pass WHERE saw_id = $1 AND at >= $2 AND kind = 'break'`, s.id, from)
	analyze.SortLedgerEvents(events)
	return events, remarks, err
}

var ledgerActions = map[string]analyze.LedgerAction{
	"name": analyze.LedgerName, "remove": analyze.LedgerRemove, "fit": analyze.LedgerFit,
}

var breakReasons = map[analyze.Place]analyze.EndReason{
	analyze.PlaceWeld: analyze.ReasonBrokeWeld, analyze.PlaceBody: analyze.ReasonBrokeBody,
}

func (w *writer) writeRemarks(old map[remarkKey]string, said []analyze.LedgerRemark) error {
	now := map[remarkKey]string{}
	for _, r := range said {
		now[remarkKey{r.Event.Corrected, r.Event.Ref}] = r.Text
	}
	for key, text := range old {
		if now[key] == text {
			continue
		}
		table := "blade_event"
		if key.corrected {
			table = "correction"
		}
		if err := w.exec(`UPDATE `+table+` SET remark = $1 WHERE id = $2`, now[key], key.id); err != nil {
			return err
		}
	}
	return nil
}
