package main

import (
	"fmt"
	"time"

	"github.com/spf13/cobra"

	"gullet/cmd/gullet/internal/figures"
	"gullet/cmd/gullet/internal/floor"
	"gullet/config"
)

func (p *program) floorCommand() *cobra.Command {
	var asJSON bool
	c := &cobra.Command{
		Use:   "floor",
		Short: "One row per saw: its blade, what it has cut, what is likely left",
		Long: "Shows every saw with its state, blade, area cut, the area until a tenth, half and nine tenths of\n" +
			"such blades are done, deviation and its slope, trips, last stop and the age of its last reading.\n" +
			"It reads the database beside a running daemon.\n\n" + caution,
		Args: cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			cfg, db, err := p.reader(c)
			if err != nil {
				return err
			}
			defer func() { _ = db.Close() }()
			f, err := floor.Build(c.Context(), db, &cfg.Config, p.now())
			if err != nil {
				return err
			}
			if asJSON {
				return p.writeJSON(f)
			}
			style, err := shopStyle(&cfg.Config)
			if err != nil {
				return err
			}
			if err := f.Write(p.out, style); err != nil {
				return err
			}
			_, err = fmt.Fprintf(p.out, "\n%s\n", caution)
			return err
		},
	}
	c.Flags().BoolVar(&asJSON, "json", false, "one JSON object")
	overridable(c, flagDB)
	return c
}

// shopStyle is how the shop reads figures.
func shopStyle(cfg *config.Config) (figures.Style, error) {
	zone, err := time.LoadLocation(cfg.Shop.Zone)
	if err != nil {
		return figures.Style{}, fmt.Errorf("shop.zone: %w", err)
	}
	return figures.Style{Zone: zone, Metric: cfg.Shop.Units == "mm"}, nil
}
