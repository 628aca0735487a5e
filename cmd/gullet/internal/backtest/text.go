package backtest

import (
	"fmt"
	"io"
	"strconv"
	"strings"
	"text/tabwriter"
	"time"

	"gullet/cmd/gullet/internal/figures"
)

// Write writes the answer for a terminal.
func (r *Report) Write(out io.Writer, s figures.Style) error {
	p := printer{Report: r, style: s}
	p.title()
	for i := range r.Types {
		p.policies(&r.Types[i])
	}
	if len(r.Newest) > 0 {
		p.say("\nThe newest %s, of which the deviation was looked at too:\n", figures.Plural(r.Asked, "blade", "blades"))
	}
	for i := range r.Newest {
		p.policies(&r.Newest[i])
	}
	p.list("Types of which no change can be weighed", p.LeftOut)
	for i := range r.Windows {
		p.windows(&r.Windows[i])
	}
	p.list("How this is reckoned", r.Basis)
	p.list("Before you trust these figures", r.Doubts)
	_, err := io.WriteString(out, p.b.String())
	return err
}

type printer struct {
	*Report
	style figures.Style
	b     strings.Builder
}

func (p *printer) say(format string, args ...any) { fmt.Fprintf(&p.b, format, args...) }

func (p *printer) list(title string, lines []string) {
	if len(lines) == 0 {
		return
	}
	p.say("\n%s:\n", title)
	for _, line := range lines {
		p.say("  - %s\n", line)
	}
}

func (p *printer) title() {
	p.say("What each way of changing blades would have cost, replayed over the history, times in %s\n", p.Zone)
	if p.Told == 0 {
		why := "no blade was hung"
		if p.Earlier > 0 {
			why += " from then on"
		}
		if p.Blades > 0 {
			why = fmt.Sprintf("of %s none was hung when a life of its type could be told", figures.Plural(p.Blades, "blade", "blades"))
		}
		p.say("Nothing can be judged: %s.\n", why)
		return
	}
	day := func(t *time.Time) string { return t.In(p.style.Zone).Format("2 Jan 2006") }
	p.say("%s hung from %s to %s; what was known was learned %s on the way.\n", figures.Plural(p.Told, "blade", "blades"), day(p.From), day(p.To), figures.Plural(p.Learned, "time", "times"))
	if len(p.Types) == 0 {
		p.say("No way of changing blades can be weighed; the reasons stand below.\n")
		return
	}
	p.say("Changes are per 100,000 weighted %s and cost is in %s per 1,000, with the 95 %% limits in brackets;\nother areas are weighted too. Unclear is what the limits leave open to be dearer or cheaper.\n", p.style.AreaUnit(), p.Currency)
}

func (p *printer) policies(t *Type) {
	p.say("\n%s · %s judged: %d ended, %d pulled early, %d not off\n", t.Type, figures.Plural(t.Blades, "blade", "blades"), t.Ended, t.Pulled, t.On)
	first := t.Policies[0].Policy
	p.table("WAY\tPLANNED\tUNPLANNED\tCOST\tBESIDE THE "+strings.ToUpper(first), t, func(o *Policy) []string {
		return []string{p.rate(o.Planned, 1), p.rate(o.Unplanned, 1), p.rate(o.Cost, 2), p.beside(first, o)}
	})
	p.table("WAY\tCHANGES AT\tKNOWN OF\tAHEAD OF\tGIVES AWAY", t, func(o *Policy) []string {
		return []string{p.age(t, o), fmt.Sprintf("%d of %d", o.Known, t.Blades), ahead(o), p.given(o)}
	})
	p.beyond(t)
	for i := range t.Policies {
		if o := &t.Policies[i]; o.Why != "" {
			p.say("  %s: %s.\n", o.Policy, o.Why)
		}
	}
}

// table is a line for each policy.
func (p *printer) table(head string, t *Type, line func(o *Policy) []string) {
	w := tabwriter.NewWriter(&p.b, 0, 0, 2, ' ', 0)
	fmt.Fprintf(w, "  %s\n", head)
	for i := range t.Policies {
		o := &t.Policies[i]
		fmt.Fprintf(w, "  %s\t%s\n", p.way(o), strings.Join(line(o), "\t"))
	}
	_ = w.Flush() // a strings.Builder does not fail
}

// way is the name of a policy, with a star where it is not judged all the way.
func (p *printer) way(o *Policy) string {
	if o.runsOn() {
		return o.Policy + "*"
	}
	return o.Policy
}

func (o *Policy) runsOn() bool { return o.Beyond != nil && *o.Beyond > 0 }

