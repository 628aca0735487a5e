package planfile

import (
	"bytes"
	"encoding/csv"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/xuri/excelize/v2"

	"gullet/cmd/gullet/internal/golden"
	"gullet/cmd/gullet/internal/planning"
	"gullet/cmd/gullet/internal/sheets"
)

func records(t *testing.T, p *Plan) (names []string, rows []map[string]string) {
	t.Helper()
	content, err := CSV(p)
	if err != nil {
		t.Fatal(err)
	}
	all, err := csv.NewReader(bytes.NewReader(content)).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	for _, record := range all[1:] {
		row := map[string]string{}
		for i, cell := range record {
			row[all[0][i]] = cell
		}
		rows = append(rows, row)
	}
	return all[0], rows
}

func TestEverySawIsOneRowOfTheCSV(t *testing.T) {
	for name, p := range odd(t) {
		t.Run(name, func(t *testing.T) {
			_, rows := records(t, p)
			if len(rows) != len(p.Saws) {
				t.Fatalf("%d rows, want the %d saws", len(rows), len(p.Saws))
			}
			for i, row := range rows {
				if want := sheets.Readable(p.Saws[i].Saw); strings.TrimPrefix(row["saw"], "'") != want {
					t.Errorf("saw %q, want %q", row["saw"], want)
				}
				for column, cell := range row {
					if strings.ContainsAny(cell[:min(1, len(cell))], "=+-@\t\r\n") {
						t.Errorf("%s is %q, which a spreadsheet takes for a formula", column, cell)
					}
					if cell == "" && column != "why" && column != "saw" && !explained(column, row["why"]) {
						t.Errorf("%s of %s is empty, and why says only %q", column, row["saw"], row["why"])
					}
				}
			}
		})
	}
}

// explained says whether a text tells why a column is empty.
func explained(column, why string) bool {
	for prefix, words := range map[string][]string{
		"blade": {"blade:"}, "type": {"type:"}, "cut_": {"cut:"}, "done_": {"window"}, "driven_by": {"window:"}, "from": {"window:"},
		"advice": {"advice:"}, "change_": {"change:", "advice:"}, "because": {"advice:"}, "chance_": {"advice:"}, "on_the_shelf": {"shelf:", "advice:"},
		"cost_one_shift_later": {"at the next shift end:", "advice:"}, "cost_one_shift_after": {"at the shift end after that:", "change:", "advice:"}, "cost_now": {"advice:"}, "cost_as": {"advice:"}, "habit": {"today's habit:", "advice:"},
		"new_blades_changed": {"changed at:", "advice:"}, "new_blades_": {"new blades:", "advice:"}, "run_to_end": {"new blades:", "advice:"},
	} {
		for _, w := range words {
			if strings.HasPrefix(column, prefix) && strings.Contains(why, w) {
				return true
			}
		}
	}
	return false
}

func TestTheCSVIsInTheShopsUnitsAndZone(t *testing.T) {
	p := shop(t)
	_, rows := records(t, p)
	for column, want := range map[string]string{
		"cut_in2": "4321", "done_10_percent_within_in2": "703", "done_90_percent_within_in2": "", "done_10_percent_by": "2026-03-02T17:40:00-06:00",
		"change_at": "2026-03-02T22:00:00-06:00", "cost_as_advised_USD": "64.30", "chance_done_before_0_to_1": "0.125", "habit_USD_per_1000_weighted_in2": "18.75",
	} {
		if got, there := rows[0][column]; got != want || !there {
			t.Errorf("%s is %q, want %q", column, got, want)
		}
	}
	p.Style.Metric, p.Currency = true, "EUR"
	_, rows = records(t, p)
	// 4,321.4 in² are 27,879.9 cm² at 6.4516 cm² to the in² (25.4 mm to the inch, 1959);
	// 18.75 per 1,000 in² are 2.906 per 1,000 cm².
	for column, want := range map[string]string{"cut_cm2": "27880", "done_10_percent_within_cm2": "4540", "habit_EUR_per_1000_weighted_cm2": "2.91"} {
		if got := rows[0][column]; got != want {
			t.Errorf("%s is %q, want %q", column, got, want)
		}
	}
	if got := rows[3]["why"]; !strings.Contains(got, "window: no blade is known to be on the saw") || !strings.Contains(got, "advice: ") {
		t.Errorf("of the saw without a blade it says %q", got)
	}
}

