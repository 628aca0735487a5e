package jobs

import (
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"gullet/analyze"
	"gullet/analyze/section"
	"gullet/cmd/gullet/internal/list"
)

// List says how a shop's own list of jobs is to be read.
type List struct {
	File     string          // for messages
	Saw      analyze.SawKind // that cuts them all
	FromAxis bool            // mitres are as on a scale that reads 90 for a square cut
	Metric   bool            // lengths of section objects are in mm
	Grade    *analyze.Grade  // of the jobs that name none, nil for not known
	Grades   func(name string) (analyze.Grade, bool)
}

// The columns of a list.
const (
	colJob     = "job"
	colSection = "section"
	colMitre   = "mitre"
	colCount   = "count"
	colLay     = "lay"
	colGrade   = "grade"
)

// mostMitre and mostBars are what a saw and its vise take.
const mostMitre, mostBars = 85, 1000

// FromAxis is an angle from a square cut counted from the bar's axis, and back.
func FromAxis(degrees float64) float64 { return 90 - degrees }

// IsObject tells a section object from a designation.
func IsObject(text string) bool { return strings.HasPrefix(strings.TrimSpace(text), "{") }

// ReadSection reads a designation, or an object with its lengths in inches or in
// mm.
func ReadSection(text string, metric bool) (section.Section, error) {
	if !IsObject(text) {
		return section.Parse(text)
	}
	perUnit := 1.0
	if metric {
		perUnit = 1 / 25.4
	}
	return section.FromJSON([]byte(text), perUnit)
}

// Read reads a list in CSV with a header line, one job a line. Columns it does
// not know are left alone. The first thing that is wrong stops it with an error
// that says file, line, column and what is allowed.
func Read(in io.Reader, l List) ([]Job, error) {
	open, err := list.Open(in, l.File, colSection)
	if err != nil {
		return nil, err
	}
	var all []Job
	err = open.Each("job", func(r *list.Row) { all = append(all, fields{r, &l}.job()) })
	if err != nil {
		return nil, err
	}
	return all, nil
}

// fields reads one line.
type fields struct {
	*list.Row
	list *List
}

func (f fields) job() Job {
	j := Job{Name: f.name(), Grade: f.grade()}
	j.Text, j.Section = f.section()
	j.Pass = section.Pass{Saw: f.list.Saw, Mitre: f.mitre(), Count: f.bars(colCount)}
	return j
}

// refuse notes what is wrong with a section or its lay, if anything.
func (f fields) refuse(column string, err error) {
	if err != nil {
		f.Fail("column %s: %w", column, err)
	}
}

// section is the section as it is to lie, and how it was given, in one line.
func (f fields) section() (string, section.Section) {
	text := strings.Join(strings.Fields(f.Text(colSection)), " ")
	if !printable(text) {
		f.Wrong(colSection, text, "printable text")
	}
	s, err := ReadSection(text, f.list.Metric)
	if err != nil {
		f.refuse(colSection, err)
		return text, s
	}
	if lay := f.Text(colLay); lay != "" {
		s.Lay = section.Lay(lay)
		f.refuse(colLay, s.Check())
	}
	return text, s
}

// printable says whether a terminal shows a text as it is and in one line.
func printable(text string) bool {
	return utf8.ValidString(text) && !strings.ContainsFunc(text, func(r rune) bool { return !unicode.IsPrint(r) })
}

// isName says whether a table has room for a name.
func isName(text string) bool { return utf8.RuneCountInString(text) <= 64 && printable(text) }

// name is what the job is called.
func (f fields) name() string {
	name := f.Text(colJob)
	if name == "" {
		return fmt.Sprintf("line %d", f.Line)
	}
	if !isName(name) {
		f.Wrong(colJob, name, "one line of at most 64 characters, or nothing")
	}
	return name
}

func (f fields) mitre() float64 {
	text := f.Text(colMitre)
	if text == "" {
		return 0
	}
	x, err := strconv.ParseFloat(text, 64)
	allowed := fmt.Sprintf("more than -%d and less than %d degrees from a square cut, or nothing for 0", mostMitre, mostMitre)
	if f.list.FromAxis {
		x = FromAxis(x)
		allowed = fmt.Sprintf("more than %d and less than %d degrees on the saw's scale, or nothing for a square cut", 90-mostMitre, 90+mostMitre)
	}
	if err != nil || !(math.Abs(x) < mostMitre) {
		f.Wrong(colMitre, text, allowed)
	}
	return x
}

// bars are how many are cut at once.
func (f fields) bars(column string) int {
	text := f.Text(column)
	if text == "" {
		return 1
	}
	n, err := strconv.Atoi(text)
	if err != nil || n < 1 || n > mostBars {
		f.Wrong(column, text, fmt.Sprintf("1 to %d bars, or nothing for 1", mostBars))
	}
	return n
}

func (f fields) grade() *analyze.Grade {
	name := f.Text(colGrade)
	if name == "" {
		return f.list.Grade
	}
	if f.list.Grades != nil {
		if g, ok := f.list.Grades(name); ok {
			return &g
		}
	}
	f.Wrong(colGrade, name, "a configured grade, which gullet check --print lists, or nothing")
	return nil
}
