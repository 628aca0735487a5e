package sheets

import (
	"strings"
	"time"
)

// Form is how the values of a column are written.
type Form int

// The forms.
const (
	Text   Form = iota
	Whole       // areas, minutes and counts
	Amount      // of money, to the hundredth
	Tenth       // to one decimal
	Chance      // 0 to 1, estimated
	Share       // 0 to 1, counted
	Moment      // time.Time
)

// Column is one column of a table of things of one kind. It has no name of its own, so
// that a list of columns reads as a table.
type Column[T any] = struct {
	Name  string // in a CSV, with its unit
	Head  string // in a workbook, with its unit
	Form  Form
	Value func(T) any // string, float64, int or time.Time; nil is unknown
}

// Table is columns filled in.
type Table struct {
	Title string
	Names []string
	Heads []string
	Forms []Form
	Rows  [][]any
}

// Tabled fills the columns in, a row for each of a list.
func Tabled[T any](title string, columns []Column[T], list []T) Table {
	t := Table{Title: title, Rows: make([][]any, len(list))}
	for _, c := range columns {
		t.Names = append(t.Names, c.Name)
		t.Heads = append(t.Heads, c.Head)
		t.Forms = append(t.Forms, c.Form)
		for i, of := range list {
			t.Rows[i] = append(t.Rows[i], c.Value(of))
		}
	}
	return t
}

// Known is what a pointer points to; nil is unknown.
func Known[T any](x *T) any {
	if x == nil {
		return nil
	}
	return *x
}

// Notes is a table of what must be known of a file: what, and what it says.
func Notes(list [][2]string) Table {
	return Tabled("Notes", []Column[[2]string]{
		{"", "What", Text, func(n [2]string) any { return n[0] }},
		{"", "Says", Text, func(n [2]string) any { return n[1] }},
	}, list)
}

// Readable is a text in which a line ends in LF alone and all else is letters: bytes
// that are none and control characters other than TAB become U+FFFD.
func Readable(text string) string {
	text = strings.NewReplacer("\r\n", "\n", "\r", "\n").Replace(strings.ToValidUTF8(text, "\ufffd"))
	return strings.Map(func(r rune) rune {
		if r < ' ' && r != '\t' && r != '\n' || r == 0x7f {
			return '\ufffd'
		}
		return r
	}, text)
}

// wall is a moment as its zone's clock shows it, for programs that know no zones.
func wall(t time.Time) time.Time {
	return time.Date(t.Year(), t.Month(), t.Day(), t.Hour(), t.Minute(), t.Second(), 0, time.UTC)
}
