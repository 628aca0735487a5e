package main

import (
	"errors"
	"fmt"
	"io"
	"os"

	"github.com/spf13/cobra"

	"gullet/cmd/gullet/internal/trend"
	"gullet/config"
)

func (p *program) trendCommand() *cobra.Command {
	var (
		saw, file string
		shift     float64
		asJSON    bool
	)
	c := &cobra.Command{
		Use:   "trend",
		Short: "Whether the cut is wandering, and whether the blade or the saw is to blame",
		Long: "Says for each saw how far its cuts wander from square, over the height of the cut, how that moves with what\n" +
			"the blade has cut, when the saw is likely to trip, whether something changed, and what the readings\n" +
			"speak for: the blade, the saw, its guides, the feed, one grade, mitres, a lot, the sensor. It reads the\n" +
			"database beside a running daemon, or with --from a shop's own list in CSV with a header line and one\n" +
			"cut a line. Its columns, in any order; others are left alone:\n\n" +
			"  saw          its name; required\n" +
			"  blade        its name; another name is another blade; required\n" +
			"  area         in² the blade had cut after this cut; this or at is required\n" +
			"  at           when, with offset, as 2026-03-02T09:14:05-06:00; without it a saw's lines are in order of time\n" +
			"  deviation    in, signed; nothing where it was not measured; required\n" +
			"  height       in, of the cut: deviation and limit are then taken over it\n" +
			"  limit        in, the deviation at which the saw stops\n" +
			"  grade        of the material\n" +
			"  mitre        degrees from square\n" +
			"  trip         1: the saw stopped on its deviation; without the column, a deviation at the limit\n" +
			"  seconds      in the cut\n" +
			"  cut_area     in² of this cut; without it, what area has grown by\n" +
			"  type, lot    of the blade\n" +
			"  band_speed   ft/min; with several readings within a turn of the band, at tells a weld or a wheel\n\n" + caution,
		Args: cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			if !(shift >= 0 && shift < 1e9) {
				return usageError{fmt.Errorf("--shift is %v, allowed is in² above 0", shift)}
			}
			data, cfg, err := p.trendData(c, file, saw)
			if err != nil {
				return err
			}
			if shift > 0 {
				for i := range data.Saws {
					data.Saws[i].Shift, data.Saws[i].WhyShift = shift*data.Saws[i].PerUnit, ""
				}
			}
			style, err := shopStyle(cfg)
			if err != nil {
				return err
			}
			report := trend.Study(data, style)
			if file == "" {
				made := p.now().UTC()
				report.MadeAt = &made
			}
			if asJSON {
				return p.writeJSON(report)
			}
			if err := report.Write(p.out, style, saw != ""); err != nil {
				return err
			}
			_, err = fmt.Fprintf(p.out, "\n%s\n", caution)
			return err
		},
	}
	c.Flags().StringVar(&saw, "saw", "", "this `SAW` only, with the course of its deviation")
	c.Flags().StringVar(&file, "from", "", "CSV `FILE` in place of the database, - for standard input")
	c.Flags().Float64Var(&shift, "shift", 0, "`IN2` that the next shift cuts on each saw (default the mean of its shifts in the last 30 days)")
	c.Flags().BoolVar(&asJSON, "json", false, "one JSON object")
	overridable(c, flagDB)
	return c
}

// trendData reads the cuts from the list or from the database.
func (p *program) trendData(c *cobra.Command, file, saw string) (*trend.Data, *config.Config, error) {
	if file == "" {
		cfg, db, err := p.reader(c)
		if err != nil {
			return nil, nil, err
		}
		defer func() { _ = db.Close() }()
		data, err := trend.Gather(c.Context(), db, &cfg.Config, saw, p.now())
		if errors.Is(err, trend.ErrNoSaw) {
			return nil, nil, usageError{fmt.Errorf("--saw: %w", err)}
		}
		return data, &cfg.Config, err
	}
	cfg, err := p.config(c)
	if err != nil {
		return nil, nil, err
	}
	data, err := p.readCuts(file)
	if err != nil {
		return nil, nil, err
	}
	for i := range data.Saws {
		row, _ := cfg.SawOf(data.Saws[i].Name)
		data.Saws[i].Machine(row)
	}
	if err := data.Only(saw); err != nil {
		return nil, nil, usageError{fmt.Errorf("--saw: %w", err)}
	}
	return data, &cfg.Config, nil
}

// readCuts reads the list that --from names.
func (p *program) readCuts(file string) (*trend.Data, error) {
	var in io.Reader = p.in
	if file == "-" {
		file = "standard input"
	} else {
		f, err := os.Open(file)
		if err != nil {
			return nil, fmt.Errorf("read the list of cuts: %w", err)
		}
		defer func() { _ = f.Close() }()
		in = f
	}
	return trend.Read(in, file)
}
