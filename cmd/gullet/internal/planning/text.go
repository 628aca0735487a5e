package planning

import (
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
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

// moment writes a time of the plan, "later" where the calendar does not go so far.
func (p *printer) moment(t *time.Time) string {
	if t == nil {
		return "later"
	}
	return t.In(p.style.Zone).Format("Mon 2 Jan 15:04")
}

func (p *printer) area(x *float64) string {
	if x == nil {
		return "beyond"
	}
	return p.style.Area(*x)
}

// changes is the list of changes in order of time, so that one fitter sees the day.
func (p *printer) changes() {
	var list []*Saw
	for i := range p.Saws {
		if a := p.Saws[i].Advise; a != nil && a.At != nil {
			list = append(list, &p.Saws[i])
		}
	}
	if len(list) == 0 {
		p.say("No change can be advised; the reasons stand below.\n")
		return
	}
	slices.SortStableFunc(list, func(a, b *Saw) int { return a.Advise.At.Compare(*b.Advise.At) })
	p.say("\nAdvised changes, first on top\n")
	t := tabwriter.NewWriter(&p.b, 0, 0, 2, ' ', 0)
	fmt.Fprintln(t, "WHEN\tSAW\tBLADE\tTYPE\tAT\tDONE BEFORE\tON THE SHELF\tBECAUSE")
	for _, s := range list {
		a := s.Advise
		shelf := "unknown"
		if a.OnHand != nil {
			shelf = strconv.Itoa(*a.OnHand)
		}
		fmt.Fprintf(t, "%s\t%s\t%s\t%s\t%s\t%s\t%s\t%s\n", p.moment(a.At), s.Saw, name(s.Blade), s.Type, a.where(), figures.Odds(a.Odds), shelf, a.Reason)
	}
	_ = t.Flush() // a strings.Builder does not fail
}

// where is the boundary an advice names.
func (a *Advice) where() string {
	switch {
	case a.BeforeJob != nil:
		return "before job " + *a.BeforeJob
	case a.AfterJob != nil:
		return "after job " + *a.AfterJob
	case a.Shift != nil:
		return *a.Shift
	}
	return "now"
}

func name(serial string) string {
	if serial == "" {
		return "(not named)"
	}
	return serial
}

func (p *printer) saw(s *Saw) {
	p.say("\n%s · blade %s · cut %s %s (weighted %s)\n", s.Saw, strings.TrimSpace(name(s.Blade)+" "+s.Type), p.style.Whole(s.Area), p.style.AreaUnit(), p.style.Whole(s.Weighted))
	line := func(name, text string) { p.say("  %-11s%s\n", name, text) }
	if w := s.Window; w != nil {
		line("window", fmt.Sprintf("done within %s / %s / %s %s more of the coming work at 10 / 50 / 90 %%: %s / %s / %s",
			p.area(w.Area.Q10), p.area(w.Area.Q50), p.area(w.Area.Q90), p.style.AreaUnit(), p.moment(w.Time.Q10), p.moment(w.Time.Q50), p.moment(w.Time.Q90)))
		var list []string
		for _, d := range s.Drivers {
			list = append(list, d.Cause+" "+figures.Odds(d.Share))
		}
		line("driven by", strings.Join(list, ", "))
	} else {
		line("window", "unknown: "+s.Why)
	}
	if a := s.Advise; a != nil {
		p.advice(a, line)
	} else {
		line("advice", "none: "+s.WhyNone)
	}
	for _, j := range s.Jobs {
		odds := "unknown"
		if j.Odds != nil {
			odds = figures.Odds(*j.Odds)
		}
		text := fmt.Sprintf("%s: %s %s, %.1f h, until %s; this blade finishes it with %s", j.Job, p.style.Area(j.Area), p.style.AreaUnit(), j.Hours, p.moment(j.Ends), odds)
		if j.Due != nil {
			text += "; due " + p.moment(j.Due)
			if j.Ends == nil || j.Ends.After(*j.Due) {
				text += ", LATE"
			}
		}
		line("job", text)
		if j.Teeth != "" {
			line("", "teeth: "+j.Teeth)
		}
	}
}

func (p *printer) advice(a *Advice, line func(name, text string)) {
	line("advice", fmt.Sprintf("change %s, %s: %s", a.where(), p.moment(a.At), a.Reason))
	text := fmt.Sprintf("now %s, as advised %s", p.money(a.CostNow), p.money(a.CostThen))
	if a.CostLater != nil {
		text += ", one shift later " + p.money(*a.CostLater)
	}
	line("cost", text+" beyond what the blades to come would cost meanwhile")
	rate := func(x *float64) string {
		if x == nil {
			return "unknown"
		}
		return p.money(*x / p.style.Areas(1))
	}
	age := "run to the end, changing early does not help"
	if a.ReplaceAge != nil && !math.IsInf(*a.ReplaceAge, 0) {
		age = "changed at " + p.style.Area(*a.ReplaceAge) + " weighted"
	}
	line("", fmt.Sprintf("new blades cost %s per 1,000 weighted %s %s; by today's habit %s, run to the end %s", rate(a.Rate), p.style.AreaUnit(), age, rate(a.HabitRate), rate(a.RunToEnd)))
}

func (p *printer) money(x float64) string {
	return strconv.FormatFloat(x, 'f', 2, 64) + " " + p.Currency
}

func (p *printer) shelf() {
	if len(p.Shelf) == 0 {
		return
	}
	p.say("\nBlades used up, mean (and enough at the service level)\n")
	t := tabwriter.NewWriter(&p.b, 0, 0, 2, ' ', 0)
	fmt.Fprintln(t, "TYPE\tON HAND\t7 DAYS\t14 DAYS\t28 DAYS\tREORDER AT\tORDER BY")
	for _, s := range p.Shelf {
		if s.Why != "" {
			fmt.Fprintf(t, "%s\tunknown: %s\n", name(s.Type), s.Why)
			continue
		}
		hand, by := "unknown", "unknown: the shelf was never counted"
		if s.OnHand != nil {
			hand, by = strconv.Itoa(*s.OnHand), "not within 28 days"
		}
		if s.OrderBy != nil {
			by = s.OrderBy.In(p.style.Zone).Format("Mon 2 Jan")
		}
		use := func(days string) string {
			u := s.Needed[days]
			return fmt.Sprintf("%.1f (%d)", u.Mean, u.Safe)
		}
		fmt.Fprintf(t, "%s\t%s\t%s\t%s\t%s\t%d\t%s\n", name(s.Type), hand, use("7d"), use("14d"), use("28d"), *s.Reorder, by)
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
