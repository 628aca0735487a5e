package main

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"gullet/cmd/gullet/internal/lives"
	"gullet/config"
	"gullet/store"
)

func (p *program) bladesCommand() *cobra.Command {
	var (
		by, interval []string
		next         string
		asJSON       bool
	)
	c := &cobra.Command{
		Use:   "blades",
		Short: "How long blades last, by type, saw, class of material or lot",
		Long: "Says for each group how many blades there were and how they ended, what they cut, when a tenth and half\n" +
			"of them are done, what they cost, whether two groups really differ, and what is left of the blades on\n" +
			"the saws. It reads the database beside a running daemon. A shop's own list: gullet fit.\n\n" + caution,
		Args: cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			limits, err := readLimits(interval)
			if err != nil {
				return usageError{err}
			}
			if err := checkGroupings(by); err != nil {
				return usageError{err}
			}
			coming, err := readComing(next)
			if err != nil {
				return usageError{err}
			}
			cfg, db, err := p.reader(c)
			if err != nil {
				return err
			}
			defer func() { _ = db.Close() }()
			report, err := p.studyStore(c, db, &cfg.Config, by, limits, coming)
			if err != nil {
				return err
			}
			return p.writeLives(report, &cfg.Config, asJSON, true)
		},
	}
	c.Flags().StringSliceVar(&by, "by", []string{lives.ByType}, "`WAY` of grouping: "+listed(lives.Groupings())+"; two with a comma between")
	c.Flags().StringVar(&next, "next", "", "`AREA:CLASS`, chance that the blades on the saws survive so many in² more of a class or grade, as 500:stainless")
	intervalFlag(c, &interval)
	c.Flags().BoolVar(&asJSON, "json", false, "one JSON object")
	overridable(c, flagDB)
	return c
}

func intervalFlag(c *cobra.Command, interval *[]string) {
	c.Flags().StringSliceVar(interval, "interval", nil, "`KIND` of 95 % limits: plain (curve on the linear scale in place of log-log), wald (fit by standard errors in place of profile likelihood)")
}

func readLimits(kinds []string) (l lives.Limits, err error) {
	for _, kind := range kinds {
		switch kind {
		case "plain":
			l.Plain = true
		case "wald":
			l.Wald = true
		default:
			return l, fmt.Errorf("--interval is %q, allowed is plain or wald, or both with a comma between", kind)
		}
	}
	return l, nil
}

func checkGroupings(by []string) error {
	for _, way := range by {
		if !slices.Contains(lives.Groupings(), way) {
			return fmt.Errorf("--by is %q, allowed is %s", way, listed(lives.Groupings()))
		}
	}
	if len(by) > 2 || len(by) == 2 && (by[0] == by[1] || slices.Contains(by, lives.ByNone)) {
		return fmt.Errorf("--by is %q, allowed is one way of grouping or two different ones", strings.Join(by, ","))
	}
	return nil
}

// readComing reads --next, nil where it is not given.
func readComing(text string) (*lives.Coming, error) {
	if text == "" {
		return nil, nil
	}
	area, class, _ := strings.Cut(text, ":")
	x, err := strconv.ParseFloat(area, 64)
	if err != nil || !(x > 0 && x < 1e9) || class == "" {
		return nil, fmt.Errorf("--next is %q, allowed is in² above 0, a colon and a class or grade, as 500:stainless", text)
	}
	return &lives.Coming{Area: x, Class: class}, nil
}

// studyStore answers from what the saws sent.
func (p *program) studyStore(c *cobra.Command, db *store.Store, cfg *config.Config, by []string, limits lives.Limits, next *lives.Coming) (*lives.Report, error) {
	now := p.now()
	since := lives.Since(now)
	var shop *lives.Shop
	err := db.View(c.Context(), func(view *store.Store) error {
		fittings, err := view.Fittings(c.Context(), since)
		if err != nil {
			return err
		}
		lots, err := view.Lots(c.Context())
		if err != nil {
			return err
		}
		shop = lives.Gather(fittings, lots, cfg, since)
		return nil
	})
	if err != nil {
		return nil, err
	}
	fitted, err := shop.Fitted(now, next)
	if err != nil {
		return nil, usageError{fmt.Errorf("--next: %w", err)}
	}
	report := lives.Study(shop.Data(by), strings.Join(by, ","), limits)
	made, from := now.UTC(), since.UTC()
	report.MadeAt, report.Since, report.Fitted, report.Currency = &made, &from, fitted, cfg.Shop.Currency
	return report, nil
}

// writeLives writes an answer for people or programs.
func (p *program) writeLives(report *lives.Report, cfg *config.Config, asJSON, advises bool) error {
	if asJSON {
		return p.writeJSON(report)
	}
	style, err := shopStyle(cfg)
	if err != nil {
		return err
	}
	if err := report.Write(p.out, style); err != nil {
		return err
	}
	if advises {
		_, err = fmt.Fprintf(p.out, "\n%s\n", caution)
	}
	return err
}
