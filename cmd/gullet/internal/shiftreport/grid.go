package shiftreport

import (
	"fmt"
	"strings"

	"gullet/analyze/shift"
	"gullet/cmd/gullet/internal/figures"
	"gullet/cmd/gullet/internal/standing"
)

// grid is a table in words, for the terminal and the page.
type grid struct {
	Title, Note string
	Half        bool // there is room for another beside it
	Heads       []head
	Rows        [][]string // the last cell of one that is short is a text that takes the rest
	Bars        []float64  // 0 to 1, drawn in each row's column that has Bar
	More        string     // what was left out
}

type head struct {
	Name string
	Left bool // texts
	Bar  bool
}

func texts(names ...string) (list []head) {
	for _, n := range names {
		list = append(list, head{Name: n, Left: true})
	}
	return list
}

func numbers(names ...string) (list []head) {
	for _, n := range names {
		list = append(list, head{Name: n})
	}
	return list
}

// room is how many lines of a kind fit on the page.
type room struct{ causes, weeks, stops, open, doubts int }

func (r *Report) room() room {
	if r.crowded() {
		return room{5, 3, 4, 3, 3}
	}
	return room{6, 4, 5, 4, 4}
}

func whole(x float64) string { return figures.Thousands(x) }

func count(n int) string { return figures.Thousands(float64(n)) }

// sawGrid is a row for each saw, and one for all.
func (r *Report) sawGrid() grid {
	unit := r.style.AreaUnit()
	g := grid{
		Title: "What each saw did", Note: "in minutes of elapsed time; area of all passes; in brackets what unknown time leaves open",
		Heads: append(texts("Saw"), numbers("Produced, min", "Setup, min", "Delay, min", "Down, min", "Planned down, min", "Unknown, min", "Pieces", "Area, "+unit,
			"Area unknown, passes", "Trips", "Breaks", "Availability", "of planned busy, min")...),
	}
	all := standing.Done{Saw: "all"}
	for i := range r.Saws {
		s := &r.Saws[i]
		g.Rows = append(g.Rows, r.sawRow(s))
		all.Pieces += s.Pieces
		all.Area += s.Area
		all.AreaUnknown += s.AreaUnknown
		all.Trips += s.Trips
		all.Breaks += s.Breaks
	}
	if len(r.Saws) > 1 {
		g.Rows = append(g.Rows, r.sawRow(&Saw{Done: all, Report: &r.Downtime.All}))
	}
	return g
}

func (r *Report) sawRow(s *Saw) []string {
	m := &s.Report.Minutes
	switch {
	case s.Off:
		return []string{s.Saw, "has no such shift"}
	case s.silent():
		return []string{s.Saw, "unknown: no reading tells anything of " + minutes(m.Unknown)}
	}
	area := r.style.Whole(s.Area)
	if s.areaUnknown() {
		area = "unknown"
	}
	return []string{
		s.Saw, whole(m.Production), whole(m.Setup), whole(m.Delay), whole(m.Down), whole(m.PlannedDown), whole(m.Unknown),
		count(s.Pieces), area, count(s.AreaUnknown), count(s.Trips), count(s.Breaks),
		standing.Ratio(&s.Report.Model.Availability), whole(s.Report.Model.PlannedBusy),
	}
}

// causeGrid is the causes that took most, and those of the most stops.
func (r *Report) causeGrid() grid {
	d, room := r.Downtime, r.room()
	g := grid{
		Title: "What they stood for, unplanned", Note: "shares of " + minutes(d.Standing.Minutes), Half: true,
		Heads: append(append(texts("Cause"), head{Bar: true}), numbers("Min", "Share", "Stops", "Rank by stops", "Min a stop")...),
	}
	var rest standing.Minutes
	left := 0
	for i, c := range d.Pareto {
		if i >= room.causes-2 && (c.ByCount > 3 || len(g.Rows) >= room.causes) {
			rest.Minutes += c.Minutes
			rest.Count += c.Count
			left++
			continue
		}
		rank, each := "-", "-"
		if c.Count > 0 {
			rank, each = fmt.Sprint(c.ByCount), perStop(c.Minutes/float64(c.Count))
		}
		share := "unknown"
		if c.Share != nil {
			share = figures.Percent(*c.Share)
		}
		bar := 0.0
		if most := d.Pareto[0].Minutes; most > 0 {
			bar = c.Minutes / most
		}
		g.Rows = append(g.Rows, []string{string(c.Cause), "", whole(c.Minutes), share, count(c.Count), rank, each})
		g.Bars = append(g.Bars, bar)
	}
	if left > 0 {
		g.More = fmt.Sprintf("%s more: %s in %s (gullet downtime).", figures.Plural(left, "cause", "causes"), minutes(rest.Minutes), figures.Plural(rest.Count, "stop", "stops"))
	}
	return g
}

// perStop is minutes to one decimal, or to none where that says enough.
func perStop(m float64) string {
	if m >= 100 {
		return whole(m)
	}
	return fmt.Sprintf("%.1f", m)
}

