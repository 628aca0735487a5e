package main

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"gullet/analyze"
	"gullet/store"
)

func (p *program) correctCommand() *cobra.Command {
	c := &cobra.Command{
		Use:   "correct",
		Short: "Put the blade ledger right, with who, when and why",
		Long: "The saws' readings are never altered. A correction is a record of its own that outranks them; it\n" +
			"takes effect at once, also beside a running daemon, and can itself be struck out with void.",
		Args: cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error { return c.Help() },
	}
	c.AddCommand(
		p.correction(store.CorrectFit, "A blade was fitted and no message said so", "saw", "at", "blade", "type"),
		p.correction(store.CorrectRemove, "A blade was taken off and no message said so", "saw", "at", "blade", "reason"),
		p.correction(store.CorrectName, "The blade that was on at that time had no name, or another", "saw", "at", "blade", "type"),
		p.correction(store.CorrectSame, "No blade was changed at that time: a suspected change is dismissed", "saw", "at"),
		p.correction(store.CorrectVoid, "A blade message or an earlier correction is wrong", "event", "record"),
	)
	return c
}

// correction is one subcommand with the flags it takes.
func (p *program) correction(action store.CorrectionAction, short string, flags ...string) *cobra.Command {
	var (
		record     = store.Correction{Action: action}
		at, reason string
	)
	c := &cobra.Command{
		Use:   string(action),
		Short: short,
		Args:  cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) (err error) {
			if err := needed(c); err != nil {
				return err
			}
			if c.Flags().Lookup("at") != nil {
				if record.At, err = readAt(at); err != nil {
					return err
				}
			}
			if reason != "" && !slices.Contains(analyze.EndReasons(), analyze.EndReason(reason)) {
				return usageError{fmt.Errorf("--reason is %q, allowed is %s", reason, listed(analyze.EndReasons()))}
			}
			record.Reason, record.Recorded = analyze.EndReason(reason), p.now()
			_, db, err := p.writer(c)
			if err != nil {
				return err
			}
			id, err := db.Correct(c.Context(), record)
			if err := errors.Join(err, db.Close()); err != nil {
				return err
			}
			_, err = fmt.Fprintf(p.out, "recorded as correction %d\n", id)
			return err
		},
	}
	for _, name := range flags {
		switch name {
		case "saw":
			c.Flags().StringVar(&record.Saw, name, "", "the `SAW`")
		case "at":
			c.Flags().StringVar(&at, name, "", "when it happened, a `TIME` with its offset")
		case "blade":
			c.Flags().StringVar(&record.Serial, name, "", "`SERIAL` of the blade")
		case "type":
			c.Flags().StringVar(&record.Type, name, "", "blade `TYPE`, when known")
		case "reason":
			c.Flags().StringVar(&reason, name, string(analyze.ReasonUnknown), "`REASON` why the blade left the saw: "+listed(analyze.EndReasons()))
		case "event":
			c.Flags().Int64Var(&record.VoidEvent, name, 0, "`NUMBER` of the blade message (gullet export blades)")
		case "record":
			c.Flags().Int64Var(&record.VoidRecord, name, 0, "`NUMBER` of the earlier correction")
		}
	}
	c.Flags().StringVar(&record.Who, "who", "", "`NAME` of the person who says so")
	c.Flags().StringVar(&record.Why, "why", "", "why, in `WORDS`")
	overridable(c, flagDB)
	return c
}

// needed says which flags a correction cannot do without are missing.
func needed(c *cobra.Command) error {
	names := []string{"saw", "at", "blade", "who", "why"}
	if c.Name() == string(store.CorrectRemove) {
		names = []string{"saw", "at", "who", "why"}
	}
	missing := unset(c, names...)
	if event := c.Flags().Lookup("event"); event != nil && event.Changed == c.Flags().Lookup("record").Changed {
		missing = append(missing, "one of --event and --record")
	}
	return lacking(c, missing)
}

// unset lists those of a command's flags that were left out or empty.
func unset(c *cobra.Command, names ...string) (missing []string) {
	for _, name := range names {
		if f := c.Flags().Lookup(name); f != nil && (!f.Changed || strings.TrimSpace(f.Value.String()) == "") {
			missing = append(missing, "--"+name)
		}
	}
	return missing
}

// lacking is the refusal of a call without flags it needs, nil when none is missing.
func lacking(c *cobra.Command, missing []string) error {
	if len(missing) > 0 {
		return misused(c, "needs "+strings.Join(missing, ", "))
	}
	return nil
}

// readAt reads --at.
func readAt(text string) (time.Time, error) {
	at, err := time.Parse(time.RFC3339Nano, text)
	if err != nil {
		return at, usageError{fmt.Errorf("--at is %q, allowed is a time with its offset, such as 2026-03-02T09:14:05-06:00", text)}
	}
	return at, nil
}
