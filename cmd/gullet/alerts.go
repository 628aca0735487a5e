package main

import (
	"errors"
	"fmt"
	"io"
	"maps"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"gullet/analyze/alert"
	"gullet/store"
)

func (p *program) alertsCommand() *cobra.Command {
	var (
		asJSON bool
		saw    string
		past   time.Duration
	)
	c := &cobra.Command{
		Use:   "alerts",
		Short: "What deserves the shop's attention, and what did",
		Long: "Lists the conditions that stand, the worst first: what is the matter, since when, how sure that is, what\n" +
			"to check first, and who sees to it. They are found by the daemon; what is a condition and who is told of\n" +
			"it is configured ([[alert]] and [[channel]] in gullet.toml).\n\n" + caution,
		Args: cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			if past < 0 || past > mostPast {
				return usageError{fmt.Errorf("--past is %s, allowed is 0s to %s", past, mostPast)}
			}
			cfg, db, err := p.reader(c)
			if err != nil {
				return err
			}
			filter := store.AlertFilter{Open: past == 0, Saw: saw}
			if past > 0 {
				filter.Since = p.now().Add(-past)
			}
			list, err := db.Alerts(c.Context(), filter)
			if err := errors.Join(err, db.Close()); err != nil {
				return err
			}
			if asJSON {
				if list == nil {
					list = []store.AlertRow{}
				}
				return p.writeJSON(list)
			}
			style, err := shopStyle(&cfg.Config)
			if err != nil {
				return err
			}
			return writeAlerts(p.out, list, past, p.now().In(style.Zone))
		},
	}
	c.Flags().BoolVar(&asJSON, "json", false, "one JSON array")
	c.Flags().StringVar(&saw, "saw", "", "only those of a `SAW`")
	c.Flags().DurationVar(&past, "past", 0, "also those closed within a `TIME`, as 24h")
	overridable(c, flagDB)
	c.AddCommand(p.ackCommand(), p.snoozeCommand())
	return c
}

// mostPast is how far back conditions are listed.
const mostPast = 366 * 24 * time.Hour

func (p *program) ackCommand() *cobra.Command {
	n := alert.Note{Action: alert.Acknowledge}
	c := &cobra.Command{
		Use:   "ack NUMBER",
		Short: "Say that somebody sees to a condition",
		Long: "Records that a person sees to a condition: no more is told of it until it is over, and nobody else is\n" +
			"called. It closes nothing: a condition is over when its readings say so.",
		Args: cobra.ExactArgs(1),
		RunE: func(c *cobra.Command, args []string) error { return p.note(c, args[0], &n, 0) },
	}
	answering(c, &n)
	return c
}

func (p *program) snoozeCommand() *cobra.Command {
	var (
		n    = alert.Note{Action: alert.Snooze}
		long time.Duration
	)
	c := &cobra.Command{
		Use:   "snooze NUMBER",
		Short: "Hear nothing of a condition for a time",
		Long: "Records that nobody wants to hear of a condition until a time. If it then still stands, what has changed\n" +
			"is told; that it is over is told at once.",
		Args: cobra.ExactArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			if err := lacking(c, unset(c, "for")); err != nil {
				return err
			}
			return p.note(c, args[0], &n, long)
		},
	}
	c.Flags().DurationVar(&long, "for", 0, "how long, a `TIME` as 2h")
	answering(c, &n)
	return c
}

// answering adds the flags of whoever does something about a condition.
func answering(c *cobra.Command, n *alert.Note) {
	c.Flags().StringVar(&n.Who, "who", "", "`NAME` of the person who says so")
	c.Flags().StringVar(&n.Why, "why", "", "why, in `WORDS`")
	overridable(c, flagDB)
}

