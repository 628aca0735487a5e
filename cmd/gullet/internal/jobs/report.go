package jobs

import (
	"fmt"
	"io"
	"slices"
	"strings"
	"text/tabwriter"
)

// Report is the answer for a list of jobs: those that strip teeth first, then
// those that fill gullets, those with a note, those of which it is not known,
// and the sound ones; each in the order of the list.
type Report struct {
	TPI     string   `json:"tpi"`
	Strips  []string `json:"strips"`  // the jobs that strip teeth
	Unknown []string `json:"unknown"` // the jobs without a verdict
	Jobs    []Answer `json:"jobs"`
}

// StudyList counts the jobs of a list.
func StudyList(list []Job, b Blade) *Report {
	r := &Report{TPI: b.TPI, Strips: []string{}, Unknown: []string{}, Jobs: make([]Answer, len(list))}
	for i, j := range list {
		a := Study(j, b)
		switch a.Verdict {
		case Strips:
			r.Strips = append(r.Strips, a.name())
		case "":
			r.Unknown = append(r.Unknown, a.name())
		}
		r.Jobs[i] = a
	}
	slices.SortStableFunc(r.Jobs, func(a, b Answer) int { return a.rank() - b.rank() })
	return r
}

// rank is lower for what must be seen sooner.
func (a *Answer) rank() int {
	switch {
	case a.Verdict == Strips:
		return 0
	case a.Verdict == Fills:
		return 1
	case a.Note != "":
		return 2
	case a.Verdict == "":
		return 3
	}
	return 4
}

// Advises says whether any answer advises a change.
func (r *Report) Advises() bool {
	return slices.ContainsFunc(r.Jobs, func(a Answer) bool { return a.Advises() })
}

// Write writes the answer for a terminal.
func (r *Report) Write(w io.Writer) error {
	var b strings.Builder
	fmt.Fprintf(&b, "%s\n\n", r.summary())
	t := tabwriter.NewWriter(&b, 0, 0, 2, ' ', 0)
	fmt.Fprintln(t, "JOB\tSECTION\tMITRE\tTEETH fewest\tTEETH on average\tFEED A TOOTH in, mean (most)\tVERDICT")
	for i := range r.Jobs {
		a := &r.Jobs[i]
		fmt.Fprintf(t, "%s\t%s\t%g°\t%s\n", a.name(), a.shown(), a.Mitre, a.row())
	}
	_ = t.Flush() // a strings.Builder does not fail
	_, err := io.WriteString(w, b.String())
	return err
}

// summary names the jobs that strip teeth.
func (r *Report) summary() string {
	says := fmt.Sprintf("No job strips teeth at %s TPI", r.TPI)
	if n := len(r.Strips); n > 0 {
		says = fmt.Sprintf("Teeth are stripped at %s TPI by %d of %d jobs: %s", r.TPI, n, len(r.Jobs), strings.Join(r.Strips, ", "))
	}
	if len(r.Unknown) > 0 {
		says += "; it is not known of " + strings.Join(r.Unknown, ", ")
	}
	return says
}

// shown is the section as it lies.
func (a *Answer) shown() string {
	if a.Lay == "" {
		return a.Section
	}
	return a.Section + " " + a.Lay
}

// row is what there is to say of the teeth.
func (a *Answer) row() string {
	if a.Verdict == "" {
		return "unknown\tunknown\tunknown\tunknown: " + a.Why
	}
	fed := "unknown"
	if a.BiteMean != nil && a.BiteMax != nil {
		fed = fmt.Sprintf("%.6f (%.6f)", *a.BiteMean, *a.BiteMax)
	}
	says := a.Verdict
	if a.Caution != "" {
		says += ": fit for it are " + a.pitch()
	}
	if a.Note != "" {
		says += ": " + a.Note
	}
	return fmt.Sprintf("%.1f\t%s\t%s\t%s", *a.TeethMin, between(*a.TeethCoarse, *a.TeethFine, 1), fed, says)
}
