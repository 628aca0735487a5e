package planfile

import (
	"bytes"
	"errors"
	"fmt"
	"strings"
	"time"
	"unicode/utf8"

	"github.com/xuri/excelize/v2"
)

// XLSX writes the plan as a workbook: changes, saws, jobs, shelf and notes. Numbers
// are numbers, and times are those on the wall in the shop's zone. No cell is a
// formula.
func XLSX(p *Plan) (content []byte, err error) {
	f := excelize.NewFile()
	defer func() { err = errors.Join(err, f.Close()) }()
	w := workbook{File: f}
	w.styles()
	for i, t := range []table{p.changes(), p.saws(), p.jobs(), p.shelf(), p.notes()} {
		if i == 0 {
			w.note(f.SetSheetName("Sheet1", t.title))
		} else {
			_, err := f.NewSheet(t.title)
			w.note(err)
		}
		w.write(&t)
		w.printed(&t)
	}
	w.note(f.SetDocProps(&excelize.DocProperties{Title: "Change plan", Creator: "Gullet", Created: p.MadeAt.Format(time.RFC3339), Modified: p.MadeAt.Format(time.RFC3339)}))
	var b bytes.Buffer
	w.note(f.Write(&b))
	if w.err != nil {
		return nil, fmt.Errorf("write the plan as a workbook: %w", w.err)
	}
	return b.Bytes(), nil
}

// workbook is one in the making. Its first error is kept.
type workbook struct {
	*excelize.File
	head  int // style of the header row
	cells map[form]int
	err   error
}

func (w *workbook) note(err error) {
	if w.err == nil {
		w.err = err
	}
}

func (w *workbook) style(s *excelize.Style) int {
	id, err := w.NewStyle(s)
	w.note(err)
	return id
}

// formats are how a workbook shows the forms. A chance is never shown as certain.
var formats = map[form]string{
	whole: "#,##0", amount: "#,##0.00", tenth: "0.0", moment: "ddd yyyy-mm-dd hh:mm",
	chance: `[<0.01]"under 1 %";[>0.99]"over 99 %";0" "%`,
}

func (w *workbook) styles() {
	top := excelize.Alignment{Vertical: "top", WrapText: true}
	line := []excelize.Border{{Type: "bottom", Style: 2, Color: "000000"}}
	w.head = w.style(&excelize.Style{Font: &excelize.Font{Bold: true}, Alignment: &top, Border: line})
	w.cells = map[form]int{text: w.style(&excelize.Style{Alignment: &top})}
	for f, format := range formats {
		w.cells[f] = w.style(&excelize.Style{CustomNumFmt: &format, Alignment: &excelize.Alignment{Vertical: "top"}})
	}
}

// write fills a sheet in.
func (w *workbook) write(t *table) {
	for c, head := range t.heads {
		name, err := excelize.ColumnNumberToName(c + 1)
		w.note(err)
		w.note(w.SetCellStr(t.title, name+"1", head))
		for r, row := range t.rows {
			w.set(t.title, fmt.Sprintf("%s%d", name, r+2), row[c])
		}
		w.note(w.SetColStyle(t.title, name, w.cells[t.forms[c]]))
		w.note(w.SetColWidth(t.title, name, name, t.width(c)))
	}
	w.note(w.SetRowStyle(t.title, 1, 1, w.head))
	for r := range len(t.rows) + 1 {
		w.note(w.SetRowHeight(t.title, r+1, t.height(r)))
	}
}

// set puts a value into a cell; nil and "" leave it empty.
func (w *workbook) set(sheet, cell string, value any) {
	switch v := value.(type) {
	case string:
		if v != "" {
			w.note(w.SetCellStr(sheet, cell, readable(v)))
		}
	case time.Time:
		// A workbook knows no zones: the time on the wall is written as if it were UTC.
		wall := time.Date(v.Year(), v.Month(), v.Day(), v.Hour(), v.Minute(), v.Second(), 0, time.UTC)
		w.note(w.SetCellValue(sheet, cell, wall))
	case int, float64:
		w.note(w.SetCellValue(sheet, cell, v))
	}
}

// The least and the greatest width of a column, and that of a moment, in letters.
const narrow, broad, momentWide = 12, 40, 24

// width is that of a column's longest text, within limits; what is longer is wrapped.
func (t *table) width(c int) float64 {
	if t.forms[c] == moment {
		return momentWide
	}
	widest := narrow
	for _, row := range t.rows {
		if s, ok := row[c].(string); ok {
			widest = max(widest, utf8.RuneCountInString(s)+2)
		}
	}
	return float64(min(widest, broad))
}

// wide is the part of a column that counts where texts are wrapped: not every machine
// has a narrow font.
const wide = 0.8

// A line has so many points; a row has no more than a workbook allows.
const lineHigh, rowHighest = 15, 409

// height is that of a row with its texts wrapped, row 0 being the heads: not every
// program works it out when it opens a workbook.
func (t *table) height(r int) float64 {
	most := 1
	for c, head := range t.heads {
		text := head
		if r > 0 {
			text, _ = t.rows[r-1][c].(string)
		}
		most = max(most, lines(text, int(wide*t.width(c))))
	}
	return float64(min(most*lineHigh, rowHighest))
}

// lines are how many a text takes when it is wrapped between words.
func lines(text string, width int) int {
	n, room := 1, width
	for _, word := range strings.Fields(text) {
		long := utf8.RuneCountInString(word)
		if long > room && room < width {
			n, room = n+1, width
		}
		n += (long - 1) / width // a word that is wider than the column is cut
		room -= (long-1)%width + 2
	}
	return n
}

// printed freezes the header row, and prints a sheet across, as wide as the paper and
// with the header row on each page.
func (w *workbook) printed(t *table) {
	w.note(w.SetPanes(t.title, &excelize.Panes{Freeze: true, YSplit: 1, TopLeftCell: "A2", ActivePane: "bottomLeft"}))
	fit, across, width, height := true, "landscape", 1, 0
	w.note(w.SetSheetProps(t.title, &excelize.SheetPropsOptions{FitToPage: &fit}))
	w.note(w.SetPageLayout(t.title, &excelize.PageLayoutOptions{Orientation: &across, FitToWidth: &width, FitToHeight: &height}))
	w.note(w.SetDefinedName(&excelize.DefinedName{Name: "_xlnm.Print_Titles", RefersTo: t.title + "!$1:$1", Scope: t.title}))
}
