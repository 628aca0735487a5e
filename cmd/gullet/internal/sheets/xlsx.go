package sheets

import (
	"bytes"
	"errors"
	"fmt"
	"strings"
	"time"
	"unicode/utf8"

	"github.com/xuri/excelize/v2"
)

// XLSX writes tables as a workbook, a sheet for each. Numbers are numbers, and times are
// those on the wall of their zone. No cell is a formula.
func XLSX(title string, made time.Time, tables []Table) (content []byte, err error) {
	f := excelize.NewFile()
	defer func() { err = errors.Join(err, f.Close()) }()
	w := workbook{File: f}
	w.styles()
	for i := range tables {
		t := &tables[i]
		if i == 0 {
			w.note(f.SetSheetName("Sheet1", t.Title))
		} else {
			_, err := f.NewSheet(t.Title)
			w.note(err)
		}
		w.write(t)
		w.printed(t)
	}
	w.note(f.SetDocProps(&excelize.DocProperties{Title: title, Creator: "Gullet", Created: made.Format(time.RFC3339), Modified: made.Format(time.RFC3339)}))
	var b bytes.Buffer
	w.note(f.Write(&b))
	if w.err != nil {
		return nil, fmt.Errorf("write a workbook: %w", w.err)
	}
	return b.Bytes(), nil
}

// workbook is one in the making. Its first error is kept.
type workbook struct {
	*excelize.File
	head  int // style of the header row
	cells map[Form]int
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
var formats = map[Form]string{
	Whole: "#,##0", Amount: "#,##0.00", Tenth: "0.0", Moment: "ddd yyyy-mm-dd hh:mm",
	Share: `0" "%`, Chance: `[<0.01]"under 1 %";[>0.99]"over 99 %";0" "%`,
}

func (w *workbook) styles() {
	top := excelize.Alignment{Vertical: "top", WrapText: true}
	line := []excelize.Border{{Type: "bottom", Style: 2, Color: "000000"}}
	w.head = w.style(&excelize.Style{Font: &excelize.Font{Bold: true}, Alignment: &top, Border: line})
	w.cells = map[Form]int{Text: w.style(&excelize.Style{Alignment: &top})}
	for f, format := range formats {
		w.cells[f] = w.style(&excelize.Style{CustomNumFmt: &format, Alignment: &excelize.Alignment{Vertical: "top"}})
	}
}

// write fills a sheet in.
func (w *workbook) write(t *Table) {
	for c, head := range t.Heads {
		name, err := excelize.ColumnNumberToName(c + 1)
		w.note(err)
		w.note(w.SetCellStr(t.Title, name+"1", head))
		for r, row := range t.Rows {
			w.set(t.Title, fmt.Sprintf("%s%d", name, r+2), row[c])
		}
		w.note(w.SetColStyle(t.Title, name, w.cells[t.Forms[c]]))
		w.note(w.SetColWidth(t.Title, name, name, t.width(c)))
	}
	w.note(w.SetRowStyle(t.Title, 1, 1, w.head))
	for r := range len(t.Rows) + 1 {
		w.note(w.SetRowHeight(t.Title, r+1, t.height(r)))
	}
}

// set puts a value into a cell; nil and "" leave it empty.
func (w *workbook) set(sheet, cell string, value any) {
	switch v := value.(type) {
	case string:
		if v != "" {
			w.note(w.SetCellStr(sheet, cell, Readable(v)))
		}
	case time.Time:
		w.note(w.SetCellValue(sheet, cell, wall(v)))
	case int, float64:
		w.note(w.SetCellValue(sheet, cell, v))
	}
}

// The least and the greatest width of a column, and that of a moment, in letters.
const narrow, broad, momentWide = 12, 40, 24

// width is that of a column's longest text, within limits; what is longer is wrapped.
func (t *Table) width(c int) float64 {
	if t.Forms[c] == Moment {
		return momentWide
	}
	widest := narrow
	for _, row := range t.Rows {
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
func (t *Table) height(r int) float64 {
	most := 1
	for c, head := range t.Heads {
		text := head
		if r > 0 {
			text, _ = t.Rows[r-1][c].(string)
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
func (w *workbook) printed(t *Table) {
	w.note(w.SetPanes(t.Title, &excelize.Panes{Freeze: true, YSplit: 1, TopLeftCell: "A2", ActivePane: "bottomLeft"}))
	fit, across, width, height := true, "landscape", 1, 0
	w.note(w.SetSheetProps(t.Title, &excelize.SheetPropsOptions{FitToPage: &fit}))
	w.note(w.SetPageLayout(t.Title, &excelize.PageLayoutOptions{Orientation: &across, FitToWidth: &width, FitToHeight: &height}))
	w.note(w.SetDefinedName(&excelize.DefinedName{Name: "_xlnm.Print_Titles", RefersTo: t.Title + "!$1:$1", Scope: t.Title}))
}
