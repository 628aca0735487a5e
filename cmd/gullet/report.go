package main

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"gullet/analyze/shift"
	"gullet/cmd/gullet/internal/shiftreport"
	"gullet/cmd/gullet/internal/standing"
	"gullet/config"
	"gullet/store"
)

func (p *program) reportCommand() *cobra.Command {
	c := &cobra.Command{
		Use:   "report",
		Short: "One page on a shift or a week",
		Long: "Tells on one page what the saws did in a shift or a week: how long they stood and most for what, what each\n" +
			"saw did with its time and what it cut, the long stops, what is handed over and what nobody has explained.\n" +
			"It reads the database beside a running daemon.",
		Args: cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error { return c.Help() },
	}
	c.AddCommand(p.reportShiftCommand(), p.reportWeekCommand())
	return c
}

func (p *program) reportShiftCommand() *cobra.Command {
	var ask shiftFlags
	c := &cobra.Command{
		Use:   "shift",
		Short: "What the saws did in a shift",
		Long: "Reports one shift: the last that has ended unless --at, or --date and --shift, name another. A shift belongs\n" +
			"to the date it begins on. One that runs is told as far as it has come.\n\n" + reportFilesHelp,
		Args: cobra.NoArgs,
	}
	c.Flags().StringVar(&ask.at, "at", "", "the shift that holds the `TIME`, in the shop's zone, as \"2026-03-02 14:05\", or with its offset")
	c.Flags().StringVar(&ask.date, "date", "", "the shift of this `DATE`, as 2026-03-02, with --shift")
	c.Flags().StringVar(&ask.shift, "shift", "", "the `SHIFT` of that name, with --date")
	p.reporting(c, ask.period)
	return c
}

func (p *program) reportWeekCommand() *cobra.Command {
	var week string
	c := &cobra.Command{
		Use:   "week",
		Short: "What the saws did in a week",
		Long: "Reports a week of shop days from Monday: the last whole one, or the one that holds the date --week. To a\n" +
			"shift's report it adds the weeks before and how often the saws fail. One that runs is told as far as it has\n" +
			"come.\n\n" + reportFilesHelp,
		Args: cobra.NoArgs,
	}
	c.Flags().StringVar(&week, "week", "", "the week that holds the `DATE`, as 2026-03-02 (default the last whole week)")
	p.reporting(c, func(cfg *config.Config, _ []string, now time.Time) (shiftreport.Period, error) {
		if week == "" {
			return shiftreport.LastWeek(now), nil
		}
		date, err := dateFlag("week", week, shift.Date{})
		period := shiftreport.Week(date)
		if err == nil && shift.DateOf(now).Before(period.From) {
			err = usageError{fmt.Errorf("--week is %s, allowed is a week that has begun", date)}
		}
		return period, err
	})
	return c
}

const reportFilesHelp = "The flags that take a FILE write the report there, in place of one of that name, and not to the terminal;\n" +
	"several may be given, and one of them may be - for standard output."

// reportFiles are the files a report can be written to.
func reportFiles() outFiles[*shiftreport.Report] {
	return outFiles[*shiftreport.Report]{
		{flag: "csv", usage: "a row for each saw as a CSV `FILE`", write: shiftreport.CSV},
		{flag: flagXLSX, usage: "all of it as a workbook `FILE`", write: shiftreport.XLSX},
		{flag: "html", usage: "one page as an HTML `FILE` to print", write: shiftreport.HTML},
	}
}

// whichPeriod finds the time that is asked for, now being on the shop's wall.
type whichPeriod func(cfg *config.Config, saws []string, now time.Time) (shiftreport.Period, error)

// reporting adds what both reports have.
func (p *program) reporting(c *cobra.Command, which whichPeriod) {
	var (
		saw    string
		asJSON bool
		files  = reportFiles()
	)
	c.Flags().StringVar(&saw, "saw", "", "this `SAW` only")
	c.Flags().BoolVar(&asJSON, "json", false, "one JSON object")
	files.flags(c)
	overridable(c, flagDB)
	c.RunE = func(c *cobra.Command, _ []string) error {
		if err := files.check(c, asJSON, p.out); err != nil {
			return err
		}
		report, err := p.report(c, which, saw)
		switch {
		case err != nil:
			return err
		case len(files.wanted()) > 0:
			return writeFiles(p.out, files, report, report.Title())
		case asJSON:
			return p.writeJSON(report)
		}
		return report.Write(p.out)
	}
}

