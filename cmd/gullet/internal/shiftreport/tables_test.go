package shiftreport

import (
	"bytes"
	"strings"
	"testing"

	"github.com/xuri/excelize/v2"
)

func TestAWorkbookHoldsNumbers(t *testing.T) {
	for _, c := range []struct {
		name   string
		report *Report
		want   map[string]string // sheet and cell to what is stored in it
		sheets string
	}{
		{"shift", made(t, early(), ""), map[string]string{
			"Saws!A2": "s1", "Saws!E2": "363", "Saws!K2": "6", "Saws!P2": "0.7563", "Saws!E4": "", "Saws!T4": "the saw has no such shift", "Saws!K5": "", "Saws!J5": "480",
			"Causes!A2": "blade-break", "Causes!C2": "38", "Causes!E2": "1", "Stops!A2": "s1", "Stops!I2": "handed over",
		}, "Saws Causes Stops Time line Notes"},
		{"week", made(t, Week(monday), ""), map[string]string{
			"Days!A2": "s1", "Days!B2": "2026-03-02", "Days!C2": "397", "Failures!A2": "s1", "Failures!B2": "1", "Failures!C2": "7.1",
		}, "Saws Causes Stops Days Failures Notes"},
	} {
		content, err := XLSX(c.report)
		if err != nil {
			t.Fatal(err)
		}
		f, err := excelize.OpenReader(bytes.NewReader(content))
		if err != nil {
			t.Fatal(err)
		}
		if got := strings.Join(f.GetSheetList(), " "); got != c.sheets {
			t.Errorf("%s: sheets %s, want %s", c.name, got, c.sheets)
		}
		for at, want := range c.want {
			sheet, cell, _ := strings.Cut(at, "!")
			if got, err := f.GetCellValue(sheet, cell, excelize.Options{RawCellValue: true}); got != want || err != nil {
				t.Errorf("%s: %s is %q (%v), want %q", c.name, at, got, err, want)
			}
		}
		if got, err := f.GetCellValue("Causes", "D2"); !strings.Contains(got, "%") || strings.Contains(got, ".") || err != nil {
			t.Errorf("%s: a share is shown as %q (%v)", c.name, got, err)
		}
		if err := f.Close(); err != nil {
			t.Error(err)
		}
	}
}

// A cell is empty only where the row says why.
func TestEmptyCellsAreExplained(t *testing.T) {
	for name, r := range map[string]*Report{"shift": made(t, early(), ""), "week": made(t, Week(monday), ""), "before": made(t, Period{"late", monday.Add(-7), monday.Add(-7)}, "")} {
		table := r.sawTable()
		for _, row := range table.Rows {
			empty := ""
			for i, value := range row {
				if value == nil {
					empty = table.Names[i]
				}
			}
			if why := row[len(row)-2]; empty != "" && why == "" {
				t.Errorf("%s: %s of %v is empty, and nothing says why", name, empty, row[0])
			}
		}
	}
}
