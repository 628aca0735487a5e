package standing

import (
	"fmt"
	"io"
	"strings"
	"time"

	"gullet/analyze/downtime"
	"gullet/analyze/shift"
	"gullet/cmd/gullet/internal/figures"
)

// Write writes the report for a terminal.
func (r *Report) Write(out io.Writer, style figures.Style) error {
	p := printer{Report: r, style: style}
	p.head()
	if !p.tells() {
		p.doubts()
		_, err := io.WriteString(out, p.b.String())
		return err
	}
	p.pareto()
	p.groups()
	p.weeks()
	p.long()
	p.blades()
	p.time()
	p.reliability()
	p.contrasts()
	p.recurrence()
	p.split()
	p.lines()
	p.doubts()
	_, err := io.WriteString(out, p.b.String())
	return err
}

// tells reports whether anything is known of the time: zeros would stand for what is not.
func (r *Report) tells() bool {
	m := &r.All.Minutes
	return m.Unknown+m.Unscheduled < m.Calendar() || m.Unknown == 0 && m.Unscheduled > 0
}

type printer struct {
	*Report
	style figures.Style
	b     strings.Builder
}

func (p *printer) say(format string, args ...any) { fmt.Fprintf(&p.b, format, args...) }

// head says the main thing first.
func (p *printer) head() {
	who, what := "the saws", "The saws"
	if p.Only.Saw != "" {
		who, what = p.Only.Saw, p.Only.Saw
	}
	when := fmt.Sprintf("from %s to %s", p.From, p.To)
	if p.From == p.To {
		when = "on " + p.From
	}
	if p.Only.Shift != "" {
		when += ", shift " + p.Only.Shift
	}
	switch {
	case p.All.Calendar == 0:
		p.say("No reading tells anything of %s %s (%s).\n", who, when, p.Zone)
		return
	case !p.tells():
		p.say("What %s did %s (%s) is unknown: no reading tells of %s in shifts.\n", who, when, p.Zone, hours(p.All.Minutes.Unknown))
		return
	case len(p.Pareto) == 0:
		p.say("No unplanned stop is known %s (%s).\n", when, p.Zone)
		return
	}
	p.say("%s stood unplanned for %s in %s %s (%s)", what, hours(p.Standing.Minutes), stops(p.Standing.Count), when, p.Zone)
	top := p.Pareto[0]
	cause := string(top.Cause)
	if top.Cause == downtime.Unexplained {
		cause = "no cause that anybody has told"
	}
	if len(p.Pareto) == 1 {
		p.say(", all for %s.\n", cause)
	} else {
		p.say("; the largest part, %s, for %s.\n", ofShare(top.Share), cause)
	}
	if p.Unexplained.Share == nil || p.Unexplained.Minutes == 0 {
		p.say("Every stop has its cause.\n")
		return
	}
	p.say("Not explained: %s in %s, %s.\n", hours(p.Unexplained.Minutes), stops(p.Unexplained.Count), ofShare(p.Unexplained.Share))
}

// stops counts them; time without any is of stops that began before.
func stops(n int) string {
	if n == 0 {
		return "stops that had begun before"
	}
	return figures.Plural(n, "stop", "stops")
}

func ofShare(share *float64) string {
	if share == nil {
		return "share unknown"
	}
	return figures.Percent(*share)
}

func whole(x float64) string { return figures.Thousands(x) }

func (p *printer) pareto() {
	if len(p.Pareto) == 0 {
		return
	}
	p.say("\nBy cause; shares are of the %s min that the saws were delayed or down in planned time\n", whole(p.Standing.Minutes))
	p.left(causeRows(p.Pareto), 1)
	if len(p.Planned) > 0 {
		all := 0.0
		for _, c := range p.Planned {
			all += c.Minutes
		}
		p.say("\nSetup and planned downtime, without the handling between cuts; shares are of %s min\n", whole(all))
		p.left(causeRows(p.Planned), 1)
	}
}

