package main

import (
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"text/tabwriter"
	"time"

	"github.com/spf13/cobra"

	"gullet/analyze"
	"gullet/cmd/gullet/internal/app"
	"gullet/ingest"
	"gullet/store"
)

func (p *program) rejectedCommand() *cobra.Command {
	c := &cobra.Command{
		Use:   "rejected",
		Short: "Messages that could not be stored as meant, with the reason",
		Args:  cobra.NoArgs,
		RunE:  func(c *cobra.Command, _ []string) error { return c.Help() },
	}
	c.AddCommand(p.rejectedListCommand(), p.rejectedRetryCommand())
	return c
}

// rejectedAnswer is one rejected message as JSON.
type rejectedAnswer struct {
	ID        int64      `json:"id"`
	Topic     string     `json:"topic"`
	Code      string     `json:"code"`
	Reason    string     `json:"reason"`
	Payload   string     `json:"payload"`
	Size      int        `json:"size"`
	Truncated bool       `json:"truncated"`
	Retained  bool       `json:"retained"`
	Times     int64      `json:"times"`
	First     time.Time  `json:"first"`
	Last      time.Time  `json:"last"`
	Retried   *time.Time `json:"retried"` // when a retry stored it
}

// filterFlags are the flags that choose among the rejected.
func filterFlags(c *cobra.Command, f *store.RejectedFilter, code *string) {
	c.Flags().Int64Var(&f.ID, "id", 0, "only the one with this `NUMBER`")
	c.Flags().StringVar(code, "code", "", "only those rejected as `CODE`: "+listed(analyze.RejectCodes()))
}

// listed writes the values that are allowed.
func listed[T ~string](values []T) string {
	var b strings.Builder
	for i, v := range values {
		switch {
		case i == 0:
		case i == len(values)-1:
			b.WriteString(" or ")
		default:
			b.WriteString(", ")
		}
		b.WriteString(string(v))
	}
	return b.String()
}

func checkCode(code string) (analyze.RejectCode, error) {
	c := analyze.RejectCode(code)
	if code != "" && !slices.Contains(analyze.RejectCodes(), c) {
		return "", usageError{fmt.Errorf("--code is %q, allowed is %s", code, listed(analyze.RejectCodes()))}
	}
	return c, nil
}

func (p *program) rejectedListCommand() *cobra.Command {
	var (
		filter store.RejectedFilter
		code   string
		asJSON bool
	)
	c := &cobra.Command{
		Use:   "list",
		Short: "List rejected messages",
		Args:  cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) (err error) {
			if filter.Code, err = checkCode(code); err != nil {
				return err
			}
			cfg, db, err := p.reader(c)
			if err != nil {
				return err
			}
			defer func() { _ = db.Close() }()
			rows, err := db.Rejected(c.Context(), filter)
			if err != nil {
				return err
			}
			if asJSON {
				return p.writeJSON(rejectedAnswers(rows))
			}
			style, err := shopStyle(&cfg.Config)
			if err != nil {
				return err
			}
			return p.writeRejected(rows, style.Zone)
		},
	}
	filterFlags(c, &filter, &code)
	c.Flags().BoolVar(&filter.All, "all", false, "also those that a retry has stored")
	c.Flags().BoolVar(&asJSON, "json", false, "one JSON array, with the payloads")
	overridable(c, flagDB)
	return c
}

func rejectedAnswers(rows []store.RejectedRow) []rejectedAnswer {
	list := make([]rejectedAnswer, 0, len(rows))
	for i := range rows {
		r := &rows[i]
		a := rejectedAnswer{
			ID: r.ID, Topic: r.Topic, Code: string(r.Code), Reason: r.Reason, Payload: string(r.Payload), Size: r.Size,
			Truncated: r.Truncated(), Retained: r.Retained, Times: r.Times, First: r.Received, Last: r.Last,
		}
		if !r.Retried.IsZero() {
			a.Retried = &r.Retried
		}
		list = append(list, a)
	}
	return list
}

func (p *program) writeRejected(rows []store.RejectedRow, zone *time.Location) error {
	if len(rows) == 0 {
		_, err := fmt.Fprintln(p.out, "no messages are kept as rejected")
		return err
	}
	t := tabwriter.NewWriter(p.out, 0, 0, 2, ' ', 0)
	_, _ = fmt.Fprintln(t, "NUMBER\tLAST\tTIMES\tTOPIC\tREASON")
	for i := range rows {
		r := &rows[i]
		reason := r.Reason
		if r.Truncated() {
			reason += " (only its head was kept: cannot be retried)"
		}
		if !r.Retried.IsZero() {
			reason += " (stored by a retry)"
		}
		_, _ = fmt.Fprintf(t, "%d\t%s\t%d\t%s\t%s\n", r.ID, r.Last.In(zone).Format("2 Jan 2006 15:04"), r.Times, plain(r.Topic), reason)
	}
	return t.Flush()
}

// plain is a topic that is safe on a terminal and not too long for a table.
func plain(topic string) string {
	quoted := strconv.Quote(topic)
	quoted = quoted[1 : len(quoted)-1]
	if len(quoted) > 60 {
		quoted = quoted[:60] + "…"
	}
	return quoted
}

func (p *program) rejectedRetryCommand() *cobra.Command {
	var (
		filter store.RejectedFilter
		code   string
	)
	c := &cobra.Command{
		Use:   "retry",
		Short: "Read rejected messages again, once the cause is mended, and store those that pass now",
		Long: "Reads each rejected message again by today's configuration and program and stores those that pass.\n" +
			"An event that was seen only as the broker's retained value may be days old; it is left alone\n" +
			"unless it is named with --id or --code retained, and counts then.",
		Args: cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) (err error) {
			if filter.Code, err = checkCode(code); err != nil {
				return err
			}
			cfg, db, err := p.writer(c)
			if err != nil {
				return err
			}
			decoder := ingest.NewDecoder(app.DecoderOptions(&cfg.Config))
			tried, stored, err := db.RetryRejected(c.Context(), filter, decoder.Decode, p.now())
			if err := errors.Join(err, db.Close()); err != nil {
				return err
			}
			_, err = fmt.Fprintf(p.out, "%d retried, %d stored, %d still rejected\n", tried, stored, tried-stored)
			return err
		},
	}
	filterFlags(c, &filter, &code)
	overridable(c, flagDB)
	return c
}
