package main

import (
	"fmt"
	"io"
	"os"

	"github.com/spf13/cobra"

	"gullet/cmd/gullet/internal/lives"
)

func (p *program) fitCommand() *cobra.Command {
	var (
		list     lives.List
		interval []string
		asJSON   bool
	)
	c := &cobra.Command{
		Use:   "fit",
		Short: "How long blades last, from a shop's own list",
		Long: "Answers as gullet blades does, from a CSV file with a header line and one blade a line. Its columns, in\n" +
			"any order; others are left alone:\n\n" +
			"  area         in² the blade cut in all; required, above 0\n" +
			"  ended        1: its life ended; 0: pulled early or still running; required\n" +
			"  start        in² it had cut when logging began; 0 or nothing for a new blade\n" +
			"  cause        how it ended, in the shop's own words; running: it is still on a saw\n" +
			"  group        what it is compared by: its type, supplier's lot …\n" +
			"  area:CLASS   in² of it by class of material, one column a class; they add up to area\n" +
			"  last_class   the class that was in the cut at its end\n" +
			"  bends        bends of the band in all\n" +
			"  price        of the blade\n\n" + caution,
		Args: cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			limits, err := readLimits(interval)
			if err != nil {
				return usageError{err}
			}
			if list.File == "" {
				return misused(c, "needs --from FILE, a CSV list of blades, or --from - for standard input")
			}
			cfg, err := p.config(c)
			if err != nil {
				return err
			}
			list.Severity = lives.Severities(&cfg.Config)
			data, err := p.readList(list)
			if err != nil {
				return err
			}
			by := list.By
			if by == "" {
				by = data.GroupedBy()
			}
			return p.writeLives(lives.Study(data, by, limits), &cfg.Config, asJSON, true)
		},
	}
	c.Flags().StringVar(&list.File, "from", "", "CSV `FILE`, - for standard input")
	c.Flags().StringVar(&list.By, "by", "", "`COLUMN` to group by, class for the class each blade cut most of, none for one group (default the column group where it exists)")
	c.Flags().StringVar(&list.Reference, "reference", "", "`CLASS` of weight 1 (default the first with a column)")
	c.Flags().StringSliceVar(&list.Covariates, "covariate", nil, "numeric `COLUMN` that life is held against; several with commas between")
	intervalFlag(c, &interval)
	c.Flags().BoolVar(&asJSON, "json", false, "one JSON object")
	return c
}

// readList reads the file that --from names.
func (p *program) readList(list lives.List) (_ *lives.Data, err error) {
	var in io.Reader = p.in
	if list.File == "-" {
		list.File = "standard input"
	} else {
		f, err := os.Open(list.File)
		if err != nil {
			return nil, fmt.Errorf("read the list of blades: %w", err)
		}
		defer func() { _ = f.Close() }()
		in = f
	}
	return lives.Read(in, list)
}
