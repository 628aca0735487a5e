package jobs

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"time"

	"gullet/analyze/section"
	"gullet/cmd/gullet/internal/list"
)

// Coming is a job of a shop's list of coming work.
type Coming struct {
	Job
	Material string    // the grade as it is written, "" when not known
	Saw      string    // that is to cut it, "" for any
	Pieces   int       // of the whole job
	Due      time.Time // zero when none is given
}

// ComingList says how a list of coming work is to be read. Its mitres are from a
// square cut and its section objects in inches, whichever saw cuts them.
type ComingList struct {
	List
	Zone *time.Location         // a due date ends in
	Saws func(name string) bool // whether there is such a saw
}

// The columns that only coming work has.
const (
	colSaw    = "saw"
	colPieces = "pieces"
	colBars   = "bars"
	colDue    = "due"
)

// mostPieces bounds a job: what is beyond is a slip.
const mostPieces = 1_000_000

// ReadComing reads a list as Read does. Every job must have its own name.
func ReadComing(in io.Reader, l ComingList) ([]Coming, error) {
	open, err := list.Open(in, l.File, colJob, colSection, colPieces)
	if err != nil {
		return nil, err
	}
	var all []Coming
	lines := map[string]int{}
	err = open.Each("job", func(r *list.Row) {
		c := l.coming(fields{r, &l.List})
		if line, taken := lines[c.Name]; taken {
			r.Wrong(colJob, c.Name, fmt.Sprintf("a name that stands once, and line %d has it", line))
		}
		lines[c.Name] = r.Line
		all = append(all, c)
	})
	if err != nil {
		return nil, err
	}
	return all, nil
}

func (l *ComingList) coming(f fields) Coming {
	if name := f.Text(colJob); name == "" || !isName(name) {
		f.Wrong(colJob, name, "one line of 1 to 64 characters")
	}
	c := Coming{Job: Job{Name: f.name(), Grade: f.grade()}, Material: f.Text(colGrade), Saw: f.Text(colSaw)}
	if c.Saw != "" && !l.Saws(c.Saw) {
		f.Wrong(colSaw, c.Saw, "a saw that is configured or has sent a reading, capitals as there, or nothing for any")
	}
	c.Text, c.Section = f.section()
	c.Text = written(c.Section, c.Text)
	c.Pass = section.Pass{Mitre: f.mitre(), Count: f.bars(colBars)}
	pieces, _ := f.Number(colPieces, true, fmt.Sprintf("1 to %d pieces", mostPieces), func(x float64) bool {
		return x >= 1 && x <= mostPieces && x == float64(int(x))
	})
	c.Pieces, c.Due = int(pieces), f.due(l.Zone)
	return c
}

// written is a section as it is kept: its designation as the trade writes it, or
// its object without what stands between the members.
func written(s section.Section, text string) string {
	if s.Designation != "" {
		return s.Designation
	}
	var b bytes.Buffer
	if json.Compact(&b, []byte(text)) != nil {
		return text
	}
	return b.String()
}

// due is when a job is due: a date means the end of that day.
func (f fields) due(zone *time.Location) time.Time {
	text := f.Text(colDue)
	if text == "" {
		return time.Time{}
	}
	day, notDate := time.ParseInLocation(time.DateOnly, text, zone)
	at, err := day.AddDate(0, 0, 1), notDate
	if notDate != nil {
		at, err = time.Parse(time.RFC3339, text)
	}
	if err != nil || at.Year() < 2000 || at.Year() > 2100 {
		f.Wrong(colDue, text, "a date such as 2026-03-02, a time with its offset such as 2026-03-02T14:00:00-06:00, or nothing")
		return time.Time{}
	}
	return at
}