// causeRows is a table of causes.
func causeRows(list []Cause) [][]string {
	rows := [][]string{{"  CAUSE", "MIN", "SHARE", "STOPS", "RANK BY STOPS", "MIN A STOP", "COUNTS AS", "WHOSE"}}
	for _, c := range list {
		rank, each := "-", "-"
		if c.Count > 0 {
			rank, each = fmt.Sprint(c.ByCount), fmt.Sprintf("%.1f", c.Minutes/float64(c.Count))
		}
		rows = append(rows, []string{"  " + string(c.Cause), whole(c.Minutes), ofShare(c.Share), whole(float64(c.Count)), rank, each, string(c.Element), c.Group})
	}
	return rows
}

// left writes a table whose first columns are texts, set to the left, as are the
// last two.
func (p *printer) left(rows [][]string, texts int) {
	widths := make([]int, len(rows[0]))
	for _, cells := range rows {
		for i, c := range cells {
			widths[i] = max(widths[i], len([]rune(c)))
		}
	}
	for _, cells := range rows {
		var line strings.Builder
		for i, c := range cells {
			pad := strings.Repeat(" ", widths[i]-len([]rune(c)))
			if i < texts || !numeric(rows, i) {
				line.WriteString(c + pad + "  ")
			} else {
				line.WriteString(pad + c + "  ")
			}
		}
		p.say("%s\n", strings.TrimRight(line.String(), " "))
	}
}

// numeric reports whether a column is one of figures.
func numeric(rows [][]string, column int) bool {
	for _, cells := range rows[1:] {
		if c := cells[column]; c != "" && !strings.ContainsAny(c[:1], "0123456789-+") && c != "unknown" && c != "∞" {
			return false
		}
	}
	return true
}

func (p *printer) groups() {
	if p.By == nil {
		return
	}
	p.say("\nBy %s, in minutes\n", p.By.By)
	rows := [][]string{{"  " + strings.ToUpper(p.By.By), "STOOD", "STOPS", "NOT EXPLAINED", "PRODUCED", "TRIPS", "BREAKS", "MOST FOR"}}
	for _, g := range p.By.Groups {
		name := g.Name
		if name == "" {
			name = map[string]string{"shift": "(no shift)", "grade": "(not told)"}[p.By.By]
		}
		var top []string
		for _, c := range g.Top {
			top = append(top, fmt.Sprintf("%s %s", c.Cause, whole(c.Minutes)))
		}
		rows = append(rows, []string{"  " + name, whole(g.Standing.Minutes), whole(float64(g.Standing.Count)), whole(g.Unexplained), whole(g.Minutes.Production),
			whole(float64(g.Trips)), whole(float64(g.Breaks)), strings.Join(top, ", ")})
	}
	p.left(rows, 1)
}

func (p *printer) weeks() {
	which := "The week from " + p.Weeks[0].From
	if shift.DateOf(p.MadeAt.In(p.style.Zone)).String() == p.To {
		which = "This week"
	}
	p.say("\n%s beside the %d before it, in minutes stood an hour of known planned busy time\n", which, len(p.Weeks)-1)
	rows := [][]string{{"  CAUSE"}}
	for _, w := range p.Weeks {
		name := w.From
		if !w.Complete {
			name += "*"
		}
		rows[0] = append(rows[0], name)
	}
	total := []string{"  all"}
	for _, w := range p.Weeks {
		total = append(total, rate(w.Rate))
	}
	rows = append(rows, total)
	for _, c := range p.Pareto[:min(weekCauses, len(p.Pareto))] {
		row := []string{"  " + string(c.Cause)}
		for _, w := range p.Weeks {
			if w.Rate == nil {
				row = append(row, "unknown")
				continue
			}
			row = append(row, fmt.Sprintf("%.1f", w.ByCause[c.Cause]))
		}
		rows = append(rows, row)
	}
	base := []string{"  hours"}
	for _, w := range p.Weeks {
		base = append(base, whole(w.Planned/60))
	}
	p.left(append(rows, base), 1)
	p.say("  Weeks begin on Monday; * is not whole. Hours are what the minutes are divided by.\n")
}

// weekCauses are shown of the weeks.
const weekCauses = 6

func rate(x *float64) string {
	if x == nil {
		return "unknown"
	}
	return fmt.Sprintf("%.1f", *x)
}

