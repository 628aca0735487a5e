package main

import (
	"context"
	"fmt"

	"github.com/spf13/cobra"

	"gullet/cmd/gullet/internal/planning"
	"gullet/cmd/gullet/internal/score"
	"gullet/config"
	"gullet/store"
)

func (p *program) planCommand() *cobra.Command {
	var (
		days   int
		asJSON bool
	)
	c := &cobra.Command{
		Use:   "plan",
		Short: "Which blade to change when",
		Long: "Says for each saw how long its blade is likely to last along the coming work, before which job or at the end of\n" +
			"which shift to change it, what drives that and what it costs to wait, and how many blades must be on hand.\n" +
			"It reads the database beside a running daemon and keeps its forecasts there, for gullet score.\n\n" + caution,
		Args: cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			if days < 1 || days > 60 {
				return usageError{fmt.Errorf("--days is %d, allowed is 1 to 60", days)}
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
			in, err := planning.Gather(c.Context(), db, &cfg.Config, p.now(), days)
			if err != nil {
				return err
			}
			answer := planAnswer{Report: planning.Build(in)}
			answer.past(c.Context(), db, in)
			if err := p.keep(c.Context(), cfg, answer.Report); err != nil {
				answer.Doubts = append(answer.Doubts, "the forecasts of this plan could not be kept, to be held against what comes (gullet score): "+err.Error())
			}
			if asJSON {
				return p.writeJSON(answer)
			}
			if err := answer.Write(p.out, style); err != nil {
				return err
			}
			_, err = fmt.Fprintf(p.out, "\n%s\n\n%s\n", answer.lastMonth(), caution)
			return err
		},
	}
	c.Flags().IntVar(&days, "days", 7, "`DAYS` to plan for")
	c.Flags().BoolVar(&asJSON, "json", false, "one JSON object")
	overridable(c, flagDB)
	return c
}

// planAnswer is the plan with how the forecasts of the last month did.
type planAnswer struct {
	*planning.Report
	Month    *score.Month `json:"last_month"`
	WhyMonth string       `json:"last_month_why,omitempty"`
}

// past looks at the last month, without the plan's own forecasts. What keeps it from
// that is told in place of it: the plan is shown all the same.
func (a *planAnswer) past(ctx context.Context, db *store.Store, in *planning.Input) {
	data, err := score.Gather(ctx, db, in.Config, in.Data.Lives, in.Now, score.MonthDays)
	if err == nil {
		a.Month, a.WhyMonth, err = score.LastMonth(data)
	}
	if err != nil {
		a.WhyMonth = err.Error()
	}
}

// lastMonth is the last month in words.
func (a *planAnswer) lastMonth() string {
	if a.Month == nil {
		return fmt.Sprintf("Last %d days: unknown, %s.", score.MonthDays, a.WhyMonth)
	}
	return a.Month.String()
}

// keep stores the forecasts of a plan, beside a running daemon.
func (p *program) keep(ctx context.Context, cfg *config.Loaded, report *planning.Report) error {
	db, err := store.OpenWriter(ctx, storeOptions(cfg))
	if err != nil {
		return err
	}
	defer func() { _ = db.Close() }()
	return report.Keep(ctx, db)
}
