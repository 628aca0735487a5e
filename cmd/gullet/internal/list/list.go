// Package list reads what a shop keeps in a CSV file: a header line that names
// the columns, in any order, and one thing a line. Columns nobody asks for are
// left alone. It knows no column's meaning, and every mistake is told in one line
// that says file, line, column and what is allowed.
package list

import (
	"bufio"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"
)

// smallest and greatest bound the size of every number but 0. What is beyond is a
// slip, and sums of such numbers would overflow.
const smallest, greatest = 1e-9, 1e12

// byteOrderMark begins the lists that some programs write.
const byteOrderMark = "\ufeff"

// List is an open list.
type List struct {
	File  string   // for messages
	Names []string // of the columns, as they stand
	Line  int      // of the header, from 1

	at map[string]int
	r  *csv.Reader
}

// Open reads the header line, which must name the required columns and no column
// twice.
func Open(in io.Reader, file string, required ...string) (*List, error) {
	text := bufio.NewReader(in)
	if mark, _ := text.Peek(len(byteOrderMark)); string(mark) == byteOrderMark {
		_, _ = text.Discard(len(mark)) // what was peeked at is there
	}
	l := &List{File: file, at: map[string]int{}, r: csv.NewReader(text)}
	l.r.FieldsPerRecord = -1 // a short line is told in our words
	l.r.TrimLeadingSpace = true
	header, err := l.r.Read()
	if errors.Is(err, io.EOF) {
		return nil, fmt.Errorf("%s: the file is empty: allowed is a header line that names at least the %s %s", file, plural(len(required), "column"), strings.Join(required, " and "))
	}
	if err != nil {
		return nil, l.broken(err)
	}
	l.Line, _ = l.r.FieldPos(0)
	for i, name := range header {
		name = strings.TrimSpace(name)
		l.Names = append(l.Names, name)
		if name == "" {
			continue
		}
		if l.Has(name) {
			return nil, fmt.Errorf("%s, line %d, column %s: the column stands there twice, allowed is once", file, l.Line, Shown(name))
		}
		l.at[name] = i
	}
	for _, name := range required {
		if !l.Has(name) {
			return nil, fmt.Errorf("%s, line %d: the column %s is missing; found %s", file, l.Line, name, l.Found())
		}
	}
	return l, nil
}

// Has reports whether there is a column of that name.
func (l *List) Has(name string) bool {
	_, ok := l.at[name]
	return ok
}

// Found lists the columns that are there, for messages.
func (l *List) Found() string {
	quoted := make([]string, len(l.Names))
	for i, name := range l.Names {
		quoted[i] = strconv.Quote(name)
	}
	return strings.Join(quoted, ", ")
}

// Shown is the name of a column in a message: as it stands in the file, quoted
// where it would not show so in one line.
func Shown(name string) string {
	if quoted := strconv.Quote(name); quoted != `"`+name+`"` {
		return quoted
	}
	return name
}

// plural is a noun as it goes with a count.
func plural(n int, one string) string {
	if n == 1 {
		return one
	}
	return one + "s"
}

// broken is an error of the form of the file.
func (l *List) broken(err error) error {
	var parse *csv.ParseError
	if errors.As(err, &parse) {
		return fmt.Errorf("%s, line %d: %w: a text with a comma or a quote stands in double quotes, quotes within it doubled", l.File, parse.Line, parse.Err)
	}
	return fmt.Errorf("read %s: %w", l.File, err)
}

// Each reads every line that is not empty, up to the first that is wrong. There
// must be one; thing is what stands in a line, for messages.
func (l *List) Each(thing string, read func(*Row)) error {
	for n := 0; ; n++ {
		r, err := l.Next()
		switch {
		case errors.Is(err, io.EOF) && n == 0:
			return fmt.Errorf("%s: no %s stands below the header line", l.File, thing)
		case errors.Is(err, io.EOF):
			return nil
		case err != nil:
			return err
		}
		read(r)
		if err := r.Err(); err != nil {
			return err
		}
	}
}

// Next reads the next line that is not empty; at the end it returns io.EOF.
func (l *List) Next() (*Row, error) {
	record, err := l.r.Read()
	if errors.Is(err, io.EOF) {
		return nil, io.EOF
	}
	if err != nil {
		return nil, l.broken(err)
	}
	line, _ := l.r.FieldPos(0)
	if n := len(record); n != len(l.Names) {
		return nil, fmt.Errorf("%s, line %d, found %d %s, allowed is %d as in the header line", l.File, line, n, plural(n, "field"), len(l.Names))
	}
	return &Row{Line: line, list: l, record: record}, nil
}

// Row is one line. The first thing that is wrong with it is kept.
type Row struct {
	Line int // of the file, from 1

	list   *List
	record []string
	err    error
}

// Err is the first thing that was found wrong.
func (r *Row) Err() error {
	if r.err == nil {
		return nil
	}
	return fmt.Errorf("%s, line %d, %w", r.list.File, r.Line, r.err)
}

// Fail notes that something is wrong, in words that begin with the column.
func (r *Row) Fail(format string, args ...any) {
	if r.err == nil {
		r.err = fmt.Errorf(format, args...)
	}
}

// Wrong notes a field that is none of what is allowed, and how it begins.
func (r *Row) Wrong(column, found, allowed string) {
	r.Fail("column %s: found %.40q, allowed is %s", Shown(column), found, allowed)
}

// Text is a field, "" where the column is not there.
func (r *Row) Text(column string) string {
	if at, ok := r.list.at[column]; ok {
		return strings.TrimSpace(r.record[at])
	}
	return ""
}

// OneOf is a field that must be one of some texts.
func (r *Row) OneOf(column string, allowed ...string) string {
	text := r.Text(column)
	if !slices.Contains(allowed, text) {
		words := strings.Join(slices.DeleteFunc(slices.Clone(allowed), func(s string) bool { return s == "" }), " or ")
		if slices.Contains(allowed, "") {
			words += ", or empty"
		}
		r.Wrong(column, text, words)
	}
	return text
}

// Number is a field as a number that is ok, and whether one stands there. A field
// that is required must not be empty.
func (r *Row) Number(column string, required bool, allowed string, ok func(float64) bool) (float64, bool) {
	text := r.Text(column)
	if text == "" && !required {
		return 0, false
	}
	x, err := strconv.ParseFloat(text, 64)
	if err != nil || math.IsNaN(x) || math.IsInf(x, 0) || !ok(x) {
		r.Wrong(column, text, allowed)
		return 0, false
	}
	if size := math.Abs(x); size != 0 && (size < smallest || size > greatest) {
		r.Wrong(column, text, fmt.Sprintf("a number of a size from %g to %g", smallest, greatest))
		return 0, false
	}
	return x, true
}
