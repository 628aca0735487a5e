package main

import (
	"fmt"

	"github.com/spf13/cobra"

	"gullet/cmd/gullet/internal/jobs"
	"gullet/cmd/gullet/internal/planfile"
	"gullet/cmd/gullet/internal/planning"
	"gullet/cmd/gullet/internal/trend"
	"gullet/config"
	"gullet/store"
)

func (p *program) planCommand() *cobra.Command {
	var (
		days   int
		asJSON bool
		files  planFiles
	)
	c := &cobra.Command{
		Use:   "plan",
		Short: "Which blade to change when",
		Long: "Says for each saw how long its blade is likely to last along the coming work, before which job or at the end of\n" +
			"which shift to change it, what drives that and what it costs to wait, and how many blades must be on hand.\n" +
			"It reads the database beside a running daemon.\n\n" +
			"The flags that take a FILE write the plan there, in place of one of that name, and not to the terminal;\n" +
			"several may be given, and one of them may be - for standard output. A calendar that takes in --ics again\n" +
			"moves the events of blades that are still on, but keeps those of blades that came off since or are now\n" +
			"to be run on: delete these, or let it read the file anew each time.\n\n" + caution,
		Args: cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			if days < 1 || days > 60 {
				return usageError{fmt.Errorf("--days is %d, allowed is 1 to 60", days)}
			}
			if err := files.check(asJSON, p.out); err != nil {
				return err
			}
			plan, err := p.makePlan(c, days)
			switch {
			case err != nil:
				return err
			case files.wanted():
				return p.writePlanFiles(&files, plan)
			case asJSON:
				return p.writeJSON(plan.Report)
			}
			if err := plan.Write(p.out, plan.Style); err != nil {
				return err
			}
			_, err = fmt.Fprintf(p.out, "\n%s\n", caution)
			return err
		},
	}
	c.Flags().IntVar(&days, "days", 7, "`DAYS` to plan for")
	c.Flags().BoolVar(&asJSON, "json", false, "one JSON object")
	files.flags(c)
	overridable(c, flagDB)
	return c
}

// makePlan makes the plan of the next days from what is stored.
func (p *program) makePlan(c *cobra.Command, days int) (*planfile.Plan, error) {
	cfg, db, err := p.reader(c)
	if err != nil {
		return nil, err
	}
	defer func() { _ = db.Close() }()
	style, err := shopStyle(&cfg.Config)
	if err != nil {
		return nil, err
	}
	now := p.now()
	data, err := trend.Gather(c.Context(), db, &cfg.Config, "", now)
	if err != nil {
		return nil, err
	}
	in := &planning.Input{
		Now: now, Days: days, Config: &cfg.Config, Calendar: cfg.Calendar(), Data: data, Costs: costs(&cfg.Plan),
	}
	if in.Jobs, in.OnHand, err = p.handedIn(c, db, &cfg.Config); err != nil {
		return nil, err
	}
	report := planning.Build(in) // which puts the shifts that were seen in place of those nobody configured
	return &planfile.Plan{Report: report, Style: style, Calendar: in.Calendar, Change: cfg.Plan.PlannedChange, Caution: caution}, nil
}

// handedIn is the coming work and the shelf as people keep them.
func (p *program) handedIn(c *cobra.Command, db *store.Store, cfg *config.Config) (coming []planning.Coming, onHand map[string]int, err error) {
	rows, err := db.Jobs(c.Context())
	if err != nil {
		return nil, nil, err
	}
	for i := range rows {
		j := &rows[i]
		if j.Left() == 0 {
			continue
		}
		s, err := jobs.ReadSection(j.Section, false)
		if err != nil {
			return nil, nil, fmt.Errorf("job %s: %w", j.Name, err)
		}
		coming = append(coming, planning.Coming{Job: j.Name, Saw: j.Saw, Grade: j.Grade, Section: s, Mitre: j.Mitre, Bars: j.Bars, Pieces: j.Left(), Due: j.Due})
	}
	shelf, err := db.Stock(c.Context(), typeName(cfg))
	if err != nil {
		return nil, nil, err
	}
	onHand = map[string]int{}
	for i := range shelf {
		if n := shelf[i].OnHand; n != nil {
			onHand[shelf[i].Type] = *n
		}
	}
	return coming, onHand, nil
}

// costs are what the shop configured.
func costs(c *config.Plan) planning.Costs {
	return planning.Costs{
		SawHour: c.SawHour, Planned: c.PlannedChange.Minutes(), Unplanned: c.UnplannedChange.Minutes(),
		Scrap: c.Scrap, Risk: c.Risk, Service: c.Service, Lead: c.Lead, Fitter: c.Fitter,
	}
}
