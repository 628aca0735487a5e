package shiftreport

import (
	"fmt"
	"io"
	"math"
	"strings"
	"unicode/utf8"

	"gullet/cmd/gullet/internal/sheets"
)

// barLong is the longest bar on a terminal, in letters.
const barLong = 12

// Write writes the report for a terminal.
func (r *Report) Write(out io.Writer) error {
	var b strings.Builder
	first, more := r.lead()
	fmt.Fprintf(&b, "%s\n%s\n", r.Title(), first)
	for _, line := range more {
		fmt.Fprintln(&b, line)
	}
	fmt.Fprintln(&b, r.made())
	for _, g := range r.grids() {
		g.write(&b)
	}
	if doubts := r.doubtLines(); len(doubts) > 0 {
		b.WriteString("\nTo bear in mind\n")
		for _, d := range doubts {
			fmt.Fprintf(&b, "  %s\n", d)
		}
	}
	_, err := io.WriteString(out, sheets.Readable(b.String()))
	return err
}

func (g *grid) write(b *strings.Builder) {
	fmt.Fprintf(b, "\n%s: %s\n", g.Title, g.Note)
	rows := make([][]string, 0, len(g.Rows)+1)
	names := []string{}
	for _, h := range g.Heads {
		names = append(names, strings.ToUpper(h.Name))
	}
	rows = append(rows, names)
	for i, row := range g.Rows {
		cells := append([]string{}, row...)
		for c, h := range g.Heads {
			if h.Bar {
				cells[c] = strings.Repeat("#", int(math.Ceil(barLong*g.Bars[i])))
			}
		}
		rows = append(rows, cells)
	}
	widths := make([]int, len(g.Heads))
	for _, row := range rows {
		for c, cell := range row {
			if c == 0 || len(row) == len(g.Heads) {
				widths[c] = max(widths[c], utf8.RuneCountInString(cell))
			}
		}
	}
	for _, row := range rows {
		line := ""
		for c, cell := range row {
			pad := strings.Repeat(" ", max(0, widths[c]-utf8.RuneCountInString(cell)))
			if h := g.Heads[c]; h.Left || h.Bar || c == len(row)-1 && len(row) < len(g.Heads) {
				line += "  " + cell + pad
			} else {
				line += "  " + pad + cell
			}
		}
		fmt.Fprintln(b, strings.TrimRight(line, " "))
	}
	if g.More != "" {
		fmt.Fprintf(b, "  %s\n", g.More)
	}
}
