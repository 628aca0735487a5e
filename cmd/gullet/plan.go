package main

import (
	"context"
	"fmt"

	"github.com/spf13/cobra"

	"gullet/cmd/gullet/internal/figures"
	"gullet/cmd/gullet/internal/planfile"
	"gullet/cmd/gullet/internal/planning"
	"gullet/cmd/gullet/internal/score"
	"gullet/config"
	"gullet/store"
)

func (p *program) planCommand() *cobra.Command {
	var (
		days   int
		asJSON bool
		files  = planFiles()
	)
	c := &cobra.Command{
		Use:   "plan",
		Short: "Which blade to change when",
		Long: "Says for each saw how long its blade is likely to last along the coming work, before which job or at the end of\n" +
			"which shift to change it, what drives that and what it costs to wait, and how many blades must be on hand.\n" +
			"It reads the database beside a running daemon and keeps its forecasts there, for gullet score.\n\n" +
			"The flags that take a FILE write the plan there, in place of one of that name, and not to the terminal;\n" +
			"several may be given, and one of them may be - for standard output. A calendar that takes in --ics again\n" +
			"moves the events of blades that are still on, but keeps those of blades that came off since or are now\n" +
			"to be run on: delete these, or let it read the file anew each time.\n\n" + caution,
		Args: cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			if days < 1 || days > 60 {
				return usageError{fmt.Errorf("--days is %d, allowed is 1 to 60", days)}
			}
			if err := files.check(c, asJSON, p.out); err != nil {
				return err
			}
			plan, err := p.makePlan(c, days)
			switch {
			case err != nil:
				return err
			case len(files.wanted()) > 0:
				return writeFiles(p.out, files, &plan.files, figures.Plural(len(plan.files.Changes()), "change", "changes")+" advised")
			case asJSON:
				return p.writeJSON(plan)
			}
			if err := plan.Write(p.out, plan.files.Style); err != nil {
				return err
			}
			_, err = fmt.Fprintf(p.out, "\n%s\n\n%s\n", plan.lastMonth(), caution)
			return err
		},
	}
	c.Flags().IntVar(&days, "days", 7, "`DAYS` to plan for")
	c.Flags().BoolVar(&asJSON, "json", false, "one JSON object")
	files.flags(c)
	overridable(c, flagDB)
	return c
}

// planFiles are the files a plan can be written to.
func planFiles() outFiles[*planfile.Plan] {
	ics := func(p *planfile.Plan) ([]byte, error) { return planfile.ICS(p), nil }
	return outFiles[*planfile.Plan]{
		{flag: "ics", usage: "the changes as an iCalendar `FILE`", write: ics},
		{flag: "csv", usage: "a row for each saw as a CSV `FILE`", write: planfile.CSV},
		{flag: flagXLSX, usage: "all of it as a workbook `FILE`", write: planfile.XLSX},
		{flag: "sheet", usage: "a sheet for the wall as an HTML `FILE` to print", write: planfile.Sheet},
	}
}

// makePlan makes the plan of the next days from what is stored, and keeps its forecasts.
func (p *program) makePlan(c *cobra.Command, days int) (*planAnswer, error) {
	cfg, db, err := p.reader(c)
	if err != nil {
		return nil, err
	}
	defer func() { _ = db.Close() }()
	style, err := shopStyle(&cfg.Config)
	if err != nil {
		return nil, err
	}
	in, err := planning.Gather(c.Context(), db, &cfg.Config, p.now(), days)
	if err != nil {
		return nil, err
	}
	report := planning.Build(in) // which puts the shifts that were seen in place of those nobody configured
	answer := &planAnswer{Report: report, files: planfile.Plan{Report: report, Style: style, Calendar: in.Calendar, Change: cfg.Plan.PlannedChange, Caution: caution}}
	answer.past(c.Context(), db, in)
	if err := p.keep(c.Context(), cfg, report); err != nil {
		report.Doubts = append(report.Doubts, "the forecasts of this plan could not be kept, to be held against what comes (gullet score): "+err.Error())
	}
	return answer, nil
}

// planAnswer is the plan with how the forecasts of the last month did.
type planAnswer struct {
	*planning.Report
	Month    *score.Month `json:"last_month"`
	WhyMonth string       `json:"last_month_why,omitempty"`

	files planfile.Plan
}

// past looks at the last month, without the plan's own forecasts. What keeps it from
// that is told in place of it: the plan is shown all the same.
func (a *planAnswer) past(ctx context.Context, db *store.Store, in *planning.Input) {
	data, err := score.Gather(ctx, db, in.Config, in.Data.Lives, in.Now, score.MonthDays)
	if err == nil {
		a.Month, a.WhyMonth, err = score.LastMonth(data)
	}
	if err != nil {
		a.WhyMonth = err.Error()
	}
}

// lastMonth is the last month in words.
func (a *planAnswer) lastMonth() string {
	if a.Month == nil {
		return fmt.Sprintf("Last %d days: unknown, %s.", score.MonthDays, a.WhyMonth)
	}
	return a.Month.String()
}

// keep stores the forecasts of a plan, beside a running daemon.
func (p *program) keep(ctx context.Context, cfg *config.Loaded, report *planning.Report) error {
	db, err := store.OpenWriter(ctx, storeOptions(cfg))
	if err != nil {
		return err
	}
	defer func() { _ = db.Close() }()
	return report.Keep(ctx, db)
}
