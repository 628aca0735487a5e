package lives

import (
	"bufio"
	"cmp"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"
)

// List says how a shop's own list is to be read.
type List struct {
	File       string // for messages
	By         string // "", ByNone, ByClass or the name of a column to group by
	Reference  string // class of weight 1, "" for the first
	Covariates []string
	// Severity is the configured wear per in² of a class or grade, if any.
	Severity func(class string) (float64, bool)
}

// The columns of a list. Classes have one each, classPrefix and their name.
const (
	colArea     = "area"
	colEnded    = "ended"
	colStart    = "start"
	colCause    = "cause"
	colGroup    = "group"
	colLast     = "last_class"
	colBends    = "bends"
	colPrice    = "price"
	classPrefix = "area:"
)

// running is the cause by which a list says that a blade is still on a saw.
const running = "running"

// sumTolerance is how far the areas by class may be from the whole area: they
// are often rounded one by one.
const sumTolerance = 0.01

// smallest and greatest bound the size of every number of a list but 0. What is beyond
// is a slip, and sums of such numbers would overflow.
const smallest, greatest = 1e-9, 1e12

// byteOrderMark begins the lists that some programs write.
const byteOrderMark = "\ufeff"

// Read reads a list in CSV with a header line, one blade a line. Columns it does
// not know are left alone. The first thing that is wrong stops it with an error
// that says file, line, column and what is allowed.
func Read(in io.Reader, l List) (*Data, error) {
	text := bufio.NewReader(in)
	if mark, _ := text.Peek(len(byteOrderMark)); string(mark) == byteOrderMark {
		_, _ = text.Discard(len(mark)) // what was peeked at is there
	}
	r := csv.NewReader(text)
	r.FieldsPerRecord = -1 // a short line is told in our words
	r.TrimLeadingSpace = true
	header, err := r.Read()
	if err != nil {
		return nil, l.broken(err, "the file is empty: allowed is a header line that names at least the columns area and ended")
	}
	h, err := l.header(header)
	if err != nil {
		return nil, err
	}
	d := &Data{Covariates: l.Covariates, Reference: h.reference}
	for _, c := range h.classes {
		d.Classes = append(d.Classes, Class{Name: c.name, Severity: l.severity(c.name)})
	}
	for {
		record, err := r.Read()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return nil, l.broken(err, "")
		}
		line, _ := r.FieldPos(0)
		row, err := h.row(record, line)
		if err != nil {
			return nil, fmt.Errorf("%s, line %d, %w", l.File, line, err)
		}
		d.Rows = append(d.Rows, row)
	}
	if len(d.Rows) == 0 {
		return nil, fmt.Errorf("%s: no blade stands below the header line", l.File)
	}
	return d, nil
}

// broken is an error of the form of the file.
func (l *List) broken(err error, empty string) error {
	var parse *csv.ParseError
	switch {
	case errors.Is(err, io.EOF):
		return fmt.Errorf("%s: %s", l.File, empty)
	case errors.As(err, &parse):
		return fmt.Errorf("%s, line %d: %w: a text with a comma or a quote stands in double quotes, quotes within it doubled", l.File, parse.Line, parse.Err)
	}
	return fmt.Errorf("read %s: %w", l.File, err)
}

func (l *List) severity(class string) float64 {
	if l.Severity != nil {
		if s, ok := l.Severity(class); ok {
			return s
		}
	}
	return math.NaN()
}

// header is where each column stands.
type header struct {
	list       *List
	width      int
	at         map[string]int
	classes    []classColumn
	reference  int
	covariates []int
	by         int // column of the groups, -1 for none, or for the class cut most
}

type classColumn struct {
	name string
	at   int
}

