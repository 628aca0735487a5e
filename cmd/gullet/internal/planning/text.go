package planning

import (
	"fmt"
	"io"
	"math"
	"strings"
	"text/tabwriter"
	"time"

	"gullet/cmd/gullet/internal/figures"
)

// Write writes the plan for a terminal.
func (r *Report) Write(out io.Writer, s figures.Style) error {
	p := printer{Report: r, style: s}
	p.title()
	p.changes()
	for i := range r.Saws {
		p.saw(&r.Saws[i])
	}
	p.shelf()
	p.rest()
	_, err := io.WriteString(out, p.b.String())
	return err
}

type printer struct {
	*Report
	style figures.Style
	b     strings.Builder
}

func (p *printer) say(format string, args ...any) { fmt.Fprintf(&p.b, format, args...) }

func (p *printer) title() {
	p.say("Which blade to change when, %s; the next %d days, times in %s\n", p.MadeAt.In(p.style.Zone).Format("Mon 2 Jan 2006 15:04 MST"), p.Days, p.Zone)
}

func (p *printer) moment(t *time.Time) string { return Moment(t, p.style.Zone) }

// changes is the list of changes in order of time, so that one fitter sees the day.
func (p *printer) changes() {
	list := p.Changes()
	if len(list) == 0 {
		p.say("\n%s\n", p.NoChange())
		return
	}
	p.say("\nAdvised changes, first on top\n")
	t := tabwriter.NewWriter(&p.b, 0, 0, 2, ' ', 0)
	fmt.Fprintln(t, "WHEN\tSAW\tBLADE\tTYPE\tAT\tDONE BEFORE\tON THE SHELF\tBECAUSE")
	for _, s := range list {
		a := s.Advise
		fmt.Fprintf(t, "%s\t%s\t%s\t%s\t%s\t%s\t%s\t%s\n", p.moment(a.At), s.Saw, BladeName(s.Blade), s.Type, a.Where(), figures.Odds(a.Odds), Count(a.OnHand), s.Because())
	}
	_ = t.Flush() // a strings.Builder does not fail
	var loads []string
	for i := range p.Shifts {
		l := &p.Shifts[i]
		text := fmt.Sprintf("%s %d (%.0f min)", l.Shift, len(l.Saws), l.Minutes)
		if l.Over {
			text += ", MORE THAN ONE FITTER HAS TIME FOR"
		}
		loads = append(loads, text)
	}
	if len(loads) > 0 {
		p.say("By shift: %s\n", strings.Join(loads, "; "))
	}
}

func (p *printer) saw(s *Saw) {
	p.say("\n%s · blade %s · cut %s\n", s.Saw, strings.TrimSpace(BladeName(s.Blade)+" "+s.Type), s.Cut(p.style))
	line := func(name, text string) { p.say("  %-11s%s\n", name, text) }
	if w := s.Window; w != nil {
		line("window", w.Words(p.style))
		line("driven by", s.DrivenBy())
		line("from", s.Basis)
	} else {
		line("window", "unknown: "+s.Why)
	}
	if a := s.Advise; a != nil {
		p.advice(a, line)
	} else {
		line("advice", "none: "+s.WhyNone)
	}
	if look := s.LookFirst(); look != "" {
		line("but", look)
	}
	for _, j := range s.Jobs {
		odds := "unknown"
		if j.Odds != nil {
			odds = figures.Odds(*j.Odds)
		}
		text := fmt.Sprintf("%s: %s %s, %.1f h, until %s; this blade finishes it with %s", j.Job, p.style.Area(j.Area), p.style.AreaUnit(), j.Hours, p.moment(j.Ends), odds)
		if j.Due != nil {
			text += "; due " + DueText(*j.Due, p.style.Zone)
			if late := j.Lateness(); late != "" {
				text += ", " + late
			}
		}
		line("job", text)
		if j.Teeth != "" {
			line("", "teeth: "+j.Teeth)
		}
	}
}

func (p *printer) advice(a *Advice, line func(name, text string)) {
	if a.Change {
		line("advice", fmt.Sprintf("change %s, %s: %s", a.Where(), p.moment(a.At), a.Because()))
	} else {
		line("advice", "run on: "+a.Reason)
	}
	line("cost", a.Waiting(p.Currency))
	rate := func(x *float64) string {
		if x == nil {
			return "unknown"
		}
		return p.money(*x / p.style.Areas(1))
	}
	age := "run to the end, changing early by what they have cut does not help"
	if a.ReplaceAge != nil && !math.IsInf(*a.ReplaceAge, 0) {
		age = "changed at " + p.style.Area(*a.ReplaceAge) + " weighted " + p.style.AreaUnit()
	}
	line("", fmt.Sprintf("new blades cost %s per 1,000 weighted %s %s; by today's habit %s, run to the end %s", rate(a.Rate), p.style.AreaUnit(), age, rate(a.HabitRate), rate(a.RunToEnd)))
}

func (p *printer) money(x float64) string { return Money(x, p.Currency) }

func (p *printer) shelf() {
	if len(p.Shelf) == 0 {
		return
	}
	p.say("\n%s\n", p.Enough())
	t := tabwriter.NewWriter(&p.b, 0, 0, 2, ' ', 0)
	fmt.Fprintln(t, "TYPE\tON HAND\t7 DAYS\t14 DAYS\t28 DAYS\tREORDER AT\tORDER BY")
	for _, s := range p.Shelf {
		if s.Why != "" {
			fmt.Fprintf(t, "%s\tunknown: %s\n", BladeName(s.Type), s.Why)
			continue
		}
		fmt.Fprintf(t, "%s\t%s\t%s\t%s\t%s\t%s\t%s\n", BladeName(s.Type), Count(s.OnHand), s.Use("7d"), s.Use("14d"), s.Use("28d"), Count(s.Reorder), s.Order(p.style.Zone))
	}
	_ = t.Flush()
}

func (p *printer) rest() {
	if len(p.Loose) > 0 {
		p.say("\nJobs that no saw was found for: %s\n", strings.Join(p.Loose, ", "))
	}
	if len(p.Doubts) == 0 {
		return
	}
	p.say("\nBefore you trust these figures:\n")
	for _, d := range p.Doubts {
		p.say("  - %s\n", d)
	}
}
