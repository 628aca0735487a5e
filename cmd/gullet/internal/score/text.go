package score

import (
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"
	"text/tabwriter"
	"time"

	"gullet/analyze/plan"
	"gullet/cmd/gullet/internal/figures"
)

// Write writes the report for a terminal.
func (r *Report) Write(out io.Writer, style figures.Style) error {
	p := printer{Report: r, style: style}
	if r.Why != "" {
		p.say("%s.\n", strings.ToUpper(r.Why[:1])+r.Why[1:])
	} else {
		p.say("How the forecasts of the last %d days did, since %s: %s of %s\n", r.Days, p.day(r.Since),
			figures.Plural(r.Forecasts, "forecast", "forecasts"), figures.Plural(r.Blades, "blade", "blades"))
		p.say("Areas are weighted %s. Limits in brackets are at 95 %%, over blades, since forecasts of one blade are not independent; %s.\n", style.AreaUnit(), fewBlades)
		p.windows()
		p.losses()
		p.shift()
		p.ends()
		p.early()
		p.money()
		p.doubts()
	}
	_, err := io.WriteString(out, p.b.String())
	return err
}

type printer struct {
	*Report
	style figures.Style
	b     strings.Builder
}

func (p *printer) say(format string, args ...any) { fmt.Fprintf(&p.b, format, args...) }

func (p *printer) line(name, format string, args ...any) {
	p.say("  %-11s%s\n", name, fmt.Sprintf(format, args...))
}

func (p *printer) day(t time.Time) string { return t.In(p.style.Zone).Format("2 Jan 2006") }

// fewBlades says why a figure has no limits.
var fewBlades = fmt.Sprintf("fewer than %d blades give none", plan.FewestGroups)

// limited writes a figure with its limits.
func limited(i figures.Interval, number func(float64) string) string {
	if i.Low == nil || i.High == nil {
		return number(i.Value) + " (no limits)"
	}
	return fmt.Sprintf("%s (%s to %s)", number(i.Value), number(*i.Low), number(*i.High))
}

func (p *printer) windows() {
	c := p.Coverage
	p.say("\nWindows from 10 to 90 %%, which are to hold 80 %%\n")
	if c.Share == nil {
		p.line("held", "unknown: of no forecast is it decided")
	} else {
		p.line("held", "%d of the %d decided, of %s: %s; %d were done sooner, %d lasted longer", c.Inside, c.Inside+c.Below+c.Above,
			figures.Plural(c.Blades, "blade", "blades"), limited(*c.Share, figures.Percent), c.Below, c.Above)
	}
	if c.Undecided > 0 {
		p.line("undecided", "%s, the blade changed early or still on (it is the long lives that stay so); of all, %s to %s held",
			figures.Thousands(float64(c.Undecided)), figures.Percent(c.Worst), figures.Percent(c.Best))
	}
	switch {
	case c.Undecided == 0 || c.Share == nil:
	case c.Allowed == nil:
		p.line("of all", "unknown: too few were followed to the end of their windows")
	default:
		p.line("of all", "%s held if the undecided are as the others are; blades pulled because they were nearly done make it look less", limited(*c.Allowed, figures.Percent))
	}
}

func (p *printer) losses() {
	p.say("\nHow far off, as the mean pinball loss: the less the better\n")
	b := p.Pinball
	if b == nil {
		p.line("loss", "unknown: %s", p.WhyPinball)
		return
	}
	t := tabwriter.NewWriter(&p.b, 0, 0, 2, ' ', 0)
	fmt.Fprintf(t, "  LEVEL\tGULLET, %s\tMEAN LIFE\tFIXED INTERVAL\n", p.style.AreaUnit())
	for _, l := range b.Levels {
		fmt.Fprintf(t, "  %s\t%s\t%s\t%s\n", figures.Percent(l.Level), limited(l.Gullet, p.style.Area), limited(l.MeanLife, p.style.Area), limited(l.Interval, p.style.Area))
	}
	_ = t.Flush() // a strings.Builder does not fail
	p.line("over all", "Gullet loses %s than the mean life and %s than the fixed interval, the mean of the three levels", p.less(b.OverMean), p.less(b.OverInterval))
	p.line("from", "%s of %s; left out: %d whose end nobody saw, which favours low forecasts, and %d where a rival or the window knew no number",
		figures.Plural(b.Forecasts, "forecast", "forecasts"), figures.Plural(b.Blades, "blade", "blades"), b.Unended, b.NoRival)
	p.line("rivals", "one number for each blade type, from those off by then, less what the blade had cut: the mean life of those that ended,")
	p.line("", "and the mean at which any were changed")
}

// less says how much less Gullet loses, or how much more.
func (p *printer) less(i figures.Interval) string {
	word := func(x float64) string {
		if x < 0 {
			return " more"
		}
		return " less"
	}
	size := func(x float64) string { return p.style.Area(math.Abs(x)) }
	if i.Low == nil || i.High == nil {
		return limited(i, func(x float64) string { return size(x) + word(x) })
	}
	low, high := *i.Low, *i.High
	if word(low) == word(high) {
		return fmt.Sprintf("%s%s (%s to %s)", size(i.Value), word(i.Value), size(low), size(high))
	}
	return fmt.Sprintf("%s%s (%s%s to %s%s)", size(i.Value), word(i.Value), size(low), word(low), size(high), word(high))
}