func TestCSVIsGolden(t *testing.T) {
	for name, p := range map[string]*Plan{"plan.csv": shop(t), "empty.csv": odd(t)["no saws"]} {
		content, err := CSV(p)
		if err != nil {
			t.Fatal(err)
		}
		golden.Check(t, name, string(content))
	}
}

// opened reads a workbook back.
func opened(t *testing.T, p *Plan) *excelize.File {
	t.Helper()
	content, err := XLSX(p)
	if err != nil {
		t.Fatal(err)
	}
	f, err := excelize.OpenReader(bytes.NewReader(content))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = f.Close() })
	return f
}

// find is the name of the cell of a column in a row, by its head.
func find(t *testing.T, f *excelize.File, sheet, head string, row int) string {
	t.Helper()
	rows, err := f.GetRows(sheet)
	if err != nil {
		t.Fatal(err)
	}
	for i, cell := range rows[0] {
		if cell == head {
			name, err := excelize.CoordinatesToCellName(i+1, row)
			if err != nil {
				t.Fatal(err)
			}
			return name
		}
	}
	t.Fatalf("sheet %s has no column %q: %q", sheet, head, rows[0])
	return ""
}

func TestEveryPlanIsAWorkbook(t *testing.T) {
	for name, p := range odd(t) {
		t.Run(name, func(t *testing.T) {
			f := opened(t, p)
			jobs := len(p.allJobs())
			for sheet, want := range map[string]int{"Changes": len(p.Changes()), "Saws": len(p.Saws), "Jobs": jobs, "Shelf": len(p.Shelf)} {
				rows, err := f.GetRows(sheet)
				if err != nil || len(rows) != 1+want {
					t.Errorf("%s has %d rows (%v), want a head and %d", sheet, len(rows), err, want)
				}
				panes, err := f.GetPanes(sheet)
				if err != nil || !panes.Freeze || panes.YSplit != 1 {
					t.Errorf("%s: %+v (%v), want the first row frozen", sheet, panes, err)
				}
				id, err := f.GetCellStyle(sheet, "A1")
				if err != nil {
					t.Fatal(err)
				}
				if style, err := f.GetStyle(id); err != nil || style.Font == nil || !style.Font.Bold {
					t.Errorf("%s: head of style %+v (%v), want it bold", sheet, style, err)
				}
				if !slices.ContainsFunc(f.GetDefinedName(), func(n excelize.DefinedName) bool {
					return n.Name == "_xlnm.Print_Titles" && n.Scope == sheet && n.RefersTo == sheet+"!$1:$1"
				}) {
					t.Errorf("%s: the head is not printed on each page", sheet)
				}
				layout, err := f.GetPageLayout(sheet)
				if err != nil || *layout.Orientation != "landscape" || *layout.FitToWidth != 1 {
					t.Errorf("%s: %+v (%v), want it across and one page wide", sheet, layout, err)
				}
			}
			rows, err := f.GetRows("Notes")
			if err != nil || len(rows) < 2 || rows[1][1] != p.caution() {
				t.Errorf("notes %q (%v), want the caution on top", rows, err)
			}
			if len(p.Saws) == 0 {
				return
			}
			cell := find(t, f, "Saws", "Saw", 2)
			if got, err := f.GetCellValue("Saws", cell); got != sheets.Readable(p.Saws[0].Saw) || err != nil {
				t.Errorf("the saw is named %q (%v)", got, err)
			}
			if formula, err := f.GetCellFormula("Saws", cell); formula != "" || err != nil {
				t.Errorf("the name is the formula %q (%v)", formula, err)
			}
		})
	}
}