func (p *printer) long() {
	if p.LongInAll == 0 {
		return
	}
	p.say("\nLong stops, each of %.0f min of working time or more: %d, %s in all to their ends", p.LongFrom, p.LongInAll, hours(p.LongMinutes))
	if len(p.Long) < p.LongInAll {
		p.say("; the longest %d", len(p.Long))
	}
	p.say("\n")
	rows := [][]string{{"  SAW", "FROM", "MIN", "CAUSE", "SHIFT", "GRADE"}}
	for i := range p.Long {
		s := &p.Long[i]
		cause := string(s.Cause)
		if s.Explained != 0 {
			cause += fmt.Sprintf(" (explanation %d)", s.Explained)
		}
		if s.Open {
			cause += ", still standing"
		}
		rows = append(rows, []string{"  " + s.Saw, s.From.Format("Mon 2 Jan 15:04"), whole(s.Minutes), cause, s.Shift, orDash(s.Grade)})
	}
	p.left(rows, 2)
	for i := range p.Long {
		if text := suggested(p.Long[i].Suggestions); text != "" {
			p.say("  %s from %s: %s\n", p.Long[i].Saw, p.Long[i].From.Format("Mon 2 Jan 15:04"), text)
		}
	}
}

func suggested(list []Suggestion) string {
	var parts []string
	for _, s := range list {
		sure := fmt.Sprintf("%s, %s to %s", figures.Percent(s.Share), figures.Percent(s.Low), figures.Percent(s.High))
		if s.High-s.Low > hintOnly {
			sure = "a hint only"
		}
		parts = append(parts, fmt.Sprintf("%s (%s; by %s: %s)", s.Cause, sure, figures.Plural(s.N, "stop like it", "stops like it"), strings.Join(s.Because, ", ")))
	}
	if len(parts) == 0 {
		return ""
	}
	return "perhaps " + strings.Join(parts, ", or ")
}

// hintOnly is the width of limits beyond which neither they nor what they are of say
// anything a person could use.
const hintOnly = 0.8

func orDash(s string) string {
	if s == "" {
		return "-"
	}
	return s
}

func (p *printer) blades() {
	b := &p.Blades
	p.say("\nWhat blades cost in standing time\n")
	for _, c := range []struct {
		name string
		m    Minutes
	}{{"planned changes", b.Changes}, {"pulled early", b.Pulls}, {"breaks, with their restarts", b.Breaks}, {"trips cleared at the saw", b.Trips}} {
		p.say("  %-28s%6s min in %s\n", c.name, whole(c.m.Minutes), figures.Plural(c.m.Count, "stop", "stops"))
	}
	if b.Per1000 == nil {
		p.say("  a 1,000 %s: unknown, %s\n", p.style.AreaUnit(), b.WhyPer)
		return
	}
	per := *b.Per1000 / p.style.Areas(1)
	p.say("  %.1f min a 1,000 %s over %s %s", per, p.style.AreaUnit(), p.style.Whole(b.Area), p.style.AreaUnit())
	if b.Unknown > 0 {
		p.say("; %s of unknown area are not in it", figures.Plural(b.Unknown, "pass", "passes"))
	}
	p.say("\n")
}

func (p *printer) lines() {
	for _, l := range p.Lines {
		p.say("\n%s\n", l.Saw)
		day := ""
		for _, s := range l.Stretches {
			if d := s.From.Format("Mon 2 Jan 2006"); d != day {
				day = d
				p.say("  %s\n", day)
			}
			what := string(s.Element)
			if s.Cause != "" && string(s.Cause) != what {
				what += ", " + string(s.Cause)
			}
			if s.Part {
				what += " (still)"
			}
			end := "15:04"
			if s.To.Sub(s.From) >= 24*time.Hour {
				end = "Mon 2 Jan 15:04"
			}
			p.say("    %s-%s %5.0f min  %s\n", s.From.Format("15:04"), s.To.Format(end), s.To.Sub(s.From).Minutes(), what)
		}
	}
}

func (p *printer) doubts() {
	if len(p.Doubts) == 0 {
		return
	}
	p.say("\nTo bear in mind\n")
	for _, d := range p.Doubts {
		p.say("  %s\n", d)
	}
}
