package main

import (
	"errors"
	"fmt"
	"io"
	"os"

	"github.com/spf13/cobra"

	"gullet/cmd/gullet/internal/jobs"
)

// sectionList answers for a list of jobs.
func (p *program) sectionList(c *cobra.Command, f *sectionFlags, args []string) error {
	if len(args) > 0 {
		return misused(c, fmt.Sprintf("takes --from or a section, found also %q", args[0]))
	}
	for _, column := range []string{"mitre", "count", "lay"} {
		if c.Flags().Changed(column) {
			return misused(c, fmt.Sprintf("--%s is a column of the list, allowed without --from", column))
		}
	}
	cfg, grade, err := p.configured(c, f)
	if err != nil {
		return err
	}
	if f.cut.TPI == "" {
		return misused(c, "--from needs --tpi or --blade: without a pitch there are no teeth to count")
	}
	if err := errors.Join(f.checkPass(f.pass), f.check(grade), f.readPitch()); err != nil {
		return usageError{err}
	}
	all, err := p.readJobs(jobs.List{
		File: f.from, Saw: f.pass.Saw, FromAxis: f.scaleFromTheAxis, Metric: f.metric, Grade: grade, Grades: cfg.GradeOf,
	})
	if err != nil {
		return err
	}
	return p.writeJobs(jobs.StudyList(all, f.cut), f.asJSON)
}

func (p *program) writeJobs(r *jobs.Report, asJSON bool) error {
	if asJSON {
		return p.writeJSON(r)
	}
	err := r.Write(p.out)
	if err == nil && r.Advises() {
		_, err = fmt.Fprintf(p.out, "\n%s\n", caution)
	}
	return err
}

// readJobs reads the file that --from names.
func (p *program) readJobs(list jobs.List) ([]jobs.Job, error) {
	var in io.Reader = p.in
	if list.File == "-" {
		list.File = "standard input"
	} else {
		file, err := os.Open(list.File)
		if err != nil {
			return nil, fmt.Errorf("read the list of jobs: %w", err)
		}
		defer func() { _ = file.Close() }()
		in = file
	}
	return jobs.Read(in, list)
}
