package jobs

import (
	"bufio"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"gullet/analyze"
	"gullet/analyze/section"
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

// byteOrderMark begins the lists that some programs write.
const byteOrderMark = "\ufeff"

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
	text := bufio.NewReader(in)
	if mark, _ := text.Peek(len(byteOrderMark)); string(mark) == byteOrderMark {
		_, _ = text.Discard(len(mark)) // what was peeked at is there
	}
	r := csv.NewReader(text)
	r.FieldsPerRecord = -1 // a short line is told in our words
	r.TrimLeadingSpace = true
	names, err := r.Read()
	if err != nil {
		return nil, l.broken(err)
	}
	at, err := l.header(names)
	if err != nil {
		return nil, err
	}
	var all []Job
	for {
		record, err := r.Read()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return nil, l.broken(err)
		}
		line, _ := r.FieldPos(0)
		if len(record) != len(names) {
			return nil, fmt.Errorf("%s, line %d: the number of fields is %d, allowed is %d as in the header line", l.File, line, len(record), len(names))
		}
		j, err := l.job(at, record, line)
		if err != nil {
			return nil, fmt.Errorf("%s, line %d, %w", l.File, line, err)
		}
		all = append(all, j)
	}
	if len(all) == 0 {
		return nil, fmt.Errorf("%s: no job stands below the header line", l.File)
	}
	return all, nil
}

// broken is an error of the form of the file.
func (l *List) broken(err error) error {
	var parse *csv.ParseError
	switch {
	case errors.Is(err, io.EOF):
		return fmt.Errorf("%s: the file is empty: allowed is a header line that names at least the column %s", l.File, colSection)
	case errors.As(err, &parse):
		return fmt.Errorf("%s, line %d: %w: a text with a comma or a quote stands in double quotes, quotes within it doubled", l.File, parse.Line, parse.Err)
	}
	return fmt.Errorf("read %s: %w", l.File, err)
}

// header is where each column stands.
func (l *List) header(names []string) (map[string]int, error) {
	at := map[string]int{}
	for i, name := range names {
		name = strings.TrimSpace(name)
		if _, twice := at[name]; twice && name != "" {
			return nil, fmt.Errorf("%s, line 1, column %q: the column stands there twice, allowed is once", l.File, name)
		}
		at[name] = i
		names[i] = strconv.Quote(name)
	}
	if _, ok := at[colSection]; !ok {
		return nil, fmt.Errorf("%s, line 1: the column %s is missing; found %s", l.File, colSection, strings.Join(names, ", "))
	}
	return at, nil
}

// fields reads one line and keeps the first thing that is wrong; its errors
// begin with the column.
type fields struct {
	list   *List
	at     map[string]int
	record []string
	err    error
}

func (f *fields) fail(column string, err error) {
	if f.err == nil && err != nil {
		f.err = fmt.Errorf("column %s: %w", column, err)
	}
}

func (f *fields) wrong(column, found, allowed string) {
	f.fail(column, fmt.Errorf("found %.40q, allowed is %s", found, allowed))
}

// text is a field, "" where the column is not there.
func (f *fields) text(column string) string {
	if at, ok := f.at[column]; ok {
		return strings.TrimSpace(f.record[at])
	}
	return ""
}

// job reads one line.
func (l *List) job(at map[string]int, record []string, line int) (Job, error) {
	f := fields{list: l, at: at, record: record}
	j := Job{Name: f.name(line), Grade: f.grade()}
	j.Text, j.Section = f.section()
	j.Pass = section.Pass{Saw: l.Saw, Mitre: f.mitre(), Count: f.count()}
	return j, f.err
}

// section is the section as it is to lie, and how it was given, in one line.
func (f *fields) section() (string, section.Section) {
	text := strings.Join(strings.Fields(f.text(colSection)), " ")
	if !printable(text) {
		f.wrong(colSection, text, "printable text")
	}
	s, err := ReadSection(text, f.list.Metric)
	if err != nil {
		f.fail(colSection, err)
		return text, s
	}
	if lay := f.text(colLay); lay != "" {
		s.Lay = section.Lay(lay)
		f.fail(colLay, s.Check())
	}
	return text, s
}

// printable says whether a terminal shows a text as it is and in one line.
func printable(text string) bool {
	return utf8.ValidString(text) && !strings.ContainsFunc(text, func(r rune) bool { return !unicode.IsPrint(r) })
}

// name is what the job is called.
func (f *fields) name(line int) string {
	name := f.text(colJob)
	if name == "" {
		return fmt.Sprintf("line %d", line)
	}
	if utf8.RuneCountInString(name) > 64 || !printable(name) {
		f.wrong(colJob, name, "one line of at most 64 characters, or nothing")
	}
	return name
}

func (f *fields) mitre() float64 {
	text := f.text(colMitre)
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
		f.wrong(colMitre, text, allowed)
	}
	return x
}

func (f *fields) count() int {
	text := f.text(colCount)
	if text == "" {
		return 1
	}
	n, err := strconv.Atoi(text)
	if err != nil || n < 1 || n > mostBars {
		f.wrong(colCount, text, fmt.Sprintf("1 to %d bars, or nothing for 1", mostBars))
	}
	return n
}

func (f *fields) grade() *analyze.Grade {
	name := f.text(colGrade)
	if name == "" {
		return f.list.Grade
	}
	if f.list.Grades != nil {
		if g, ok := f.list.Grades(name); ok {
			return &g
		}
	}
	f.wrong(colGrade, name, "a configured grade, which gullet check --print lists, or nothing")
	return nil
}
