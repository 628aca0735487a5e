package sheets

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"strconv"
	"strings"
	"time"
)

// CSV writes a table by RFC 4180, with units in the names of the columns, times by
// ISO 8601 with the offset of their zone. An empty cell is unknown. A text that a
// spreadsheet would take for a formula has an apostrophe before it.
func CSV(t *Table) ([]byte, error) {
	var b bytes.Buffer
	w := csv.NewWriter(&b)
	w.UseCRLF = true
	rows := [][]string{t.Names}
	for _, values := range t.Rows {
		row := make([]string, len(values))
		for i, v := range values {
			row[i] = cell(v, t.Forms[i])
		}
		rows = append(rows, row)
	}
	if err := w.WriteAll(rows); err != nil {
		return nil, fmt.Errorf("write CSV: %w", err)
	}
	return b.Bytes(), nil
}

// cell writes one value; nil is empty.
func cell(value any, f Form) string {
	switch v := value.(type) {
	case string:
		return harmless(Readable(v))
	case int:
		return strconv.Itoa(v)
	case time.Time:
		return v.Format(time.RFC3339)
	case float64:
		if f == Amount {
			return strconv.FormatFloat(v, 'f', 2, 64)
		}
		return strconv.FormatFloat(v, 'f', -1, 64)
	}
	return ""
}

// harmless puts an apostrophe before a text that a spreadsheet may take for a formula
// and run.
func harmless(text string) string {
	if begin := strings.TrimLeft(text, " "); begin != "" && strings.ContainsAny(begin[:1], "=+-@\t\n") {
		return "'" + text
	}
	return text
}