func (p *printer) shift() {
	p.say("\nOdds that a blade is done by the end of the shift\n")
	s := p.Shift
	if s == nil {
		p.line("Brier", "unknown: %s", p.WhyShift)
		return
	}
	score := func(x float64) string { return strconv.FormatFloat(x, 'f', 3, 64) }
	p.line("Brier", "%s over %s of %s (0 is best)", limited(s.Brier, score), figures.Plural(s.Forecasts, "forecast", "forecasts"), figures.Plural(s.Blades, "blade", "blades"))
	p.line("base rate", "%s were done; always saying that, which nobody knew before, scores %s", limited(s.BaseRate, figures.Percent), score(s.Reference))
	if s.TrueShare != nil {
		p.line("warnings", "of %d with odds of %s or more, %d came true: %s", s.Warned, figures.Percent(foreseen), s.CameTrue, limited(*s.TrueShare, figures.Percent))
	} else {
		p.line("warnings", "none: no odds reached %s", figures.Percent(foreseen))
	}
	if s.LeftOut > 0 {
		p.line("left out", "%d whose shift is not over, that had no odds or whose blade was changed early within the shift", s.LeftOut)
	}
}

func (p *printer) ends() {
	e := p.Ends
	p.say("\nEnds of blades: foreseen where the odds for the shift were %s or more\n", figures.Percent(e.Level))
	if e.Ended == 0 {
		p.line("ends", "none")
		return
	}
	t := tabwriter.NewWriter(&p.b, 0, 0, 2, ' ', 0)
	fmt.Fprintln(t, "  REASON\tENDED\tFORESEEN\tNOT FORESEEN\tNO FORECAST FOR THE SHIFT")
	for _, r := range e.Reasons {
		fmt.Fprintf(t, "  %s\t%d\t%d\t%d\t%d\n", r.Reason, r.Ended, r.Foreseen, r.Unforeseen, r.Untold)
	}
	fmt.Fprintf(t, "  all\t%d\t%d\t%d\t%d\n", e.Ended, e.Foreseen, e.Unforeseen, e.Untold)
	_ = t.Flush()
	if e.Share != nil {
		p.line("foreseen", "%s of the %d with a forecast", limited(*e.Share, figures.Percent), e.Foreseen+e.Unforeseen)
	}
}

// earlyShown is how many of the latest early changes are listed.
const earlyShown = 12

func (p *printer) early() {
	p.say("\nChanged early: nobody saw what such a blade had left, here is what its last forecast said\n")
	list := p.Early.Changes
	if len(list) == 0 {
		p.line("changes", "none")
		return
	}
	t := tabwriter.NewWriter(&p.b, 0, 0, 2, ' ', 0)
	fmt.Fprintln(t, "  WHEN\tSAW\tBLADE\tTYPE\tREASON\tCUT\tLEFT AT 10 / 50 / 90 %\tCUT SINCE")
	for _, e := range list[max(0, len(list)-earlyShown):] {
		left, since := "unknown: "+e.Why, ""
		if e.Left != nil {
			left = fmt.Sprintf("%s / %s / %s", p.area(e.Q10), p.area(e.Q50), p.area(e.Q90))
			since = p.area(e.Since)
		}
		fmt.Fprintf(t, "  %s\t%s\t%s\t%s\t%s\t%s\t%s\t%s\n", e.At.In(p.style.Zone).Format("Mon 2 Jan 15:04"), e.Saw, e.Blade, e.Type, e.Reason, p.style.Area(e.Cut), left, since)
	}
	_ = t.Flush()
	if more := len(list) - earlyShown; more > 0 {
		p.line("", "and %d before those (--json lists them all)", more)
	}
	if p.Early.Area != nil {
		p.line("together", "about %s %s left by the medians of %s, which had cut %s; how sure that is stands in the windows",
			p.style.Area(*p.Early.Area), p.style.AreaUnit(), figures.Plural(p.Early.Told, "blade", "blades"), p.style.Area(*p.Early.Seen))
	}
}

func (p *printer) area(x *float64) string {
	if x == nil {
		return "beyond"
	}
	return p.style.Area(*x)
}

func (p *printer) money() {
	m := p.Money
	p.say("\nWhat the changes cost, as configured\n")
	cost := "unknown: " + m.Why
	if m.Cost != nil {
		cost = strconv.FormatFloat(*m.Cost, 'f', 2, 64) + " " + p.Currency
	}
	p.line("changes", "%d planned and %d after an end: %s", m.Planned, m.Unplanned, cost)
	for _, t := range m.Types {
		if t.Why != "" && t.Why != m.Why {
			p.line("", "%s, %d and %d: %s", named(t.Type), t.Planned, t.Unplanned, t.Why)
		}
	}
}

func named(kind string) string {
	if kind == "" {
		return "(type not said)"
	}
	return kind
}

func (p *printer) doubts() {
	if len(p.Doubts) == 0 {
		return
	}
	p.say("\nBefore you trust these figures:\n")
	for _, d := range p.Doubts {
		p.say("  - %s\n", d)
	}
}