func (l *List) header(names []string) (*header, error) {
	h := &header{list: l, width: len(names), at: map[string]int{}, by: -1}
	for i, name := range names {
		name = strings.TrimSpace(name)
		if name == "" {
			continue
		}
		if _, twice := h.at[name]; twice {
			return nil, fmt.Errorf("%s, line 1, column %s: the column stands there twice, allowed is once", l.File, name)
		}
		h.at[name] = i
		if class, ok := strings.CutPrefix(name, classPrefix); ok {
			if class = strings.TrimSpace(class); class == "" {
				return nil, fmt.Errorf("%s, line 1, column %q: allowed is area: and the name of a class of material", l.File, name)
			}
			if slices.Contains(h.names(), class) {
				return nil, fmt.Errorf("%s, line 1, column %s: the class %s stands there twice, allowed is once", l.File, name, class)
			}
			h.classes = append(h.classes, classColumn{class, i})
		}
	}
	for _, name := range []string{colArea, colEnded} {
		if _, ok := h.at[name]; !ok {
			return nil, fmt.Errorf("%s, line 1: the column %s is missing; found %s", l.File, name, strings.Join(quoted(names), ", "))
		}
	}
	return h, h.choose(names)
}

// choose finds the columns that the flags name.
func (h *header) choose(names []string) error {
	l := h.list
	missing := func(flag, name, column string) error {
		return fmt.Errorf("%s %s: %s has no column %s; found %s", flag, name, l.File, column, strings.Join(quoted(names), ", "))
	}
	for _, name := range l.Covariates {
		at, ok := h.at[name]
		if !ok {
			return missing("--covariate", name, name)
		}
		h.covariates = append(h.covariates, at)
	}
	if l.Reference != "" {
		h.reference = slices.IndexFunc(h.classes, func(c classColumn) bool { return c.name == l.Reference })
		if h.reference < 0 {
			return missing("--reference", l.Reference, classPrefix+l.Reference)
		}
	}
	switch by := l.By; {
	case by == ByNone:
	case by == ByClass:
		if len(h.classes) == 0 {
			return missing("--by", by, classPrefix+"CLASS")
		}
		if slices.Contains(h.names(), all) {
			return fmt.Errorf("%s, line 1, column %s%s: with --by class allowed is any other name: %s", l.File, classPrefix, all, allStands)
		}
	case by == "":
		if at, ok := h.at[colGroup]; ok {
			h.by = at
		}
	default:
		at, ok := h.at[by]
		if !ok {
			return missing("--by", by, by)
		}
		h.by = at
	}
	return nil
}

const allStands = all + " stands for every blade together"

func quoted(names []string) []string {
	list := make([]string, len(names))
	for i, name := range names {
		list[i] = strconv.Quote(strings.TrimSpace(name))
	}
	return list
}

// row reads one blade. Its errors begin with the column.
func (h *header) row(record []string, line int) (Row, error) {
	if len(record) != h.width {
		return Row{}, fmt.Errorf("found %s, allowed is %d as in the header line", plural(len(record), "field", "fields"), h.width)
	}
	f := fields{h: h, record: record}
	r := Row{Name: fmt.Sprintf("line %d", line), Group: all, Last: -1, LastWear: 1}
	r.Area, _ = f.number(colArea, true, "a number above 0", func(x float64) bool { return x > 0 })
	r.Ended = f.oneOf(colEnded, "0", "1") == "1"
	most := fmt.Sprintf("a number from 0 to the area, %v", r.Area)
	if r.Ended {
		most = fmt.Sprintf("a number from 0 to less than the area the blade ended at, %v", r.Area)
	}
	r.Start, _ = f.number(colStart, false, most, func(x float64) bool { return 0 <= x && (x < r.Area || !r.Ended && x == r.Area) })
	if cause := f.text(colCause); r.Ended {
		r.Cause, r.Off = cause, true
		if cause == running {
			f.wrong(colCause, cause, "how the blade ended: ended is 1")
		}
	} else {
		r.Off = cause != running
	}
	if x, ok := f.number(colPrice, false, "a number above 0, or nothing", func(x float64) bool { return x > 0 }); ok {
		r.Price = &x
	}
	if x, ok := f.number(colBends, false, "a number above 0, or nothing", func(x float64) bool { return x > 0 }); ok {
		perArea := x / r.Area
		r.Bends, r.BendsPerArea = &x, &perArea
	}
	f.classes(&r)
	f.groups(&r)
	for i, at := range h.covariates {
		x, _ := f.numberAt(at, h.list.Covariates[i], true, "a number", func(float64) bool { return true })
		r.X = append(r.X, x)
	}
	return r, f.err
}

