package main

import (
	"errors"
	"fmt"
	"time"

	"github.com/spf13/cobra"

	"gullet/analyze/shift"
	"gullet/cmd/gullet/internal/standing"
	"gullet/config"
	"gullet/store"
)

// explainCommands record what a person says that a stop was for.
func (p *program) explainCommands() []*cobra.Command {
	return []*cobra.Command{p.explainCommand(), p.undoCommand()}
}

func (p *program) explainCommand() *cobra.Command {
	var (
		record    store.Explanation
		at, cause string
	)
	c := &cobra.Command{
		Use:   "explain",
		Short: "Say what a stop was for, with who, when and why",
		Long: "Gives the stop of a saw that holds the moment --at its cause. The saw's readings are never altered: an\n" +
			"explanation is a record of its own that outranks the cause the saw sent, and can itself be struck out\n" +
			"with undo. A cause is one that saws send or that the configuration names ([[cause]]).",
		Args: cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			if err := lacking(c, unset(c, "saw", "at", "cause", "who", "why")); err != nil {
				return err
			}
			cfg, err := p.config(c)
			if err != nil {
				return err
			}
			if err := readStop(&record, &cfg.Config, at, cause); err != nil {
				return err
			}
			id, err := p.explain(c, record)
			if err != nil {
				return err
			}
			_, err = fmt.Fprintf(p.out, "recorded as explanation %d: %s at %s, %s\n",
				id, record.Saw, record.At.In(cfg.Calendar().Zone).Format(time.RFC3339), record.Cause)
			return errors.Join(err, p.showStop(c, cfg, &record))
		},
	}
	c.Flags().StringVar(&record.Saw, "saw", "", "the `SAW`")
	c.Flags().StringVar(&at, "at", "", "a moment of the stop, a `TIME` in the shop's zone, as \"2026-03-02 14:05\", or with its offset")
	c.Flags().StringVar(&cause, "cause", "", "`CAUSE` of the stop")
	accountable(c, &record)
	return c
}

func (p *program) undoCommand() *cobra.Command {
	var record store.Explanation
	c := &cobra.Command{
		Use:   "undo",
		Short: "Strike out an explanation that is wrong",
		Args:  cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			if err := lacking(c, unset(c, "record", "who", "why")); err != nil {
				return err
			}
			if record.Void <= 0 {
				return usageError{fmt.Errorf("--record is \"%d\", allowed is the number of an explanation (gullet export explanations)", record.Void)}
			}
			id, err := p.explain(c, record)
			if err != nil {
				return err
			}
			_, err = fmt.Fprintf(p.out, "recorded as explanation %d: %d is struck out\n", id, record.Void)
			return err
		},
	}
	c.Flags().Int64Var(&record.Void, "record", 0, "`NUMBER` of the explanation (gullet export explanations)")
	accountable(c, &record)
	return c
}

// showStop tells which stop an explanation is of, or that it is of none.
func (p *program) showStop(c *cobra.Command, cfg *config.Loaded, record *store.Explanation) error {
	db, err := store.OpenReader(c.Context(), cfg.Store.Path)
	if err != nil {
		return err
	}
	stop, err := standing.StopAt(c.Context(), db, &cfg.Config, p.now(), record.Saw, record.At)
	if err := errors.Join(err, db.Close()); err != nil {
		return err
	}
	if stop == nil {
		_, err = fmt.Fprintln(p.out, "As far as is known the saw did not stand then: the record counts only should readings yet say that it did.")
		return err
	}
	told := "no cause"
	if stop.Told != "" {
		told = string(stop.Told)
	}
	until := "to " + stop.To.Format("15:04")
	switch {
	case stop.Open:
		until = "and still stands"
	case shift.DateOf(stop.To) != shift.DateOf(stop.From):
		until = "to " + stop.To.Format("Mon 2 Jan 15:04")
	}
	_, err = fmt.Fprintf(p.out, "It is the stop from %s %s, %.0f min of working time, for which the saw told %s.\n",
		stop.From.Format("Mon 2 Jan 15:04"), until, stop.Minutes, told)
	return err
}

// accountable adds the flags that both have.
func accountable(c *cobra.Command, record *store.Explanation) {
	c.Flags().StringVar(&record.Who, "who", "", "`NAME` of the person who says so")
	c.Flags().StringVar(&record.Why, "why", "", "why, in `WORDS`")
	overridable(c, flagDB)
}

// readStop reads which stop is meant and what it was for.
func readStop(record *store.Explanation, cfg *config.Config, at, cause string) (err error) {
	if record.At, err = cfg.Moment(at); err != nil {
		return usageError{fmt.Errorf("--at is %q, %w", at, err)}
	}
	known, err := cfg.Cause(cause)
	if err != nil {
		return usageError{fmt.Errorf("--cause is %q, %w", cause, err)}
	}
	record.Cause = string(known)
	return nil
}

// explain stores a record, beside a running daemon.
func (p *program) explain(c *cobra.Command, record store.Explanation) (int64, error) {
	_, db, err := p.writer(c)
	if err != nil {
		return 0, err
	}
	record.Recorded = p.now()
	id, err := db.Explain(c.Context(), record)
	return id, errors.Join(err, db.Close())
}
