package main

import (
	"fmt"

	"github.com/spf13/cobra"

	"gullet/cmd/gullet/internal/score"
)

func (p *program) scoreCommand() *cobra.Command {
	var (
		days   int
		asJSON bool
	)
	c := &cobra.Command{
		Use:   "score",
		Short: "How the forecasts did that were kept",
		Long: "Holds the forecasts of the last days against what came: whether the windows held, how far off they were\n" +
			"beside two simple rivals, whether the ends of blades were foreseen, what blades changed early likely had\n" +
			"left and what the changes cost. gullet plan keeps the forecasts it makes, and the daemon makes and keeps\n" +
			"them when a shift begins. It reads the database beside a running daemon.\n\n" + caution,
		Args: cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			if days < 1 || days > 3660 {
				return usageError{fmt.Errorf("--days is %d, allowed is 1 to 3660", days)}
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
			data, err := score.Gather(c.Context(), db, &cfg.Config, nil, p.now(), days)
			if err != nil {
				return err
			}
			report, err := score.Build(data)
			if err != nil {
				return err
			}
			if asJSON {
				return p.writeJSON(report)
			}
			return report.Write(p.out, style)
		},
	}
	c.Flags().IntVar(&days, "days", 90, "`DAYS` back to score")
	c.Flags().BoolVar(&asJSON, "json", false, "one JSON object")
	overridable(c, flagDB)
	return c
}
