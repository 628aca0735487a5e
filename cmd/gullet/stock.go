package main

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"text/tabwriter"
	"time"

	"github.com/spf13/cobra"

	"gullet/config"
	"gullet/store"
)

func (p *program) stockCommand() *cobra.Command {
	var asJSON bool
	c := &cobra.Command{
		Use:   "stock",
		Short: "Blades on the shelf, by type",
		Long: "Tells how many blades of each type are on the shelf: the last count, what was received and scrapped\n" +
			"since, less the blades that were fitted since and had never been on a saw before. A blade whose fitting\n" +
			"names no serial or no type cannot be told from others and is not taken off.",
		Args: cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			cfg, db, err := p.reader(c)
			if err != nil {
				return err
			}
			shelf, err := shelf(c.Context(), db, &cfg.Config)
			if err := errors.Join(err, db.Close()); err != nil {
				return err
			}
			if asJSON {
				return p.writeJSON(shelf)
			}
			style, err := shopStyle(&cfg.Config)
			if err != nil {
				return err
			}
			return p.writeShelf(shelf, style.Zone)
		},
	}
	c.Flags().BoolVar(&asJSON, "json", false, "one JSON array")
	overridable(c, flagDB)
	c.AddCommand(
		p.stocktake(store.StockReceived, "Blades came", "type", "count", "at"),
		p.stocktake(store.StockScrapped, "Blades are gone and were on no saw", "type", "count", "at"),
		p.stocktake(store.StockCounted, "So many blades are there, whatever was thought", "type", "count", "at"),
		p.stocktake(store.StockVoid, "An earlier record of the shelf is wrong", "record"),
	)
	return c
}

// stocktake is one subcommand with the flags it takes.
func (p *program) stocktake(action store.StockAction, short string, flags ...string) *cobra.Command {
	var (
		record = store.StockRecord{Action: action}
		at     string
	)
	c := &cobra.Command{
		Use:   string(action),
		Short: short,
		Args:  cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) (err error) {
			if err := lacking(c, unset(c, "type", "count", "record", "who", "why")); err != nil {
				return err
			}
			record.Recorded = p.now()
			record.At = record.Recorded
			if at != "" {
				if record.At, err = readAt(at); err != nil {
					return err
				}
			}
			cfg, db, err := p.writer(c)
			if err != nil {
				return err
			}
			id, err := take(c.Context(), db, &cfg.Config, record)
			if err := errors.Join(err, db.Close()); err != nil {
				return err
			}
			_, err = fmt.Fprintf(p.out, "recorded as stock record %d\n", id)
			return err
		},
	}
	for _, name := range flags {
		switch name {
		case "type":
			c.Flags().StringVar(&record.Type, name, "", "blade `TYPE`")
		case "count":
			c.Flags().IntVar(&record.N, name, 0, "`NUMBER` of blades")
		case "at":
			c.Flags().StringVar(&at, name, "", "when, a `TIME` with its offset (default now)")
		case "record":
			c.Flags().Int64Var(&record.Void, name, 0, "`NUMBER` of the earlier record (gullet export stock)")
		}
	}
	c.Flags().StringVar(&record.Who, "who", "", "`NAME` of the person who says so")
	c.Flags().StringVar(&record.Why, "why", "", "why, in `WORDS`")
	overridable(c, flagDB)
	return c
}

// take stores a record of a type of blade that the shop has.
func take(ctx context.Context, db *store.Store, cfg *config.Config, r store.StockRecord) (int64, error) {
	if r.Action != store.StockVoid {
		r.Type = cfg.TypeName(strings.TrimSpace(r.Type))
		if err := knownType(ctx, db, cfg, r.Type); err != nil {
			return 0, err
		}
	}
	return db.Stocktake(ctx, r)
}

// knownType refuses a type that is neither configured nor was ever on a saw: a
// slip in its name would be a shelf of its own. A shop that configures none may
// name them as it likes.
func knownType(ctx context.Context, db *store.Store, cfg *config.Config, name string) error {
	if _, ok := cfg.BladeTypeOf(name); ok || len(cfg.BladeTypes) == 0 {
		return nil
	}
	fittings, err := db.Fittings(ctx, time.Time{})
	if err != nil {
		return err
	}
	if slices.ContainsFunc(fittings, func(f store.FittingRow) bool { return f.Type == name }) {
		return nil
	}
	var names []string
	for i := range cfg.BladeTypes {
		names = append(names, cfg.BladeTypes[i].Name)
	}
	return usageError{fmt.Errorf("--type is %q, allowed is a type that was on a saw or is configured: %s", name, strings.Join(names, ", "))}
}

// shelfAnswer is the shelf of a type as programs are told it.
type shelfAnswer struct {
	Type     string     `json:"type"`
	OnHand   *int       `json:"on_hand"` // null is unknown
	Counted  *time.Time `json:"counted_at"`
	Received int        `json:"received"` // since, as are the next two
	Scrapped int        `json:"scrapped"`
	Fitted   int        `json:"fitted"`
}

// shelf is what is on hand of each type that is configured or recorded.
func shelf(ctx context.Context, db *store.Store, cfg *config.Config) ([]shelfAnswer, error) {
	rows, err := db.Stock(ctx, cfg.TypeName)
	if err != nil {
		return nil, err
	}
	for i := range cfg.BladeTypes {
		name := cfg.BladeTypes[i].Name
		if !slices.ContainsFunc(rows, func(r store.StockRow) bool { return r.Type == name }) {
			rows = append(rows, store.StockRow{Type: name})
		}
	}
	slices.SortFunc(rows, func(a, b store.StockRow) int { return strings.Compare(a.Type, b.Type) })
	answers := make([]shelfAnswer, len(rows))
	for i := range rows {
		r := &rows[i]
		answers[i] = shelfAnswer{Type: r.Type, OnHand: r.OnHand, Received: r.Received, Scrapped: r.Scrapped, Fitted: r.Fitted}
		if !r.Counted.IsZero() {
			answers[i].Counted = &r.Counted
		}
	}
	return answers, nil
}

func (p *program) writeShelf(shelf []shelfAnswer, zone *time.Location) error {
	if len(shelf) == 0 {
		_, err := fmt.Fprintln(p.out, "no type of blade is configured or was ever counted: gullet stock counted")
		return err
	}
	t := tabwriter.NewWriter(p.out, 0, 0, 2, ' ', 0)
	_, _ = fmt.Fprintln(t, "TYPE\tON HAND\tLAST COUNT\tRECEIVED\tSCRAPPED\tFITTED")
	for i := range shelf {
		r := &shelf[i]
		hand, counted := "unknown: count it", "never"
		if r.OnHand != nil {
			hand = fmt.Sprint(*r.OnHand)
			if *r.OnHand < 0 {
				hand += ": more went than were there, count it"
			}
		}
		if r.Counted != nil {
			counted = r.Counted.In(zone).Format("2006-01-02 15:04")
		}
		_, _ = fmt.Fprintf(t, "%s\t%s\t%s\t%d\t%d\t%d\n", r.Type, hand, counted, r.Received, r.Scrapped, r.Fitted)
	}
	return t.Flush()
}
