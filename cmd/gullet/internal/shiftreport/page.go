package shiftreport

import (
	"bytes"
	_ "embed"
	"fmt"
	"html/template"
	"strings"
	"unicode/utf8"

	"gullet/cmd/gullet/internal/sheets"
)

// HTML writes the report as one page: a file that needs no other, and prints in black
// and white on A4 or Letter.
func HTML(r *Report) ([]byte, error) {
	var b bytes.Buffer
	if err := pageTemplate.Execute(&b, r.page()); err != nil {
		return nil, fmt.Errorf("write the page of the report: %w", err)
	}
	return []byte(sheets.Readable(b.String())), nil
}

//go:embed page.html
var pageHTML string

var pageTemplate = template.Must(template.New("page").Funcs(sheets.PageFuncs).Parse(pageHTML))

// crowded reports whether the page must be set closer to be one.
func (r *Report) crowded() bool {
	if r.Kind == "week" { // which has more to tell of each saw
		return len(r.Saws) > 5
	}
	return len(r.Saws) > 8
}

// bandPlace is where a strip is drawn: the line of its words, and the band.
type bandPlace struct{ Words, Top, High, Foot float64 }

var (
	roomy = bandPlace{8.5, 11, 13, 25}
	tight = bandPlace{6.5, 8, 8, 17}
	thin  = bandPlace{0, 0.5, 8, 9} // without words, which stand in the table of stops
)

// thinFrom is from how many saws on strips have no words.
const thinFrom = 13

// page is what the page shows, in words and places.
type page struct {
	Title, Lead, Made string
	More              []string
	Crowded           bool
	Band              bandPlace
	Saws              *grid // nil where there is none
	Strips            []strip
	Axis              []tick
	Scale             string
	Key               []key
	Half, Rest        []grid // side by side, and below them
	Doubts            []string
}

// key is how an element is drawn and what it is called.
type key struct{ Class, Name string }

func (r *Report) page() *page {
	p := &page{Title: r.Title(), Made: r.made(), Crowded: r.crowded(), Band: roomy, Strips: r.strips(), Axis: r.axis(), Scale: r.scale(), Doubts: r.doubtLines()}
	switch {
	case len(r.Saws) >= thinFrom:
		p.Band = thin
	case p.Crowded:
		p.Band = tight
	}
	first, more := r.lead()
	p.Lead = unbroken(first)
	for _, line := range more {
		p.More = append(p.More, unbroken(line))
	}
	for _, e := range stacked {
		p.Key = append(p.Key, key{class(e), string(e)})
	}
	for i, g := range r.grids() {
		switch {
		case i == 0:
			p.Saws = &g
		case g.Half:
			p.Half = append(p.Half, g)
		default:
			p.Rest = append(p.Rest, g)
		}
	}
	return p
}

// unbroken keeps a figure and its unit on one line.
func unbroken(text string) string {
	return strings.NewReplacer(" min", "\u00a0min", " %", "\u00a0%").Replace(text)
}

// row is a line of a table with the length of its bar.
type row struct {
	Cells []cell
}

type cell struct {
	head
	Text  string
	Tight bool    // a short text is not broken
	Long  float64 // of a bar
	Span  int     // columns that it takes
}

// shortText is how many letters a text has at most that is not broken.
const shortText = 18

// Lines are the rows with what their columns are.
func (g *grid) Lines() (list []row) {
	for i, texts := range g.Rows {
		var line row
		for c, text := range texts {
			at := cell{head: g.Heads[c], Text: text, Tight: utf8.RuneCountInString(text) <= shortText, Span: 1}
			if last := len(texts) - 1; c == last && last < len(g.Heads)-1 {
				at.head, at.Span = head{Left: true}, len(g.Heads)-last
			}
			if at.Bar {
				at.Long = tenth(barWide * g.Bars[i])
			}
			line.Cells = append(line.Cells, at)
		}
		list = append(list, line)
	}
	return list
}

// barWide is the longest bar of a table.
const barWide = 44.0
