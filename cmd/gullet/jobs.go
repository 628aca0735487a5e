package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"text/tabwriter"
	"time"

	"github.com/spf13/cobra"

	"gullet/cmd/gullet/internal/figures"
	"gullet/cmd/gullet/internal/jobs"
	"gullet/config"
	"gullet/store"
)

func (p *program) jobsCommand() *cobra.Command {
	c := &cobra.Command{
		Use:   "jobs",
		Short: "The coming work that the change plan goes by",
		Long: "Takes the shop's list of coming work, tells what is open and what was cut for it: the finished cuts\n" +
			"of parts that carry a job's name since it was first in a list.",
		Args: cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error { return c.Help() },
	}
	c.AddCommand(
		p.jobsImportCommand(), p.jobsListCommand(),
		p.jobsEndCommand("done", "A job is done", (*store.Store).FinishJob),
		p.jobsEndCommand("drop", "A job will not be cut", (*store.Store).DropJob),
	)
	return c
}

func (p *program) jobsImportCommand() *cobra.Command {
	var (
		who     string
		replace bool
	)
	c := &cobra.Command{
		Use:   "import FILE.csv",
		Short: "Take a list of coming work, all of it or none",
		Long: "Takes a list in CSV, - for standard input, with a header line and one job a line. It needs the columns\n" +
			"job (its name), section (a designation, or an object as in gullet help messages) and pieces (of the\n" +
			"whole job, those already cut too). It may have saw (nothing for any), grade, mitre (degrees from a\n" +
			"square cut), bars (cut at once) and due (a date, which is the end of that day in shop.zone, or a time\n" +
			"with its offset). A job that is open is updated and keeps what was cut for it; the others stay.",
		Args: cobra.ExactArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			cfg, db, err := p.writer(c)
			if err != nil {
				return err
			}
			done, err := p.importJobs(c.Context(), db, &cfg.Config, args[0], replace, who)
			if err := errors.Join(err, db.Close()); err != nil {
				return err
			}
			_, err = fmt.Fprintf(p.out, "%s added, %d updated, %d dropped\n", figures.Plural(done.Added, "job", "jobs"), done.Updated, done.Dropped)
			return err
		},
	}
	c.Flags().StringVar(&who, "who", "", "`NAME` of the person who hands it in")
	c.Flags().BoolVar(&replace, "replace", false, "drop the open jobs that the list does not have")
	overridable(c, flagDB)
	return c
}

// importJobs stores a list of coming work.
func (p *program) importJobs(ctx context.Context, db *store.Store, cfg *config.Config, name string, replace bool, who string) (store.JobsImported, error) {
	list, err := p.readComing(ctx, db, cfg, name)
	if err != nil {
		return store.JobsImported{}, err
	}
	rows := make([]store.JobRow, len(list))
	for i := range list {
		j := &list[i]
		rows[i] = store.JobRow{
			Name: j.Name, Saw: j.Saw, Grade: j.Material, Section: j.Text, Mitre: j.Pass.Mitre, Bars: j.Pass.Count,
			Pieces: j.Pieces, Due: j.Due,
		}
	}
	return db.ImportJobs(ctx, rows, replace, who, p.now())
}

// readComing reads a list of coming work for the saws of a shop.
func (p *program) readComing(ctx context.Context, db *store.Store, cfg *config.Config, name string) ([]jobs.Coming, error) {
	style, err := shopStyle(cfg)
	if err != nil {
		return nil, err
	}
	heard, err := db.Saws(ctx)
	if err != nil {
		return nil, err
	}
	saws := map[string]bool{}
	for i := range heard {
		saws[heard[i].Name] = true
	}
	for i := range cfg.Saws {
		saws[cfg.Saws[i].Name] = true
	}
	in, file := p.in, "standard input"
	if name != "-" {
		f, err := os.Open(name)
		if err != nil {
			return nil, fmt.Errorf("read the list of jobs: %w", err)
		}
		defer func() { _ = f.Close() }()
		in, file = io.Reader(f), name
	}
	return jobs.ReadComing(in, jobs.ComingList{
		List: jobs.List{File: file, Grades: cfg.GradeOf}, Zone: style.Zone, Saws: func(name string) bool { return saws[name] },
	})
}

