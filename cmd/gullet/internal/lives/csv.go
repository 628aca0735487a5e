package lives

import (
	"fmt"
	"io"
	"math"
	"slices"
	"strings"

	"gullet/cmd/gullet/internal/list"
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

// Read reads a list in CSV with a header line, one blade a line. Columns it does
// not know are left alone. The first thing that is wrong stops it with an error
// that says file, line, column and what is allowed.
func Read(in io.Reader, l List) (*Data, error) {
	open, err := list.Open(in, l.File, colArea, colEnded)
	if err != nil {
		return nil, err
	}
	h, err := l.header(open)
	if err != nil {
		return nil, err
	}
	d := &Data{Covariates: l.Covariates, Reference: h.reference}
	for _, c := range h.classes {
		d.Classes = append(d.Classes, Class{Name: c.name, Severity: l.severity(c.name)})
	}
	err = open.Each("blade", func(r *list.Row) { d.Rows = append(d.Rows, fields{r, h}.row()) })
	if err != nil {
		return nil, err
	}
	return d, nil
}

func (l *List) severity(class string) float64 {
	if l.Severity != nil {
		if s, ok := l.Severity(class); ok {
			return s
		}
	}
	return math.NaN()
}

// header is what a list has beyond the columns that every list may have.
type header struct {
	list      *List
	classes   []classColumn
	reference int
	by        string // column of the groups, "" for none, or for the class cut most
}

type classColumn struct{ name, column string }

func (l *List) header(open *list.List) (*header, error) {
	h := &header{list: l}
	for _, column := range open.Names {
		class, ok := strings.CutPrefix(column, classPrefix)
		if !ok {
			continue
		}
		if class = strings.TrimSpace(class); class == "" {
			return nil, fmt.Errorf("%s, line %d, column %q: allowed is area: and the name of a class of material", l.File, open.Line, column)
		}
		if slices.Contains(h.names(), class) {
			return nil, fmt.Errorf("%s, line %d, column %s: the class %s stands there twice, allowed is once", l.File, open.Line, list.Shown(column), list.Shown(class))
		}
		h.classes = append(h.classes, classColumn{class, column})
	}
	return h, h.choose(open)
}

// choose finds the columns that the flags name.
func (h *header) choose(open *list.List) error {
	l := h.list
	missing := func(flag, name, column string) error {
		return fmt.Errorf("%s %s: %s has no column %s; found %s", flag, name, l.File, column, open.Found())
	}
	for _, name := range l.Covariates {
		if !open.Has(name) {
			return missing("--covariate", name, name)
		}
	}
	if l.Reference != "" {
		h.reference = slices.Index(h.names(), l.Reference)
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
			return fmt.Errorf("%s, line %d, column %s%s: with --by class allowed is any other name: %s", l.File, open.Line, classPrefix, all, allStands)
		}
	case by != "" && !open.Has(by):
		return missing("--by", by, by)
	case by != "":
		h.by = by
	case open.Has(colGroup):
		h.by = colGroup
	}
	return nil
}

const allStands = all + " stands for every blade together"

// fields reads one line.
type fields struct {
	*list.Row
	h *header
}

// row is one blade.
func (f fields) row() Row {
	r := Row{Name: fmt.Sprintf("line %d", f.Line), Group: all, Last: -1, LastWear: 1}
	r.Area, _ = f.Number(colArea, true, "a number above 0", func(x float64) bool { return x > 0 })
	r.Ended = f.OneOf(colEnded, "0", "1") == "1"
	most := fmt.Sprintf("a number from 0 to the area, %v", r.Area)
	if r.Ended {
		most = fmt.Sprintf("a number from 0 to less than the area the blade ended at, %v", r.Area)
	}
	r.Start, _ = f.Number(colStart, false, most, func(x float64) bool { return 0 <= x && (x < r.Area || !r.Ended && x == r.Area) })
	if cause := f.Text(colCause); r.Ended {
		r.Cause, r.Off = cause, true
		if cause == running {
			f.Wrong(colCause, cause, "how the blade ended: ended is 1")
		}
	} else {
		r.Off = cause != running
	}
	if x, ok := f.Number(colPrice, false, "a number above 0, or nothing", func(x float64) bool { return x > 0 }); ok {
		r.Price = &x
	}
	if x, ok := f.Number(colBends, false, "a number above 0, or nothing", func(x float64) bool { return x > 0 }); ok {
		perArea := x / r.Area
		r.Bends, r.BendsPerArea = &x, &perArea
	}
	f.classes(&r)
	f.groups(&r)
	for _, column := range f.h.list.Covariates {
		x, _ := f.Number(column, true, "a number", func(float64) bool { return true })
		r.X = append(r.X, x)
	}
	return r
}

// classes reads what was cut by class, and the class of the last cut.
func (f fields) classes(r *Row) {
	if len(f.h.classes) == 0 {
		return
	}
	r.Cut = make([]float64, len(f.h.classes))
	sum := 0.0
	for i, c := range f.h.classes {
		r.Cut[i], _ = f.Number(c.column, false, "a number of 0 or more, or nothing for 0", func(x float64) bool { return x >= 0 })
		sum += r.Cut[i]
	}
	if math.Abs(sum-r.Area) > sumTolerance*r.Area {
		f.Fail("column %s: the areas by class add up to %v, allowed is the area, %v, to 1 %%", list.Shown(f.h.classes[0].column), sum, r.Area)
	}
	last := f.Text(colLast)
	if last == "" {
		return
	}
	r.Last = slices.Index(f.h.names(), last)
	switch {
	case r.Last < 0:
		f.Wrong(colLast, last, "a class that has a column: "+strings.Join(f.h.names(), ", "))
	case r.Ended && r.Cut[r.Last] == 0:
		f.Wrong(colLast, last, "a class that the blade cut")
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
func (f fields) groups(r *Row) {
	switch {
	case f.h.by != "":
		r.Group = named(f.Text(f.h.by), "("+notSaid+")")
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
	if r.Group == all && f.h.by != "" {
		f.Wrong(f.h.by, all, "any other name: "+allStands)
	}
}
