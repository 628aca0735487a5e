package standing

import (
	"fmt"
	"strings"

	"gullet/analyze/downtime"
	"gullet/cmd/gullet/internal/figures"
)

// time shows the elements and the figures made of them.
func (p *printer) time() {
	if len(p.Saws) == 0 {
		return
	}
	p.say("\nTime in minutes, by the elements of ISO 22400-2\n")
	saws := p.sawsAndAll()
	rows := [][]string{{"  "}}
	for _, s := range saws {
		rows[0] = append(rows[0], s.Saw)
	}
	for _, e := range downtime.Elements() {
		row := []string{"  " + string(e)}
		for _, s := range saws {
			row = append(row, s.heard(*s.Minutes.Of(e)))
		}
		rows = append(rows, row)
	}
	row := []string{"  calendar"}
	for _, s := range saws {
		row = append(row, s.heard(s.Calendar))
	}
	rows = append(rows, row, make([]string, len(row)))
	for i, f := range saws[0].Model.Figures() {
		row := []string{"  " + f.Name}
		for _, s := range saws {
			row = append(row, ratio(&s.Model.Figures()[i].Figure))
		}
		rows = append(rows, row)
	}
	p.left(rows, 1)
	p.say("  In brackets: what unknown time leaves open. All are of known time:\n")
	p.formulas()
}

// heard is a number of a saw, "-" of one that told nothing of the time.
func (s *SawReport) heard(x float64) string {
	if s.Calendar == 0 {
		return "-"
	}
	return whole(x)
}

// formulas says what each figure divides.
func (p *printer) formulas() {
	line := "  "
	for _, f := range p.All.Model.Figures() {
		text := f.Name + " = " + f.Formula + ". "
		if len(line)+len(text) > textWidth {
			p.say("%s\n", strings.TrimRight(line, " "))
			line = "  "
		}
		line += text
	}
	p.say("%s\n", strings.TrimRight(line, " "))
}

// textWidth is about that of a terminal.
const textWidth = 120

// sawsAndAll are the saws, and all together where there are several.
func (p *printer) sawsAndAll() []*SawReport {
	var list []*SawReport
	for i := range p.Saws {
		list = append(list, &p.Saws[i])
	}
	if len(list) > 1 {
		list = append(list, &p.All)
	}
	return list
}

// ratio writes a figure in percent with what unknown time leaves open.
func ratio(f *downtime.Figure) string {
	percent := func(x float64) string { return fmt.Sprintf("%.1f %%", 100*x) }
	switch {
	case f.Value == nil && f.Low != nil:
		return "at least " + percent(*f.Low)
	case f.Value == nil:
		return "unknown"
	case f.Low != nil && f.High != nil && percent(*f.Low) != percent(*f.High):
		return fmt.Sprintf("%s (%.1f-%.1f)", percent(*f.Value), 100**f.Low, 100**f.High)
	}
	return percent(*f.Value)
}

func (p *printer) reliability() {
	if len(p.Saws) == 0 {
		return
	}
	p.say("\nHow often they fail: a failure is a stop for a cause that counts as one. Limits at 95 %%.\n")
	rows := [][]string{{"  SAW", "FAILURES", "MTBF, H", "MTTR, MIN", "HALF DONE IN, MIN", "90 % IN, MIN", "FAILURES GET", "RUNS OF TRIPS", "TRIPS GET"}}
	for _, s := range p.sawsAndAll() {
		rows = append(rows, []string{
			"  " + s.Saw, s.heard(float64(s.MTBF.N)), estimate(&s.MTBF.Figure, 60, 1), estimate(&s.MTTR.Figure, 1, 0),
			estimate(&s.Repair.Half, 1, 0), estimate(&s.Repair.Most, 1, 0), verdict(&s.Trend), s.heard(float64(s.Trips.N)), verdict(&s.Trips),
		})
	}
	p.left(rows, 1)
	p.say("  MTBF = %s, %s h in all; %s.\n", p.All.MTBF.Base, whole(p.All.MTBF.Over/60), downtime.DivisorNote)
	p.say("  MTTR = %s.\n", p.All.MTTR.Base)
	for _, s := range p.sawsAndAll() {
		for _, t := range []struct {
			what string
			of   *Trend
		}{{"failures", &s.Trend}, {"trips", &s.Trips}, {"breaks", &s.Breaks}} {
			if t.of.Verdict == downtime.MoreFrequent || t.of.Verdict == downtime.LessFrequent {
				p.say("  %s: %s get %s (%s, p = %.3f)", s.Saw, t.what, t.of.Verdict, figures.Plural(t.of.N, "event", "events"), *t.of.P)
				if t.of.Why != "" {
					p.say("; %s", t.of.Why)
				}
				p.say("\n")
			}
		}
	}
}

// verdict is a trend in a cell.
func verdict(t *Trend) string { return string(t.Verdict) }

// estimate writes a figure with its limits in a unit of so many minutes.
func estimate(f *Figure, unit float64, decimals int) string {
	number := func(x *float64) string {
		if *x/unit >= 100 {
			return whole(*x / unit)
		}
		return fmt.Sprintf("%.*f", decimals, *x/unit)
	}
	switch {
	case f.Value == nil && f.Low != nil && *f.Low > 0:
		return "over " + number(f.Low)
	case f.Value == nil:
		return "unknown"
	case f.Low == nil:
		return number(f.Value) + " (no limits)"
	case f.High == nil:
		return fmt.Sprintf("%s (%s up)", number(f.Value), number(f.Low))
	}
	return fmt.Sprintf("%s (%s-%s)", number(f.Value), number(f.Low), number(f.High))
}