// fields reads one line and keeps the first thing that is wrong.
type fields struct {
	h      *header
	record []string
	err    error
}

func (f *fields) wrong(column, found, allowed string) {
	if f.err == nil {
		f.err = fmt.Errorf("column %s: found %q, allowed is %s", column, found, allowed)
	}
}

// text is a field, "" where the column is not there.
func (f *fields) text(column string) string {
	if at, ok := f.h.at[column]; ok {
		return strings.TrimSpace(f.record[at])
	}
	return ""
}

func (f *fields) oneOf(column string, allowed ...string) string {
	text := f.text(column)
	if !slices.Contains(allowed, text) {
		f.wrong(column, text, strings.Join(allowed, " or "))
	}
	return text
}

// number is a field as a number, and whether one stands there.
func (f *fields) number(column string, required bool, allowed string, ok func(float64) bool) (float64, bool) {
	if at, there := f.h.at[column]; there {
		return f.numberAt(at, column, required, allowed, ok)
	}
	return 0, false
}

func (f *fields) numberAt(at int, column string, required bool, allowed string, ok func(float64) bool) (float64, bool) {
	text := strings.TrimSpace(f.record[at])
	if text == "" && !required {
		return 0, false
	}
	x, err := strconv.ParseFloat(text, 64)
	if err != nil || math.IsNaN(x) || math.IsInf(x, 0) || !ok(x) {
		f.wrong(column, text, allowed)
		return 0, false
	}
	if size := math.Abs(x); size != 0 && (size < smallest || size > greatest) {
		f.wrong(column, text, fmt.Sprintf("a number of a size from %g to %g", smallest, greatest))
	}
	return x, true
}

// classes reads what was cut by class, and the class of the last cut.
func (f *fields) classes(r *Row) {
	if len(f.h.classes) == 0 {
		return
	}
	r.Cut = make([]float64, len(f.h.classes))
	sum := 0.0
	for i, c := range f.h.classes {
		r.Cut[i], _ = f.numberAt(c.at, classPrefix+c.name, false, "a number of 0 or more, or nothing for 0", func(x float64) bool { return x >= 0 })
		sum += r.Cut[i]
	}
	if f.err == nil && math.Abs(sum-r.Area) > sumTolerance*r.Area {
		f.err = fmt.Errorf("column %s: the areas by class add up to %v, allowed is the area, %v, to 1 %%", classPrefix+f.h.classes[0].name, sum, r.Area)
	}
	last := f.text(colLast)
	if last == "" {
		return
	}
	r.Last = slices.IndexFunc(f.h.classes, func(c classColumn) bool { return c.name == last })
	switch {
	case r.Last < 0:
		f.wrong(colLast, last, "a class that has a column: "+strings.Join(f.h.names(), ", "))
	case r.Ended && r.Cut[r.Last] == 0:
		f.wrong(colLast, last, "a class that the blade cut")
	}
}

func (h *header) names() []string {
	names := make([]string, len(h.classes))
	for i, c := range h.classes {
		names[i] = c.name
	}
	return names
}

// groups puts the blade into its group.
func (f *fields) groups(r *Row) {
	switch {
	case f.h.by >= 0:
		r.Group = named(strings.TrimSpace(f.record[f.h.by]), "("+notSaid+")")
	case f.h.list.By == ByClass:
		best := 0
		for i := range r.Cut {
			if r.Cut[i] > r.Cut[best] {
				best = i
			}
		}
		r.Group = f.h.classes[best].name
		return // cut material does not make another kind of blade
	}
	r.Kind = r.Group
	if r.Group == all && f.h.by >= 0 {
		f.wrong(cmp.Or(f.h.list.By, colGroup), all, "any other name: "+allStands)
	}
}
