package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"
)

// StockAction is what happened to blades on the shelf. That one was taken to a
// saw is not told here: the ledger tells it.
type StockAction string

// The actions.
const (
	StockReceived StockAction = "received" // so many came
	StockScrapped StockAction = "scrapped" // so many are gone and were on no saw
	StockCounted  StockAction = "counted"  // so many are there, whatever was thought
	StockVoid     StockAction = "void"     // an earlier record is wrong
)

// StockRecord is a person's record of the shelf.
type StockRecord struct {
	Action   StockAction
	Type     string // of blade; not of a void
	N        int    // blades; not of a void
	At       time.Time
	Void     int64 // the record a void strikes out
	Who      string
	Why      string
	Recorded time.Time // now
}

// mostBlades bounds a record: what is beyond is a slip.
const mostBlades = 100_000

func (r *StockRecord) check() error {
	least := 1
	switch r.Action {
	case StockVoid:
		if r.Void == 0 {
			return errors.New("the number of the record is missing")
		}
		return answerable(r.Who, r.Why)
	case StockCounted:
		least = 0
	case StockReceived, StockScrapped:
	default:
		return errors.New("it is none of received, scrapped, counted, void")
	}
	switch {
	case strings.TrimSpace(r.Type) == "":
		return errors.New("the type of the blades is missing")
	case r.N < least || r.N > mostBlades:
		return fmt.Errorf("%d blades, allowed is %d to %d", r.N, least, mostBlades)
	case r.At.IsZero():
		return errors.New("the time is missing")
	case r.At.After(r.Recorded):
		return fmt.Errorf("%s is in the future", r.At.Format(time.RFC3339))
	}
	if err := bounded(r.Type); err != nil {
		return err
	}
	return answerable(r.Who, r.Why)
}

// Stocktake records what happened to the shelf and returns the record's number.
func (s *Store) Stocktake(ctx context.Context, r StockRecord) (id int64, err error) {
	err = r.check()
	if err == nil {
		err = s.write(ctx, func(w *writer) error {
			if err := w.struck(&r); err != nil {
				return err
			}
			err := w.row(`INSERT INTO stock_event (action, type, n, at, void_record, who, why, recorded)
				VALUES ($1, $2, $3, $4, $5, $6, $7, $8) RETURNING id`,
				string(r.Action), r.Type, int64(r.N), micros(r.At), reference(r.Void), r.Who, r.Why, micros(r.Recorded)).Scan(&id)
			if err != nil {
				return err
			}
			return w.arrived(1)
		})
	}
	if err != nil {
		return 0, fmt.Errorf("stock %s: %w", r.Action, err)
	}
	return id, nil
}

const validStock = ` AND NOT EXISTS (SELECT 1 FROM stock_event v WHERE v.void_record = e.id)`

// struck fills in the type and time of what a void strikes out.
func (w *writer) struck(r *StockRecord) error {
	if r.Action != StockVoid {
		return nil
	}
	var at int64
	err := w.row(`SELECT e.type, e.at FROM stock_event e WHERE e.id = $1 AND e.action <> 'void'`+validStock, r.Void).Scan(&r.Type, &at)
	if errors.Is(err, sql.ErrNoRows) {
		return fmt.Errorf("there is no record %d that still counts", r.Void)
	}
	r.N, r.At = 0, fromMicros(at)
	return err
}

// StockRow is the shelf of one type of blade.
type StockRow struct {
	Type string
	// OnHand is nil where blades were only ever scrapped. It is below 0 where more
	// were fitted than anybody recorded: the shelf wants counting.
	OnHand   *int
	Counted  time.Time // the last count, zero when there was none
	Received int       // since then, or since the first receipt
	Scrapped int
	Fitted   int // blades that had never been on a saw
	since    int64
}

// Stock lists the shelf by type: what was counted last, and received, scrapped and
// fitted since. Blades of a type nobody counted or received are not in it. Name
// gives a type its one name, as records and saws may write it in several ways;
// nil leaves them as they are.
func (s *Store) Stock(ctx context.Context, name func(string) string) ([]StockRow, error) {
	if name == nil {
		name = func(kind string) string { return kind }
	}
	shelf := map[string]*StockRow{}
	if err := s.shelve(ctx, name, shelf); err != nil {
		return nil, fmt.Errorf("list stock: %w", err)
	}
	if err := s.unshelve(ctx, name, shelf); err != nil {
		return nil, fmt.Errorf("blades taken from stock: %w", err)
	}
	var list []StockRow
	for _, row := range shelf {
		if row.OnHand != nil {
			*row.OnHand += row.Received - row.Scrapped - row.Fitted
		}
		list = append(list, *row)
	}
	slices.SortFunc(list, func(a, b StockRow) int { return strings.Compare(a.Type, b.Type) })
	return list, nil
}

// shelve adds up the records. A count begins anew.
func (s *Store) shelve(ctx context.Context, name func(string) string, shelf map[string]*StockRow) error {
	return s.query(ctx, func(r scanner) error {
		var action, kind string
		var n int
		var at int64
		if err := r.Scan(&action, &kind, &n, &at); err != nil {
			return err
		}
		row, ok := shelf[name(kind)]
		if !ok {
			row = &StockRow{Type: name(kind)}
			shelf[row.Type] = row
		}
		switch StockAction(action) {
		case StockCounted:
			*row = StockRow{Type: row.Type, OnHand: &n, Counted: fromMicros(at), since: at}
		case StockReceived:
			if row.OnHand == nil {
				row.OnHand, row.since = new(int), at
			}
			row.Received += n
		case StockScrapped:
			row.Scrapped += n
		}
		return nil
	}, `SELECT e.action, e.type, e.n, e.at FROM stock_event e WHERE e.action <> 'void'`+validStock+` ORDER BY e.at, e.id`)
}

// unshelve takes off the blades fitted since that had never hung before. The type
// of a blade is what its fitting says, else what another fitting of it does.
func (s *Store) unshelve(ctx context.Context, name func(string) string, shelf map[string]*StockRow) error {
	return s.query(ctx, func(r scanner) error {
		var kind string
		var at int64
		if err := r.Scan(&kind, &at); err != nil {
			return err
		}
		if row, ok := shelf[name(kind)]; ok && row.OnHand != nil && at > row.since {
			row.Fitted++
		}
		return nil
	}, `SELECT COALESCE(NULLIF(f.type, ''), (SELECT t.type FROM fitting t WHERE t.serial = f.serial AND t.type <> ''
			ORDER BY t.start_at DESC LIMIT 1), ''), f.start_at
		FROM fitting f WHERE f.serial <> '' AND f.start_at >= (SELECT MIN(at) FROM stock_event)
		AND NOT EXISTS (SELECT 1 FROM fitting e WHERE e.serial = f.serial
			AND (e.start_at < f.start_at OR e.start_at = f.start_at AND e.id < f.id))`)
}