// stopGrid is the stops that people talk about.
func (r *Report) stopGrid() grid {
	d := r.Downtime
	note := "no long one began"
	if d.LongInAll > 0 {
		note = fmt.Sprintf("%d long, %s in all to their ends", d.LongInAll, minutes(d.LongMinutes))
	}
	g := grid{
		Title: "Long stops", Note: note, Half: true,
		Heads: append(append(texts("Saw", "From"), numbers("Min")...), texts("Cause", "")...),
	}
	if r.Kind == "shift" {
		g.Title = "Long stops, and those taken or handed over"
	}
	list := r.stops()
	all := max(len(list), d.LongInAll)
	list = list[:min(len(list), r.room().stops)]
	for i := range list {
		s := &list[i]
		g.Rows = append(g.Rows, []string{s.Saw, r.moment(s.From), whole(s.Minutes), string(s.Cause), r.fate(s)})
	}
	if n := all - len(list); n > 0 {
		g.More = fmt.Sprintf("%d more (gullet downtime).", n)
	}
	return g
}

// openGrid is the stops that nobody has explained.
func (r *Report) openGrid() grid {
	g := grid{Title: "Not explained yet", Note: figures.Plural(len(r.Open), "stop", "stops"), Half: true, Heads: append(append(texts("Saw", "From"), numbers("Min")...), texts("")...)}
	if len(r.Open) == 0 {
		return g
	}
	g.More = "Say what each was for, --at being any moment of it: " + r.explain(&r.Open[0])
	for i := range r.Open[:min(len(r.Open), r.room().open)] {
		s := &r.Open[i]
		g.Rows = append(g.Rows, []string{s.Saw, r.moment(s.From), whole(s.Minutes), joined(r.fate(s), standing.Suggested(s.Suggestions))})
	}
	if n := len(r.Open) - len(g.Rows); n > 0 {
		g.More = fmt.Sprintf("%d more (all are in the workbook, --xlsx). ", n) + g.More
	}
	return g
}

// weekGrid is the week beside those before it.
func (r *Report) weekGrid() grid {
	weeks := r.Downtime.Weeks
	g := grid{
		Title: "Beside the weeks before", Note: "minutes stood an hour of planned busy time", Half: true,
		Heads: texts("Cause"), More: "Weeks from Monday; * is not whole.",
	}
	all, hours := []string{"all"}, []string{"planned busy, h"}
	for _, w := range weeks {
		name := w.From
		if date, err := shift.ParseDate(w.From); err == nil {
			name = dayName(date)[len("Mon "):]
		}
		if !w.Complete {
			name += "*"
		}
		g.Heads = append(g.Heads, head{Name: name})
		rate := "unknown"
		if w.Rate != nil {
			rate = fmt.Sprintf("%.1f", *w.Rate)
		}
		all, hours = append(all, rate), append(hours, whole(w.Planned/60))
	}
	g.Rows = append(g.Rows, all)
	for _, c := range r.Downtime.Pareto[:min(len(r.Downtime.Pareto), r.room().weeks)] {
		row := []string{string(c.Cause)}
		for _, w := range weeks {
			if w.Rate == nil {
				row = append(row, "unknown")
				continue
			}
			row = append(row, fmt.Sprintf("%.1f", w.ByCause[c.Cause]))
		}
		g.Rows = append(g.Rows, row)
	}
	g.Rows = append(g.Rows, hours)
	return g
}

// failGrid is how often saws fail, over a week.
func (r *Report) failGrid() grid {
	g := grid{
		Title: "How often they fail", Note: "limits at 95 %",
		Heads: append(append(texts("Saw"), numbers("Failures", "MTBF, h", "over, h", "Repairs", "MTTR, min")...), texts("Failures get")...),
	}
	list := r.reports()
	if r.crowded() {
		list = []*standing.SawReport{&r.Downtime.All}
		g.More = "Each saw's: gullet downtime. "
	}
	for _, s := range list {
		g.Rows = append(g.Rows, []string{
			s.Saw, count(s.MTBF.N), standing.Estimate(&s.MTBF.Figure, 60, 1), fmt.Sprintf("%.1f", s.MTBF.Over/60),
			count(s.MTTR.N), standing.Estimate(&s.MTTR.Figure, 1, 0), string(s.Trend.Verdict),
		})
	}
	var base []string
	if b := r.Downtime.All.MTBF.Base; b != "" {
		base = append(base, "MTBF = "+b)
	}
	if b := r.Downtime.All.MTTR.Base; b != "" {
		base = append(base, "MTTR = "+b)
	}
	if len(base) > 0 {
		g.More += strings.Join(base, "; ") + "."
	}
	return g
}

// grids are the tables of the report, those with something in them.
func (r *Report) grids() (list []grid) {
	all := []grid{r.sawGrid(), r.causeGrid()}
	if r.Kind == "week" {
		all = append(all, r.weekGrid())
	}
	all = append(all, r.stopGrid(), r.openGrid())
	if r.Kind == "week" {
		all = append(all, r.failGrid())
	}
	if len(r.Saws) == 0 {
		return nil
	}
	for _, g := range all {
		if len(g.Rows) > 0 {
			list = append(list, g)
		}
	}
	return list
}

// doubtLines are the doubts that fit on the page.
func (r *Report) doubtLines() []string {
	list, n := r.Doubts, r.room().doubts
	if len(list) > n {
		list = append(list[:n-1:n-1], fmt.Sprintf("%d more (gullet downtime)", len(list)-n+1))
	}
	return list
}
