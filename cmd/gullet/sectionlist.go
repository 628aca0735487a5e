package main

import (
	"fmt"
	"io"
	"os"

	"github.com/spf13/cobra"

	"gullet/analyze"
	"gullet/analyze/section"
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
	grades, err := p.configured(c, f, true)
	if err != nil {
		return err
	}
	list := jobs.List{File: f.from, Saw: f.pass.Saw, FromAxis: f.scaleFromTheAxis, Metric: f.metric}
	list.Grades = func(name string) (g analyze.Grade, ok bool) {
		found, err := grades("", name)
		if err != nil {
			return g, false
		}
		return *found, true
	}
	if f.cut.TPI == "" {
		return misused(c, "--from needs --tpi or --blade: without a pitch there are no teeth to count")
	}
	if f.grade != "" {
		if list.Grade, err = grades("--grade", f.grade); err != nil {
			return usageError{err}
		}
	}
	if err := f.checkPass(f.pass); err != nil {
		return usageError{err}
	}
	if err := f.check(list.Grade); err != nil {
		return usageError{err}
	}
	if f.cut.Low, f.cut.High, err = section.ParseTPI(f.cut.TPI); err != nil {
		return usageError{fmt.Errorf("--%w", err)}
	}
	all, err := p.readJobs(list)
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