// jobAnswer is an open job as programs are told it.
type jobAnswer struct {
	Job      string     `json:"job"`
	Saw      string     `json:"saw"` // "" is any
	Grade    string     `json:"grade"`
	Section  string     `json:"section"`
	Mitre    float64    `json:"mitre"`
	Bars     int        `json:"bars"`
	Pieces   int        `json:"pieces"`
	Cut      int64      `json:"cut"`
	Left     int        `json:"left"`
	Due      *time.Time `json:"due"`
	Imported time.Time  `json:"imported_at"`
}

func (p *program) jobsListCommand() *cobra.Command {
	var asJSON bool
	c := &cobra.Command{
		Use:   "list",
		Short: "List the open jobs, the earliest due first",
		Args:  cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			cfg, db, err := p.reader(c)
			if err != nil {
				return err
			}
			list, err := db.Jobs(c.Context())
			if err := errors.Join(err, db.Close()); err != nil {
				return err
			}
			if asJSON {
				return p.writeJSON(jobAnswers(list))
			}
			style, err := shopStyle(&cfg.Config)
			if err != nil {
				return err
			}
			return p.writeOpenJobs(list, style.Zone)
		},
	}
	c.Flags().BoolVar(&asJSON, "json", false, "one JSON array")
	overridable(c, flagDB)
	return c
}

func jobAnswers(list []store.JobRow) []jobAnswer {
	answers := make([]jobAnswer, len(list))
	for i := range list {
		j := &list[i]
		answers[i] = jobAnswer{
			Job: j.Name, Saw: j.Saw, Grade: j.Grade, Section: j.Section, Mitre: j.Mitre, Bars: j.Bars,
			Pieces: j.Pieces, Cut: j.Cut, Left: j.Left(), Imported: j.Imported,
		}
		if !j.Due.IsZero() {
			answers[i].Due = &j.Due
		}
	}
	return answers
}

func (p *program) writeOpenJobs(list []store.JobRow, zone *time.Location) error {
	if len(list) == 0 {
		_, err := fmt.Fprintln(p.out, "no job is open")
		return err
	}
	t := tabwriter.NewWriter(p.out, 0, 0, 2, ' ', 0)
	_, _ = fmt.Fprintln(t, "JOB\tDUE\tSAW\tGRADE\tSECTION\tMITRE\tBARS\tPIECES\tCUT")
	now := p.now()
	for i := range list {
		j := &list[i]
		saw, grade := j.Saw, j.Grade
		if saw == "" {
			saw = "any"
		}
		if grade == "" {
			grade = "unknown"
		}
		_, _ = fmt.Fprintf(t, "%s\t%s\t%s\t%s\t%s\t%g°\t%d\t%d\t%d\n",
			j.Name, dueText(j.Due, now, zone), saw, grade, j.Section, j.Mitre, j.Bars, j.Pieces, j.Cut)
	}
	return t.Flush()
}

// dueText is when a job is due, as a date where that is the end of a day.
func dueText(due, now time.Time, zone *time.Location) string {
	if due.IsZero() {
		return "no date"
	}
	text := due.In(zone).Format("2006-01-02 15:04")
	if last := due.In(zone).Add(-time.Second); last.Day() != due.In(zone).Day() {
		text = last.Format(time.DateOnly)
	}
	if due.Before(now) {
		text += ", late"
	}
	return text
}

// jobsEndCommand ends a job for a person who says why.
func (p *program) jobsEndCommand(use, short string, end func(s *store.Store, ctx context.Context, name, who, why string, now time.Time) error) *cobra.Command {
	var who, why string
	c := &cobra.Command{
		Use:   use + " JOB",
		Short: short,
		Args:  cobra.ExactArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			if err := lacking(c, unset(c, "who", "why")); err != nil {
				return err
			}
			_, db, err := p.writer(c)
			if err != nil {
				return err
			}
			err = end(db, c.Context(), args[0], who, why, p.now())
			if err := errors.Join(err, db.Close()); err != nil {
				return err
			}
			_, err = fmt.Fprintf(p.out, "job %s is closed\n", args[0])
			return err
		},
	}
	c.Flags().StringVar(&who, "who", "", "`NAME` of the person who says so")
	c.Flags().StringVar(&why, "why", "", "why, in `WORDS`")
	overridable(c, flagDB)
	return c
}
