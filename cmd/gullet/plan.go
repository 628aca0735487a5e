package main

import (
	"fmt"

	"github.com/spf13/cobra"

	"gullet/cmd/gullet/internal/planning"
	"gullet/cmd/gullet/internal/trend"
	"gullet/config"
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
			"It reads the database beside a running daemon.\n\n" + caution,
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
			now := p.now()
			data, err := trend.Gather(c.Context(), db, &cfg.Config, "", now)
			if err != nil {
				return err
			}
			report := planning.Build(&planning.Input{
				Now: now, Days: days, Config: &cfg.Config, Calendar: cfg.Calendar(), Data: data,
				Costs: costs(&cfg.Plan),
			})
			if asJSON {
				return p.writeJSON(report)
			}
			if err := report.Write(p.out, style); err != nil {
				return err
			}
			_, err = fmt.Fprintf(p.out, "\n%s\n", caution)
			return err
		},
	}
	c.Flags().IntVar(&days, "days", 7, "`DAYS` to plan for")
	c.Flags().BoolVar(&asJSON, "json", false, "one JSON object")
	overridable(c, flagDB)
	return c
}

// costs are what the shop configured.
func costs(c *config.Plan) planning.Costs {
	return planning.Costs{
		SawHour: c.SawHour, Planned: c.PlannedChange.Minutes(), Unplanned: c.UnplannedChange.Minutes(),
		Scrap: c.Scrap, Risk: c.Risk, Service: c.Service, Lead: c.Lead,
	}
}