// note records what a person does about a condition.
func (p *program) note(c *cobra.Command, number string, n *alert.Note, long time.Duration) error {
	if err := lacking(c, unset(c, "who", "why")); err != nil {
		return err
	}
	id, err := strconv.ParseInt(number, 10, 64)
	if err != nil || id <= 0 {
		return misused(c, fmt.Sprintf("found %q, allowed is the number of a condition (gullet alerts)", number))
	}
	n.Condition, n.At = id, p.now()
	done := "somebody sees to it"
	cfg, db, err := p.writer(c)
	if err != nil {
		return err
	}
	if n.Action == alert.Snooze {
		n.Until = n.At.Add(long)
		done = "nobody is told of it until " + n.Until.In(cfg.Calendar().Zone).Format("Mon 2 Jan 15:04 MST")
	}
	_, err = db.NoteAlert(c.Context(), *n)
	if err := errors.Join(err, db.Close()); err != nil {
		return err
	}
	_, err = fmt.Fprintf(p.out, "recorded of condition %d: %s\n", id, done)
	return err
}

// writeAlerts lists conditions for a terminal; now is in the shop's zone.
func writeAlerts(out io.Writer, list []store.AlertRow, past time.Duration, now time.Time) error {
	var b strings.Builder
	counts, standing := map[alert.Severity]int{}, 0
	for i := range list {
		if list[i].Open() {
			counts[list[i].Severity]++
			standing++
		}
	}
	switch {
	case standing == 0:
		fmt.Fprintf(&b, "No condition stands as far as the daemon knew last (%s).\n", now.Format("Mon 2 Jan 2006 15:04 MST"))
	default:
		fmt.Fprintf(&b, "%d condition%s (%s): %d severe, %d warning, %d notice.\n",
			standing, plural(standing, " stands", "s stand"), now.Format("Mon 2 Jan 2006 15:04 MST"), counts[alert.Severe], counts[alert.Warning], counts[alert.Notice])
	}
	risky := false
	for i := range list {
		if list[i].Open() {
			writeAlert(&b, &list[i], now)
			risky = risky || list[i].Words.Risky
		}
	}
	if past > 0 {
		fmt.Fprintf(&b, "\nClosed within %s: %d\n", past, len(list)-standing)
		for i := range list {
			if !list[i].Open() {
				writeAlert(&b, &list[i], now)
			}
		}
	}
	if risky {
		fmt.Fprintf(&b, "\n%s\n", caution)
	} else {
		fmt.Fprintf(&b, "\nAdvice only: Gullet is no safety function.\n")
	}
	_, err := io.WriteString(out, b.String())
	return err
}

func plural(n int, one, many string) string {
	if n == 1 {
		return one
	}
	return many
}

// writeAlert tells of one condition, in its own words.
func writeAlert(b *strings.Builder, r *store.AlertRow, now time.Time) {
	where := r.Saw
	if r.Words.Blade != "" {
		where += " · blade " + r.Words.Blade
	}
	if where != "" {
		where += " · "
	}
	fmt.Fprintf(b, "\n%d  %s  %s%s\n", r.ID, r.Severity, where, r.Words.What)
	line := func(format string, args ...any) { fmt.Fprintf(b, "    "+format+"\n", args...) }
	if !r.Cleared.IsZero() {
		line("closed %s, %s after it was raised: %s", when(r.Cleared, now), r.Cleared.Sub(r.Raised).Round(time.Second), r.Reason)
		return
	}
	line("since %s, raised %s (%s)", when(r.Since, now), when(r.Raised, now), r.Kind)
	if r.Words.Sure != "" {
		line("how sure: %s", r.Words.Sure)
	}
	for i, check := range r.Words.Check {
		line("check %d: %s", i+1, check)
	}
	if r.Words.Advice != "" {
		line("%s", r.Words.Advice)
	}
	if n := r.Acknowledged; n != nil {
		line("%s sees to it since %s: %s", n.Who, when(n.At, now), n.Why)
	}
	if n := r.Snoozed; n != nil && n.Until.After(now) {
		line("not told until %s, by %s: %s", when(n.Until, now), n.Who, n.Why)
	}
	line("told to: %s", toldTo(r.Told))
}

// toldTo names the channels that know of a condition.
func toldTo(told map[string]alert.Told) string {
	names := slices.Sorted(maps.Keys(told))
	if len(names) == 0 {
		return "nobody yet"
	}
	return strings.Join(names, ", ")
}

// when is a time on the shop's wall, with its day where that is another.
func when(t, now time.Time) string {
	t = t.In(now.Location())
	if t.Format(time.DateOnly) == now.Format(time.DateOnly) {
		return t.Format("15:04")
	}
	return t.Format("Mon 2 Jan 15:04")
}