func (p *program) report(c *cobra.Command, which whichPeriod, saw string) (_ *shiftreport.Report, err error) {
	loaded, db, err := p.reader(c)
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, db.Close()) }()
	cfg := &loaded.Config
	style, err := shopStyle(cfg)
	if err != nil {
		return nil, err
	}
	if err := p.knownSawAndShift(c.Context(), db, cfg, standing.Only{Saw: saw}); err != nil {
		return nil, err
	}
	saws, err := p.sawsOf(c, db, cfg, saw)
	if err != nil {
		return nil, err
	}
	now := p.now()
	period, err := which(cfg, saws, now.In(style.Zone))
	if err != nil {
		return nil, err
	}
	return shiftreport.Make(c.Context(), db, cfg, style, now, period, saw)
}

// sawsOf are the saws whose shifts count: the one that is asked for, or all that have
// told something, or where none has those that shifts are for.
func (p *program) sawsOf(c *cobra.Command, db *store.Store, cfg *config.Config, saw string) ([]string, error) {
	if saw != "" {
		return []string{saw}, nil
	}
	rows, err := db.Saws(c.Context())
	if err != nil {
		return nil, err
	}
	var names []string
	for _, s := range rows {
		names = append(names, s.Name)
	}
	return shiftreport.EverySaw(names, cfg.Calendar()), nil
}

// shiftFlags say which shift is meant.
type shiftFlags struct{ at, date, shift string }

// period is the shift that is meant.
func (f *shiftFlags) period(cfg *config.Config, saws []string, now time.Time) (shiftreport.Period, error) {
	calendar := cfg.Calendar()
	switch {
	case f.at != "" && (f.date != "" || f.shift != ""):
		return shiftreport.Period{}, usageError{errors.New("--at with --date or --shift: allowed is --at alone, or --date with --shift")}
	case (f.date == "") != (f.shift == ""):
		return shiftreport.Period{}, usageError{errors.New("--date and --shift: allowed is both or neither")}
	case f.at != "":
		at, err := cfg.Moment(f.at)
		if err == nil && at.After(now) {
			err = errors.New("allowed is a moment up to now")
		}
		if err != nil {
			return shiftreport.Period{}, usageError{fmt.Errorf("--at is %q, %w", f.at, err)}
		}
		period, err := shiftreport.ShiftAt(calendar, saws, at)
		if err != nil {
			return period, usageError{fmt.Errorf("--at is %q, %w", f.at, err)}
		}
		return period, nil
	case f.date != "":
		return f.on(calendar, saws, now)
	}
	return shiftreport.LastShift(calendar, saws, now)
}

// on is the shift of a date.
func (f *shiftFlags) on(calendar *shift.Calendar, saws []string, now time.Time) (shiftreport.Period, error) {
	date, err := dateFlag("date", f.date, shift.Date{})
	if err != nil {
		return shiftreport.Period{}, err
	}
	names := shiftreport.ShiftsOn(calendar, saws, date)
	switch {
	case len(names) == 0:
		return shiftreport.Period{}, usageError{fmt.Errorf("--date is %s, allowed is a date on which a shift begins", date)}
	case !slices.Contains(names, f.shift):
		return shiftreport.Period{}, usageError{fmt.Errorf("--shift is %q, allowed on %s is %s", f.shift, date, strings.Join(names, ", "))}
	}
	period := shiftreport.Period{Shift: f.shift, From: date, To: date}
	if begins := period.Begins(calendar, saws); begins.After(now) {
		return period, usageError{fmt.Errorf("--date is %s, and shift %s has not begun: allowed is one that has", date, f.shift)}
	}
	return period, nil
}