func TestTheWorkbookSaysWhatTheReportSays(t *testing.T) {
	p := shop(t)
	f := opened(t, p)
	raw := excelize.Options{RawCellValue: true}
	number := func(sheet, head string, row int) float64 {
		t.Helper()
		cell := find(t, f, sheet, head, row)
		text, err := f.GetCellValue(sheet, cell, raw)
		if err != nil {
			t.Fatal(err)
		}
		kind, err := f.GetCellType(sheet, cell)
		if err != nil || kind != excelize.CellTypeUnset && kind != excelize.CellTypeNumber {
			t.Errorf("%s %s is of type %v (%v), want a number", sheet, head, kind, err)
		}
		x, err := strconv.ParseFloat(text, 64)
		if err != nil {
			t.Fatalf("%s %s: %v", sheet, head, err)
		}
		return x
	}
	s := &p.Saws[0]
	for _, c := range []struct {
		sheet, head string
		row         int
		want        float64
	}{
		{"Saws", "Cut (in²)", 2, p.Style.Counted(*s.Area)},
		{"Saws", "10 % done within (in²)", 2, p.Style.Estimated(*s.Window.Area.Q10)},
		{"Saws", "Done before", 2, s.Advise.Odds},
		{"Saws", "At the next shift end (USD)", 2, *s.Advise.CostLater},
		{"Saws", "On the shelf (blades)", 2, 1},
		{"Changes", "As advised (USD)", 3, s.Advise.CostThen}, // s2 is first
		{"Jobs", "Time (h)", 2, 2.25},
		{"Jobs", "This blade finishes it", 3, 0.61},
		{"Shelf", "Used in 14 days, mean (blades)", 2, 4.2},
		{"Shelf", "Reorder at (blades)", 2, 4},
	} {
		if got := number(c.sheet, c.head, c.row); got != c.want {
			t.Errorf("%s, %s: %v, want %v", c.sheet, c.head, got, c.want)
		}
	}
	// The serial number of a day is counted from 1899-12-30 (ECMA-376 part 1, 18.17.4.1, from memory).
	wall, err := excelize.ExcelDateToTime(number("Saws", "Change at", 2), false)
	if want := time.Date(2026, 3, 2, 22, 0, 0, 0, time.UTC); err != nil || wall.Round(time.Second) != want {
		t.Errorf("change at %s (%v), want %s as on the wall", wall, err, want)
	}
	for _, c := range []struct {
		sheet, head string
		row         int
		want        string
	}{
		{"Saws", "Change at", 2, "Mon 2026-03-02 22:00"},
		{"Saws", "90 % done by", 2, ""},
		{"Saws", "Change at", 4, ""},
		{"Saws", "Advice", 4, "run on"},
		{"Saws", "Changed now (USD)", 5, ""},
		{"Saws", "Cut (in²)", 5, ""},
		{"Changes", "Shift", 3, "Mon 2 Mar, late"},
		{"Changes", "Have on hand", 3, "one blade " + s.Type + "; on the shelf: 1, taken by earlier changes of this plan"},
		{"Jobs", "Late", 2, "no"},
		{"Jobs", "Why cells are empty", 3, "teeth: nothing is known to go wrong"},
		{"Jobs", "Late", 3, "LATE"},
		{"Shelf", "On hand (blades)", 3, ""},
		{"Shelf", "Order by", 3, "unknown: saw s4: what its blade has left is unknown"},
	} {
		if got, err := f.GetCellValue(c.sheet, find(t, f, c.sheet, c.head, c.row)); got != c.want || err != nil {
			t.Errorf("%s, %s in row %d is %q (%v), want %q", c.sheet, c.head, c.row, got, err, c.want)
		}
	}
}

// On the night the clock is put back, 01:30 comes twice: both read so on the wall.
func TestAWorkbookShowsTheWallOnANightOfTheClock(t *testing.T) {
	p := shop(t)
	for _, at := range []time.Time{time.Date(2026, 11, 1, 6, 30, 0, 0, time.UTC), time.Date(2026, 11, 1, 7, 30, 0, 0, time.UTC)} {
		p.Saws[0].Advise.At = &at
		f := opened(t, p)
		if got, err := f.GetCellValue("Saws", find(t, f, "Saws", "Change at", 2)); got != "Sun 2026-11-01 01:30" || err != nil {
			t.Errorf("%s is %q (%v)", at, got, err)
		}
	}
}

func TestTheShelfIsTakenFromInOrder(t *testing.T) {
	saw := func(kind string, hand *int) *planning.Saw {
		return &planning.Saw{Type: kind, Advise: &planning.Advice{OnHand: hand}}
	}
	got := needs([]*planning.Saw{saw("a", ptr(1)), saw("b", ptr(0)), saw("a", ptr(1)), saw("c", nil), saw("c", nil)})
	want := []need{{"a", "1", false}, {"b", "0", true}, {"a", "1, taken by earlier changes of this plan", true}, {"c", "unknown", false}, {"c", "unknown", false}}
	for i := range want {
		if got[i] != want[i] {
			t.Errorf("change %d needs %+v, want %+v", i, got[i], want[i])
		}
	}
}
