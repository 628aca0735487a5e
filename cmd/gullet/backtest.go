package main

import (
	"fmt"
	"time"

	"github.com/spf13/cobra"

	"gullet/analyze"
	"gullet/cmd/gullet/internal/backtest"
	"gullet/cmd/gullet/internal/figures"
	"gullet/cmd/gullet/internal/planning"
	"gullet/store"
)

func (p *program) backtestCommand() *cobra.Command {
	var (
		from   string
		asJSON bool
	)
	c := &cobra.Command{
		Use:   "backtest",
		Short: "What each way of changing blades would have cost, replayed over the history",
		Long: "Replays the stored history forward in time: for each blade, when would the plan, a fixed interval, running to\n" +
			"the end and the shop's own habit have changed it by what was known then, and what would have come of it;\n" +
			"and how the windows held that were foretold. At the end of each shift the plan sees the deviation of the\n" +
			"blade up to then, beside the lives known when it was hung; the plan by lives goes without, so that the two\n" +
			"say what following the deviation is worth. It reads the database beside a running daemon.\n\n" + caution,
		Args: cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			day, err := readDay("--from", from)
			if err != nil {
				return usageError{err}
			}
			cfg, db, err := p.reader(c)
			if err != nil {
				return err
			}
			defer func() { _ = db.Close() }()
			style, err := shopStyle(&cfg.Config)
			if err != nil {
				return err
			}
			in := &backtest.Input{Now: p.now(), Config: &cfg.Config, Costs: planning.CostsOf(&cfg.Plan), Most: backtest.MostFollowed}
			if from != "" {
				in.From = time.Date(day.Year(), day.Month(), day.Day(), 0, 0, 0, 0, style.Zone)
			}
			if in.Fittings, err = db.Fittings(c.Context(), time.Time{}); err != nil {
				return err
			}
			in.Totals = func(saw string, from, until time.Time) ([]analyze.GradeTotal, error) {
				return db.Totals(c.Context(), saw, from, until)
			}
			in.Passes = func(saw string, from, until time.Time, each func(store.HistoryRow) error) error {
				return db.History(c.Context(), saw, from, until, each)
			}
			return p.writeBacktest(in, style, asJSON)
		},
	}
	c.Flags().StringVar(&from, "from", "", "first `DATE` on which a blade that is judged was hung, YYYY-MM-DD; those before are learned from (default all)")
	c.Flags().BoolVar(&asJSON, "json", false, "one JSON object")
	overridable(c, flagDB)
	return c
}

// writeBacktest replays the history for people or programs.
func (p *program) writeBacktest(in *backtest.Input, style figures.Style, asJSON bool) error {
	report, err := backtest.Build(in)
	if err != nil {
		return err
	}
	if asJSON {
		return p.writeJSON(report)
	}
	if err := report.Write(p.out, style); err != nil {
		return err
	}
	_, err = fmt.Fprintf(p.out, "\n%s\n", caution)
	return err
}

// readDay reads a day; the zero time is none given.
func readDay(name, text string) (time.Time, error) {
	if text == "" {
		return time.Time{}, nil
	}
	day, err := time.Parse(time.DateOnly, text)
	if err != nil {
		return time.Time{}, fmt.Errorf("%s is %q, allowed is a day as 2026-01-05", name, text)
	}
	return day, nil
}
