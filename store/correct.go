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

// CorrectionAction is what a person puts right.
type CorrectionAction string

// The corrections.
const (
	CorrectFit    CorrectionAction = "fit"    // a blade was fitted and nobody sent it
	CorrectRemove CorrectionAction = "remove" // a blade was taken off and nobody sent it
	CorrectName   CorrectionAction = "name"   // the blade that was on at that time was another, or had no name
	CorrectSame   CorrectionAction = "same"   // a blade change is suspected and there was none; the ledger stays
	CorrectVoid   CorrectionAction = "void"   // a blade message or an earlier correction is wrong
)

// Correction is a person's record of what happened to a blade. It outranks the
// messages; the readings stay as they came.
type Correction struct {
	Saw    string // not of a void
	Action CorrectionAction
	At     time.Time // when it happened; not of a void
	Serial string    // needed for fit and name; not of same
	Type   string
	Reason analyze.EndReason // of a removal

	VoidEvent  int64 // the blade message a void strikes out, by its number in the export of blades
	VoidRecord int64 // or the earlier correction

	Who      string
	Why      string
	Recorded time.Time // now
}

// maxText bounds what a person types.
const maxText = 1000

func (c *Correction) check() error {
	switch c.Action {
	case CorrectFit, CorrectName:
		if c.Serial == "" {
			return fmt.Errorf("correction %s: the serial of the blade is missing", c.Action)
		}
	case CorrectRemove:
		if c.Reason != "" && !slices.Contains(analyze.EndReasons(), c.Reason) {
			return fmt.Errorf("correction remove: reason %q is none of %v", c.Reason, analyze.EndReasons())
		}
	case CorrectSame:
		if c.Serial != "" || c.Type != "" {
			return errors.New("correction same: no blade was changed, so it names none")
		}
	case CorrectVoid:
		if (c.VoidEvent == 0) == (c.VoidRecord == 0) {
			return errors.New("correction void: give the number of one blade message or of one correction")
		}
	default:
		return fmt.Errorf("correction %q is none of fit, remove, name, same, void", c.Action)
	}
	if c.Action != CorrectVoid && c.At.IsZero() {
		return fmt.Errorf("correction %s: the time is missing", c.Action)
	}
	if c.At.After(c.Recorded) {
		return fmt.Errorf("correction %s: %s is in the future", c.Action, c.At.Format(time.RFC3339))
	}
	if strings.TrimSpace(c.Who) == "" || strings.TrimSpace(c.Why) == "" {
		return fmt.Errorf("correction %s: who corrects and why are needed", c.Action)
	}
	for _, text := range []string{c.Serial, c.Type, c.Who, c.Why} {
		if len(text) > maxText {
			return fmt.Errorf("correction %s: a text of %d bytes, at most %d are allowed", c.Action, len(text), maxText)
		}
	}
	return nil
}