// age is when a policy changes blades.
func (p *printer) age(t *Type, o *Policy) string {
	switch {
	case t.Type == AllTypes:
		return "by type"
	case o.Age == nil && o.Policy == PolicyHabit:
		return "none pulled"
	case o.Age == nil && o.Policy == PolicyPlan && p.Followed > 0:
		return "none changed"
	case o.Age == nil:
		return "never"
	}
	text := p.style.Area(*o.Age) + " " + p.style.AreaUnit()
	switch {
	case o.Never == 0:
		return text
	case o.Policy == PolicyPlan && p.Followed > 0:
		return text + fmt.Sprintf(", %d came off first", o.Never)
	}
	return text + fmt.Sprintf(", %d never", o.Never)
}

// ahead is how many of the ends seen a policy's change would have come before.
func ahead(o *Policy) string {
	if o.Seen == 0 {
		return "-"
	}
	return fmt.Sprintf("%d of %s", o.Ahead, figures.Plural(o.Seen, "end", "ends"))
}

func (p *printer) given(o *Policy) string {
	if o.Given == nil {
		return "-"
	}
	return p.style.Area(*o.Given) + " " + p.style.AreaUnit() + " each"
}

// beyond says what the star means, of a type and then of the ways.
func (p *printer) beyond(t *Type) {
	var list []string
	for i := range t.Policies {
		if o := &t.Policies[i]; o.runsOn() {
			list = append(list, o.Policy+" "+figures.Percent(*o.Beyond))
		}
	}
	if len(list) == 0 {
		return
	}
	where := "at the furthest of their type"
	if t.Furthest != nil {
		where = "at " + p.style.Area(*t.Furthest) + " " + p.style.AreaUnit()
	}
	p.say("  * judged as if changed %s: too few blades were let run further, so what that would cost cannot be told. Of their blades get there: %s.\n", where, strings.Join(list, ", "))
}

// rate is a figure for an area with its limits.
func (p *printer) rate(i *figures.Interval, decimals int) string {
	if i == nil {
		return "unknown"
	}
	return p.style.Interval(*i, func(x float64) string {
		return strconv.FormatFloat(x/p.style.Areas(1), 'f', decimals, 64)
	})
}

// beside is what a policy costs beside the first, and whether that can be told.
func (p *printer) beside(first string, o *Policy) string {
	m := o.More
	switch {
	case o.Policy == first:
		return "-"
	case m == nil:
		return "unknown"
	}
	text := p.style.Interval(*m, func(x float64) string { return figures.Signed(x/p.style.Areas(1), 2) })
	switch {
	case m.Low == nil || m.High == nil:
		return text
	case *m.Low == 0 && *m.High == 0:
		return "the same, as far as it can be judged"
	case *m.Low > 0:
		return text + ": dearer"
	case *m.High < 0:
		return text + ": cheaper"
	}
	return text + ": unclear"
}

func (p *printer) windows(w *Windows) {
	p.say("\nHow the windows held that were told %s, of %s\n", w.Stage, figures.Plural(w.Blades, "blade", "blades"))
	t := tabwriter.NewWriter(&p.b, 0, 0, 2, ' ', 0)
	fmt.Fprintln(t, "  DONE\tWANTED\tSO MANY WERE\tKNOWN OF")
	for _, s := range w.Shares {
		share := "unknown: " + s.Why
		if s.Share != nil {
			share = p.style.Interval(*s.Share, figures.Percent)
			if s.Why != "" {
				share = figures.Percent(s.Share.Value) + ", " + s.Why
			}
		}
		fmt.Fprintf(t, "  %s\t%s\t%s\t%d of %d\n", s.What, figures.Percent(s.Want), share, s.Known, s.Blades)
	}
	_ = t.Flush()
	p.say("  By count: %d inside, %d below, %d above, %d lost from sight before it could be told", w.Inside, w.Below, w.Above, w.Undecided)
	if w.Decided != nil {
		p.say("; of the others %s were inside, no fair sample since it is long lives that are lost", p.style.Interval(*w.Decided, figures.Percent))
	}
	p.say(".\n")
	told := false
	for _, l := range w.Losses {
		told = told || l.Loss != nil
		if l.Loss == nil {
			p.say("  Of no end seen was a %s known to hold the plan beside.\n", l.Forecast)
			continue
		}
		p.say("  Pinball loss at 10 / 50 / 90 %%, %s: the windows %s, the %s %s (of %s seen).\n", p.style.AreaUnit(), p.pinball(l.Plan), l.Forecast, p.pinball(l.Loss), figures.Plural(l.Blades, "end", "ends"))
	}
	if told {
		p.say("  Less is better. It counts ends seen only, which favours who foretells short lives, so it is told without limits.\n")
	}
}

func (p *printer) pinball(l *Pinball) string {
	return p.style.Area(l.Q10) + " / " + p.style.Area(l.Q50) + " / " + p.style.Area(l.Q90)
}
