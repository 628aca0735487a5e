package main

import (
	"bufio"
	"errors"
	"fmt"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"gullet/store"
)

func (p *program) exportCommand() *cobra.Command {
	whats := strings.Join(store.Exports(), "|")
	c := &cobra.Command{
		Use:   "export " + whats,
		Short: "Write what is stored as CSV, safe while the daemon runs",
		Long: "Writes one table as CSV on standard output, with the unit in each header and times in UTC. Area is\n" +
			"what Gullet counts; all else stands as the saws sent it, in inches.",
		Args: cobra.ExactArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			if !slices.Contains(store.Exports(), args[0]) {
				return usageError{fmt.Errorf("export: there is no table %q, allowed is %s", args[0], whats)}
			}
			_, db, err := p.reader(c)
			if err != nil {
				return err
			}
			out := bufio.NewWriter(p.out)
			return errors.Join(db.Export(c.Context(), args[0], out), out.Flush(), db.Close())
		},
	}
	overridable(c, flagDB)
	return c
}