// Correct records a correction, applies it to the ledger and returns its
// number. It refuses one that says nothing new about a known saw.
func (s *Store) Correct(ctx context.Context, c Correction) (id int64, err error) {
	if err := c.check(); err != nil {
		return 0, err
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.w == nil {
		return 0, ErrReadOnly
	}
	err = s.w.transaction(ctx, func() error {
		b := s.w.batch()
		if err := b.target(&c); err != nil {
			return err
		}
		saw, err := s.w.knownSaw(c.Saw)
		if err != nil {
			return err
		}
		if err := s.w.plausible(saw, &c); err != nil {
			return err
		}
		err = s.w.row(`INSERT INTO correction (saw_id, action, at, serial, type, reason, void_event, void_record, who, why, recorded)
			VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11) RETURNING id`,
			saw.id, string(c.Action), micros(c.At), c.Serial, c.Type, string(c.Reason), reference(c.VoidEvent), reference(c.VoidRecord),
			c.Who, c.Why, micros(c.Recorded)).Scan(&id)
		if err != nil {
			return err
		}
		if c.Action != CorrectSame {
			b.of(saw).ledger = micros(c.At)
		}
		if c.Serial != "" && c.Action != CorrectRemove {
			b.fits = append(b.fits, fit{saw: saw.id, at: micros(c.At), serial: c.Serial})
		}
		b.n++
		return b.finish()
	})
	if err != nil {
		what := "correction " + string(c.Action)
		if c.Saw != "" {
			what += " on saw " + c.Saw
		}
		return 0, fmt.Errorf("%s: %w", what, err)
	}
	return id, nil
}

func reference(id int64) any {
	if id == 0 {
		return nil
	}
	return id
}

// target fills in the saw, time and serial of what a void strikes out.
func (b *batch) target(c *Correction) error {
	if c.Action != CorrectVoid {
		return nil
	}
	query, id, what := `SELECT saw.name, e.at, e.serial FROM blade_event e JOIN saw ON saw.id = e.saw_id WHERE e.id = $1`+validEvent, c.VoidEvent, "blade message"
	if c.VoidRecord != 0 {
		query, id, what = `SELECT saw.name, e.at, e.serial FROM correction e JOIN saw ON saw.id = e.saw_id
			WHERE e.id = $1 AND e.action <> 'void'`+validRecord, c.VoidRecord, "correction"
	}
	var at int64
	err := b.w.row(query, id).Scan(&c.Saw, &at, &c.Serial)
	if errors.Is(err, sql.ErrNoRows) {
		return fmt.Errorf("there is no %s %d that still counts", what, id)
	}
	c.At = fromMicros(at)
	return err
}

func (w *writer) knownSaw(name string) (*sawState, error) {
	var n int64
	if err := w.row(`SELECT COUNT(*) FROM saw WHERE name = $1`, name).Scan(&n); err != nil {
		return nil, err
	}
	if n == 0 {
		return nil, errors.New("no reading of that saw is stored")
	}
	return w.saw(name)
}

// plausible refuses a correction that has nothing to correct.
func (w *writer) plausible(s *sawState, c *Correction) error {
	if c.Action == CorrectSame {
		return w.undismissed(s, c)
	}
	if c.Action != CorrectName && c.Action != CorrectRemove {
		return nil
	}
	f, err := w.fittingAt(s, micros(c.At))
	if err != nil {
		return err
	}
	hung := int64(1)
	if c.Action == CorrectRemove && c.Serial != "" {
		err := w.row(`SELECT COUNT(*) FROM fitting WHERE serial = $1 AND saw_id = $2 AND start_at < $3`,
			c.Serial, s.id, micros(c.At)).Scan(&hung)
		if err != nil {
			return err
		}
	}
	switch {
	case hung == 0: // a slip in the serial would end another blade's life
		return fmt.Errorf("blade %s was never on it before %s", c.Serial, c.At.Format(time.RFC3339))
	case f == nil && c.Action == CorrectName:
		return fmt.Errorf("no blade was on and no cut was made at %s", c.At.Format(time.RFC3339))
	case f == nil && c.Serial == "":
		return fmt.Errorf("no blade was on at %s: give the serial of the one whose end you mean", c.At.Format(time.RFC3339))
	case f != nil && c.Action == CorrectName && f.Serial == c.Serial:
		return fmt.Errorf("the blade on at %s is %s already", c.At.Format(time.RFC3339), c.Serial)
	}
	return nil
}

// undismissed refuses to dismiss again what is dismissed.
func (w *writer) undismissed(s *sawState, c *Correction) error {
	var id int64
	err := w.row(`SELECT e.id FROM correction e WHERE e.saw_id = $1 AND e.at = $2 AND e.action = 'same'`+validRecord+` LIMIT 1`,
		s.id, micros(c.At)).Scan(&id)
	if errors.Is(err, sql.ErrNoRows) {
		return nil
	}
	if err != nil {
		return err
	}
	return fmt.Errorf("correction %d says so of %s already", id, c.At.Format(time.RFC3339))
}

// Dismissed lists by saw, in order, the times at which a person says that no
// blade was changed. Corrections struck out since are left out.
func (s *Store) Dismissed(ctx context.Context) (map[string][]time.Time, error) {
	dismissed := map[string][]time.Time{}
	err := s.query(ctx, func(r scanner) error {
		var saw string
		var at int64
		err := r.Scan(&saw, &at)
		dismissed[saw] = append(dismissed[saw], fromMicros(at))
		return err
	}, `SELECT saw.name, e.at FROM correction e JOIN saw ON saw.id = e.saw_id WHERE e.action = 'same'`+validRecord+` ORDER BY e.at`)
	if err != nil {
		return nil, fmt.Errorf("list dismissed blade changes: %w", err)
	}
	return dismissed, nil
}
