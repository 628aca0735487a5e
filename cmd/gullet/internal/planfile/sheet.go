package planfile

import (
	"bytes"
	_ "embed"
	"fmt"
	"html/template"
	"slices"
	"time"

	"gullet/cmd/gullet/internal/figures"
	"gullet/cmd/gullet/internal/planning"
	"gullet/cmd/gullet/internal/sheets"
)

// Sheet writes the plan as a sheet for the wall: one HTML file that needs no other,
// and prints in black and white on the paper that the printer has.
func Sheet(p *Plan) ([]byte, error) {
	var b bytes.Buffer
	if err := sheetPage.Execute(&b, p.sheet()); err != nil {
		return nil, fmt.Errorf("write the sheet of the plan: %w", err)
	}
	return []byte(sheets.Readable(b.String())), nil
}

//go:embed sheet.html
var sheetHTML string

var sheetPage = template.Must(template.New("sheet").Funcs(sheets.PageFuncs).Parse(sheetHTML))

// sheet is what the page shows, in words.
type sheet struct {
	Lead, Made, Zone, Caution string
	Days                      int
	Shifts                    []shiftSlip
	RunOn, None               []slip // None: no change can be put at a moment
	Teeth, Late               []jobLine
	Shelf                     []shelfLine
	Enough                    string // what the numbers of the shelf are
	Loose, Doubts             []string
}

// shiftSlip is what one fitter has to do in a shift.
type shiftSlip struct {
	Name, Work string
	Changes    []slip
}

// slip is one saw.
type slip struct {
	At, Where, Saw, Blade, Type, Because, Odds string
	Window                                     *windowLine
	Need                                       need
}

// windowLine is when the blade is likely to be done.
type windowLine struct{ Q10, Q50, Q90 string }

type jobLine struct{ Saw, Job, Says string }

type shelfLine struct {
	Type, OnHand, Week, Fortnight, Month, Reorder, Order string
}

func (p *Plan) sheet() *sheet {
	changes := p.Changes()
	s := &sheet{Lead: p.lead(changes), Made: p.made(), Zone: p.Zone, Caution: p.caution(), Days: p.Days, Enough: p.Enough(), Loose: p.Loose, Doubts: p.Doubts, Shifts: p.shifts(changes)}
	for i := range p.Saws {
		saw := &p.Saws[i]
		line := p.slip(saw)
		switch {
		case saw.Advise == nil:
			line.Because = saw.WhyNone
			s.None = append(s.None, line)
		case !saw.Advise.Change:
			s.RunOn = append(s.RunOn, line)
		case saw.Advise.At == nil:
			line.Because = "change " + line.Where + ", which is later than the shifts are known: " + line.Because
			s.None = append(s.None, line)
		}
	}
	for _, j := range p.allJobs() {
		if j.Teeth != "" {
			s.Teeth = append(s.Teeth, jobLine{j.Saw, j.Job.Job, j.Teeth})
		}
		if j.Late() {
			s.Late = append(s.Late, jobLine{j.Saw, j.Job.Job, "until " + p.moment(j.Ends) + ", due " + planning.DueText(*j.Due, p.Style.Zone)})
		}
	}
	for i := range p.Shelf {
		l := &p.Shelf[i]
		s.Shelf = append(s.Shelf, shelfLine{
			planning.BladeName(l.Type), planning.Count(l.OnHand), l.Use("7d"), l.Use("14d"), l.Use("28d"), planning.Count(l.Reorder), p.orderBy(l),
		})
	}
	return s
}

// lead says in a sentence what is to be done.
func (p *Plan) lead(changes []*planning.Saw) string {
	if len(changes) == 0 {
		if slices.ContainsFunc(p.Saws, func(s planning.Saw) bool { return s.Advise == nil }) || len(p.Saws) == 0 {
			return p.NoChange()
		}
		return "No blade change is advised before " + p.until() + "."
	}
	text := figures.Plural(len(changes), "blade change is", "blade changes are") + " advised before " + p.until() + "."
	short := 0
	for _, n := range needs(changes) {
		if n.Short {
			short++
		}
	}
	if short > 0 {
		text += fmt.Sprintf(" For %d of them the shelf holds no blade.", short)
	}
	return text
}

// shifts are the changes by shift, first on top.
func (p *Plan) shifts(changes []*planning.Saw) (list []shiftSlip) {
	at := map[string]int{}
	for i, n := range needs(changes) {
		name := p.shift(changes[i])
		k, there := at[name]
		if !there {
			k = len(list)
			at[name] = k
			list = append(list, shiftSlip{Name: name})
		}
		line := p.slip(changes[i])
		line.Need = n
		list[k].Changes = append(list[k].Changes, line)
	}
	for i := range list {
		n := len(list[i].Changes)
		list[i].Work = fmt.Sprintf("%s, %.0f min", figures.Plural(n, "change", "changes"), p.Change.Minutes()*float64(n))
	}
	return list
}

// slip is a saw in words.
func (p *Plan) slip(s *planning.Saw) slip {
	out := slip{Saw: s.Saw, Blade: "unknown"}
	if s.Fitting != nil {
		out.Blade, out.Type = planning.BladeName(s.Blade), planning.BladeName(s.Type)
	}
	if w := s.Window; w != nil {
		by := func(t *time.Time) string {
			if t == nil {
				return p.moment(t)
			}
			return "by " + p.moment(t)
		}
		out.Window = &windowLine{by(w.Time.Q10), by(w.Time.Q50), by(w.Time.Q90)}
	}
	if a := s.Advise; a != nil {
		out.Where, out.Because, out.Odds = a.Where(), s.Because(), figures.Odds(a.Odds)
		if a.At != nil {
			out.At = p.moment(a.At)
		}
	}
	return out
}
