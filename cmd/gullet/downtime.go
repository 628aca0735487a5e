package main

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"gullet/analyze/shift"
	"gullet/cmd/gullet/internal/standing"
	"gullet/config"
	"gullet/store"
)

// downtimeDays are those shown when nobody says which.
const downtimeDays = 7

func (p *program) downtimeCommand() *cobra.Command {
	var (
		ask    downtimeFlags
		asJSON bool
	)
	c := &cobra.Command{
		Use:   "downtime",
		Short: "Why the saws stood still",
		Long: "Tells what the saws did with their time: minutes and stops by cause, this week beside the last four, the\n" +
			"long stops, what nobody has explained, what blades cost in standing time, and for each saw its time by the\n" +
			"elements of ISO 22400-2, how often it fails, how long mending takes and whether that changes. It reads the\n" +
			"database beside a running daemon.\n\n" +
			"Days are shop days: a shift belongs to the date it begins on. What no reading tells is unknown, never\n" +
			"downtime and never uptime.",
		Args: cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			report, cfg, err := p.downtime(c, &ask)
			if err != nil {
				return err
			}
			if asJSON {
				return p.writeJSON(report)
			}
			style, err := shopStyle(cfg)
			if err != nil {
				return err
			}
			return report.Write(p.out, style)
		},
	}
	ask.flags(c)
	c.Flags().BoolVar(&asJSON, "json", false, "one JSON object")
	overridable(c, flagDB)
	c.AddCommand(p.explainCommands()...)
	return c
}

// downtimeFlags are what a person asks for.
type downtimeFlags struct {
	since, until, saw, shift, by, split string
	lines                               bool
}

func (f *downtimeFlags) flags(c *cobra.Command) {
	c.Flags().StringVar(&f.since, "since", "", fmt.Sprintf("first `DATE`, as 2026-03-02 (default %d days with the last)", downtimeDays))
	c.Flags().StringVar(&f.until, "until", "", "last `DATE`, that day included (default today)")
	c.Flags().StringVar(&f.saw, "saw", "", "this `SAW` only")
	c.Flags().StringVar(&f.shift, "shift", "", "this `SHIFT` only")
	c.Flags().StringVar(&f.by, "by", "cause", "break down by `WHAT`: cause, "+strings.Join(standing.Groupings(), ", "))
	c.Flags().StringVar(&f.split, "split", "", "compare the days before this `DATE` with those from it on")
	c.Flags().BoolVar(&f.lines, "lines", false, "the time line of each saw, of 7 days at most")
}

// downtime makes the report that is asked for.
func (p *program) downtime(c *cobra.Command, ask *downtimeFlags) (_ *standing.Report, _ *config.Config, err error) {
	loaded, db, err := p.reader(c)
	if err != nil {
		return nil, nil, err
	}
	defer func() { err = errors.Join(err, db.Close()) }()
	cfg := &loaded.Config
	options, err := p.downtimeOptions(c.Context(), db, cfg, ask)
	if err != nil {
		return nil, nil, err
	}
	data, err := standing.Gather(c.Context(), db, cfg, p.now(), options.Since(), options.To, true)
	if err != nil {
		return nil, nil, err
	}
	report := standing.Build(data, *options)
	if ask.lines {
		data.From = options.From
		if report.Lines, err = data.Lines(c.Context(), db, options.Only.Saw); err != nil {
			return nil, nil, err
		}
	}
	return report, cfg, nil
}

// downtimeOptions checks what is asked for.
func (p *program) downtimeOptions(ctx context.Context, db *store.Store, cfg *config.Config, ask *downtimeFlags) (*standing.Options, error) {
	o := &standing.Options{Only: standing.Only{Saw: ask.saw, Shift: ask.shift}}
	today := shift.DateOf(p.now().In(cfg.Calendar().Zone))
	var err error
	if o.From, o.To, err = ask.period(today); err != nil {
		return nil, err
	}
	if ask.lines && o.From.Add(downtimeDays).Before(o.To.Add(1)) {
		return nil, usageError{fmt.Errorf("--lines shows %d days at most, from %s to %s are more", downtimeDays, o.From, o.To)}
	}
	if ask.split != "" {
		day, err := dateFlag("split", ask.split, today)
		if err != nil {
			return nil, err
		}
		if !o.From.Before(day) || o.To.Before(day) {
			return nil, usageError{fmt.Errorf("--split is %s, allowed is a day after the first, %s, up to the last, %s", day, o.From, o.To)}
		}
		o.Split = &day
	}
	if ask.by != "cause" {
		if !slices.Contains(standing.Groupings(), ask.by) {
			return nil, usageError{fmt.Errorf("--by is %q, allowed is cause, %s", ask.by, strings.Join(standing.Groupings(), ", "))}
		}
		o.By = ask.by
	}
	return o, p.knownSawAndShift(ctx, db, cfg, o.Only)
}

// period is the days that are asked for.
func (f *downtimeFlags) period(today shift.Date) (from, to shift.Date, err error) {
	if to, err = dateFlag("until", f.until, today); err != nil {
		return from, to, err
	}
	if from, err = dateFlag("since", f.since, to.Add(1-downtimeDays)); err != nil {
		return from, to, err
	}
	switch {
	case today.Before(to):
		err = fmt.Errorf("--until is %s, allowed is up to today, %s", to, today)
	case today.Before(from):
		err = fmt.Errorf("--since is %s, allowed is up to today, %s", from, today)
	case to.Before(from):
		err = fmt.Errorf("--until is %s, before --since, %s", to, from)
	case from.Add(downtimeYears * 366).Before(to):
		err = fmt.Errorf("--since is %s, allowed is up to %d years before --until", from, downtimeYears)
	}
	if err != nil {
		err = usageError{err}
	}
	return from, to, err
}

// downtimeYears bounds what is asked for to what a person can have meant.
const downtimeYears = 20

// knownSawAndShift refuses a saw that never told anything and a shift that the shop
// does not have.
func (p *program) knownSawAndShift(ctx context.Context, db *store.Store, cfg *config.Config, only standing.Only) error {
	if only.Saw != "" {
		saws, err := db.Saws(ctx)
		if err != nil {
			return err
		}
		var names []string
		for _, s := range saws {
			names = append(names, s.Name)
		}
		if !slices.Contains(names, only.Saw) {
			return usageError{fmt.Errorf("--saw is %q, allowed is one that has told something: %s", only.Saw, strings.Join(names, ", "))}
		}
	}
	if only.Shift != "" {
		var names []string
		for _, r := range cfg.Calendar().Effective() {
			if !slices.Contains(names, r.Name) {
				names = append(names, r.Name)
			}
		}
		if !slices.Contains(names, only.Shift) {
			return usageError{fmt.Errorf("--shift is %q, allowed is %s", only.Shift, strings.Join(names, ", "))}
		}
	}
	return nil
}

// dateFlag reads a date, or takes what it is by default.
func dateFlag(name, text string, def shift.Date) (shift.Date, error) {
	if text == "" {
		return def, nil
	}
	d, err := shift.ParseDate(text)
	if err != nil {
		return d, usageError{fmt.Errorf("--%s is %q, allowed is a date such as 2026-03-02", name, text)}
	}
	return d, nil
}
