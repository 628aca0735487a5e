package lives

import (
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"
	"text/tabwriter"

	"gullet/analyze/life"
	"gullet/cmd/gullet/internal/figures"
)

// Write writes the answer for a terminal.
func (r *Report) Write(w io.Writer, s figures.Style) error {
	p := printer{Report: r, style: s}
	p.title()
	p.table()
	p.endings()
	p.curves()
	p.differences()
	p.shrunk()
	p.weights()
	p.costs()
	p.regression()
	p.fitted()
	p.doubts()
	_, err := io.WriteString(w, p.b.String())
	return err
}

type printer struct {
	*Report
	style figures.Style
	b     strings.Builder
}

func (p *printer) say(format string, args ...any) { fmt.Fprintf(&p.b, format, args...) }

// rows writes a table with a heading over it.
func (p *printer) rows(heading string, columns []string, rows [][]string) {
	p.say("\n%s\n", heading)
	t := tabwriter.NewWriter(&p.b, 0, 0, 2, ' ', 0)
	fmt.Fprintln(t, strings.Join(columns, "\t"))
	for _, row := range rows {
		fmt.Fprintln(t, strings.Join(row, "\t"))
	}
	_ = t.Flush() // a strings.Builder does not fail
}

func (p *printer) title() {
	p.say("How long blades last")
	if p.By != ByNone {
		p.say(", by %s", p.By)
	}
	if p.MadeAt != nil {
		p.say(", %s; blades first hung since %s", p.MadeAt.In(p.style.Zone).Format("Mon 2 Jan 2006 15:04 MST"), p.Since.In(p.style.Zone).Format("2 Jan 2006"))
	}
	p.say("\n")
	if p.Clock == clockWeighted {
		p.say("Lives are in %s weighted to %s: what else was cut counts for as much as it wears the blade (weights below).\n", p.style.AreaUnit(), p.Reference)
	} else {
		p.say("Lives are in %s as they were cut, whatever the material.\n", p.style.AreaUnit())
	}
	p.say("A censored blade was pulled early or still runs: it counts for what it cut, and not as ended.\n")
}

func (p *printer) table() {
	var rows [][]string
	for i := range p.Groups {
		g := &p.Groups[i]
		start := []string{g.Group, strconv.Itoa(g.Blades), strconv.Itoa(g.Ended), strconv.Itoa(g.Censored), p.style.Whole(g.Area), p.seen(g.Tenth), p.seen(g.Median)}
		rows = append(rows, append(start, p.fit(g, g.Weibull, g.WhyWeibull)...))
		if g.Borrowed != nil {
			rows = append(rows, append([]string{"  " + g.Borrowed.Note, "", "", "", "", "", ""}, p.fit(g, g.Borrowed, "")...))
		} else if g.ScaleAtLeast != nil {
			rows = append(rows, []string{"", "", "", "", "", "", "", "at the shape of all blades the scale is at least " + p.style.Area(*g.ScaleAtLeast) + " with 95 % confidence"})
		}
	}
	p.rows("Life, with 95 % limits; the curve fitted is Weibull. A star: more than any blade of the group has cut, so only the curve says it. †: of one curve through several ways of ending, which is too sure of itself; go by what was seen", []string{
		"GROUP", "BLADES", "ENDED", "CENSORED", "CUT " + p.style.AreaUnit(), "A TENTH ENDED BY (seen)", "HALF ENDED BY (seen)", "A TENTH BY (fit, B10)", "HALF BY (fit, B50)", "MEAN (fit)", "SHAPE",
	}, rows)
}

func (p *printer) seen(m Seen) string {
	if m.Value == nil {
		if m.Low == nil {
			return "not reached"
		}
		return "not reached (more than " + p.style.Area(*m.Low) + ")"
	}
	return p.style.Interval(figures.Interval{Value: *m.Value, Low: m.Low, High: m.High}, p.style.Area)
}

// farBeyond is how many times the longest life an area is no longer written as
// a number: no decision hangs on which it is.
const farBeyond = 100

// fit is B10, B50, mean and shape.
func (p *printer) fit(g *Group, w *Weibull, why string) []string {
	if w == nil {
		return []string{noFit(why)}
	}
	area := func(x float64) string {
		switch {
		case x > farBeyond*g.Longest:
			return "far beyond*"
		case x > g.Longest:
			return p.style.Area(x) + "*"
		}
		return p.style.Area(x)
	}
	mean := "unknown"
	if w.Mean != nil {
		mean = p.style.Interval(figures.Interval{Value: *w.Mean, Low: w.MeanLow, High: w.MeanHigh}, area)
	}
	fit := []string{p.style.Interval(w.B10, area), p.style.Interval(w.B50, area), mean, p.shape(w)}
	if len(g.Causes) > 1 && w == g.Weibull {
		for i := range fit[:3] {
			fit[i] = strings.Replace(fit[i], "(no limits)", "†", 1)
		}
	}
	return fit
}

// noFit is a reason without the words that it shares with every other.
func noFit(why string) string {
	return "no fit: " + strings.TrimSuffix(why, ": "+life.ErrNoFit.Error())
}

func (p *printer) shape(w *Weibull) string {
	return p.style.Interval(figures.Interval{Value: w.Shape, Low: w.ShapeLow, High: w.ShapeHigh}, decimals(2))
}

func decimals(n int) func(float64) string {
	return func(x float64) string { return strconv.FormatFloat(x, 'f', n, 64) }
}

func (p *printer) endings() {
	var rows [][]string
	for i := range p.Groups {
		g := &p.Groups[i]
		if i > 0 && len(p.Groups) > manyGroups {
			break
		}
		for _, c := range g.Causes {
			incidence, goes, shape := "unknown", "", noFit(c.WhyWeibull)
			if n := len(c.Incidence); n > 0 {
				last := c.Incidence[n-1]
				incidence = p.style.Interval(figures.Interval{Value: last.Value, Low: last.Low, High: last.High}, figures.Percent) + " by " + p.style.Area(last.Area)
			}
			if c.Weibull != nil {
				shape, goes = p.shape(c.Weibull), c.Weibull.Clock
			}
			if difference, against, ok := c.lead(); ok {
				goes += fmt.Sprintf(" (AIC %s against %s)", figures.Signed(difference, 1), against)
			}
			rows = append(rows, []string{g.Group, c.Cause, strconv.Itoa(c.Ended) + " of " + strconv.Itoa(g.Ended), figures.Percent(c.Share), incidence, goes, shape})
		}
	}
	if len(rows) == 0 {
		return
	}
	p.rows("How they ended; shape below 1: new blades fail first, about 1: by chance at any age, 2 and more: wear",
		[]string{"GROUP", "CAUSE", "ENDED", "OF THE ENDED", "OF ALL BLADES (95 %)", "GOES BY", "SHAPE (95 %)"}, rows)
}

// lead is the AIC of the clock taken less that of the other: below 0 it fits
// better.
func (c *Cause) lead() (difference float64, against string, ok bool) {
	if len(c.Clocks) != 2 || c.Weibull == nil {
		return 0, "", false
	}
	taken, other := c.Clocks[0], c.Clocks[1]
	if other.Clock == c.Weibull.Clock {
		taken, other = other, taken
	}
	return taken.AIC - other.AIC, other.Clock, true
}

// curveRows is about how many lines the curves take together, at least 4 each.
const curveRows = 24

func (p *printer) curves() {
	var rows [][]string
	each := max(4, curveRows/len(p.Groups)-1)
	for i := range p.Groups {
		g := &p.Groups[i]
		if i > 0 && len(p.Groups) > manyGroups {
			break
		}
		ended, next := 0, 0.0
		for k, step := range g.KM {
			ended += step.Ended
			if last := k == len(g.KM)-1; !last && float64(k) < next {
				continue
			}
			next += float64(len(g.KM)) / float64(each)
			rows = append(rows, []string{
				g.Group, p.style.Area(step.Area), strconv.Itoa(step.AtRisk), strconv.Itoa(ended),
				p.style.Interval(figures.Interval{Value: step.Survival, Low: step.Low, High: step.High}, figures.Percent),
			})
		}
	}
	if len(rows) > 0 {
		p.rows("Share of blades still cutting, as seen (--json has every step)", []string{"GROUP", "AFTER " + p.style.AreaUnit(), "STILL WATCHED", "ENDED SO FAR", "STILL CUTTING (95 %)"}, rows)
	}
}

func (p *printer) differences() {
	if len(p.Groups) < 2 {
		return
	}
	p.say("\nDo the groups differ?\n")
	for _, t := range []struct {
		name string
		test *Test
	}{{"log-rank test", p.LogRank}, {"the same with early ends weighted (Peto)", p.Peto}} {
		if t.test == nil {
			p.say("  %s: unknown: %s\n", t.name, p.WhyTests)
			continue
		}
		p.say("  %s: chance of such differences among equal groups %s (chi-square %.2f, %d df)\n", t.name, figures.Chance(t.test.P), t.test.Chi2, t.test.DF)
	}
	untold := 0
	for _, pair := range p.Pairs {
		if len(p.Groups) > fewGroups && (pair.P == nil || *pair.P >= 0.05) {
			untold++
			continue
		}
		p.say("  %s\n", pair.Sentence)
	}
	if untold > 0 {
		p.say("  of %s no difference can be told yet, or they cannot be compared (--json has each)\n", figures.Plural(untold, "other pair", "other pairs"))
	}
}

// fewGroups is the number of groups, all among them, up to which every pair is
// written.
const fewGroups = 5

// manyGroups is the number of groups from which on only what stands out is
// written.
const manyGroups = 10

func (p *printer) shrunk() {
	if len(p.Groups) < 2 {
		return
	}
	if p.Shrunk == nil {
		p.say("\nGroups drawn toward the common life: unknown: %s\n", p.WhyShrunk)
		return
	}
	var rows [][]string
	for _, g := range p.Shrunk.Groups {
		raw := "no fit"
		if g.Raw != nil {
			raw = p.style.Area(*g.Raw)
		}
		rows = append(rows, []string{g.Group, strconv.Itoa(g.Blades), strconv.Itoa(g.Ended), strconv.Itoa(g.Cens), raw, p.style.Interval(g.B50, p.style.Area), p.style.Interval(g.B10, p.style.Area)})
	}
	p.rows(fmt.Sprintf("The groups alone and drawn toward their common life, the more the fewer ends they have; scales differ by a factor of %s (1 SD)",
		p.style.Interval(factor(p.Shrunk.SD), decimals(2))),
		[]string{"GROUP", "BLADES", "ENDED", "CENSORED", "B50 ALONE", "B50 DRAWN (95 %)", "B10 DRAWN (95 %)"}, rows)
}

// factor is an interval of logarithms as one of ratios.
func factor(i figures.Interval) figures.Interval {
	out := figures.Interval{Value: math.Exp(i.Value), Low: i.Low, High: i.High}
	for _, limit := range []**float64{&out.Low, &out.High} {
		if *limit != nil {
			*limit = figures.Finite(math.Exp(**limit))
		}
	}
	return out
}

func (p *printer) weights() {
	if len(p.Weights) == 0 && len(p.Settled) == 0 {
		if p.Clock == clockWeighted || p.Reference != "" {
			p.say("\nWeights of the classes of material: unknown: %s\n", p.WhyWeights)
		}
		return
	}
	list := p.Settled
	if len(list) == 0 {
		list = p.Weights
	}
	var rows [][]string
	for i, w := range list {
		data, configured := "unknown", "not configured"
		if i < len(p.Weights) {
			data = weightText(&p.Weights[i], p.style)
		}
		if w.Configured != nil {
			configured = decimals(2)(*w.Configured)
		}
		if w.Class == notConfigured {
			configured = "1.00 assumed"
		}
		rows = append(rows, []string{w.Class, strconv.Itoa(w.Blades), strconv.Itoa(w.Ended), p.style.Whole(w.Area), configured, data, weightText(&w, p.style)})
	}
	p.rows(fmt.Sprintf("How fast one %s of each class wears a blade, %s = 1", p.style.AreaUnit(), p.Reference),
		[]string{"CLASS", "BLADES", "ENDED", "CUT " + p.style.AreaUnit(), "CONFIGURED", "THE BLADES ALONE SAY (95 %)", "IN USE (95 %)"}, rows)
	if p.WhyWeights != "" {
		p.say("What the blades alone say is unknown: %s\n", p.WhyWeights)
	}
}

func weightText(w *Weight, s figures.Style) string {
	if w.Weight == nil {
		return "unknown: " + w.Why
	}
	switch {
	case w.Class == notConfigured:
		return "1.00 assumed"
	case w.SE != nil && *w.SE == 0:
		return decimals(2)(*w.Weight)
	}
	return s.Interval(figures.Interval{Value: *w.Weight, Low: w.Low, High: w.High}, decimals(2))
}

func (p *printer) costs() {
	why := p.Groups[0].WhyCost
	if !slices.ContainsFunc(p.Groups, func(g Group) bool { return g.Cost != nil || g.WhyCost != why }) {
		p.say("\nWhat blades cost for what they cut: unknown: %s\n", why)
		return
	}
	var rows [][]string
	for i := range p.Groups {
		g := &p.Groups[i]
		if g.Cost == nil {
			rows = append(rows, []string{g.Group, "unknown: " + g.WhyCost})
			continue
		}
		weighted := ""
		if g.Cost.PerWeighted != nil {
			weighted = p.money(*g.Cost.PerWeighted)
		}
		rows = append(rows, []string{g.Group, strconv.Itoa(g.Cost.Off), p.money(g.Cost.PerArea), weighted})
	}
	unit := "1,000 " + p.style.AreaUnit()
	columns := []string{"GROUP", "BLADES OFF", "PER " + unit + " (95 %)"}
	if p.Clock == clockWeighted {
		columns = append(columns, "PER WEIGHTED "+unit+" (95 %)")
	}
	p.rows("What blades cost for what they cut, "+named(p.Currency, "in the currency of the prices")+": price of the blades that came off over all that was cut", columns, rows)
}

// money writes a price per area for 1,000 of the shop's unit.
func (p *printer) money(i figures.Interval) string {
	return p.style.Interval(i, func(perIn2 float64) string { return decimals(2)(1000 * perIn2 / p.style.Areas(1)) })
}

func (p *printer) regression() {
	if p.WhyRegr != "" {
		p.say("\nLife against the covariates: unknown: %s\n", p.WhyRegr)
	}
	if p.Regression == nil {
		return
	}
	var rows [][]string
	for _, c := range p.Regression.Coefficients {
		row := []string{c.Name, fmt.Sprintf("%.4g", c.Value), "unknown", ""}
		if c.SE != nil {
			row[2] = fmt.Sprintf("%.4g to %.4g", *c.Low, *c.High)
			row[3] = fmt.Sprintf("× %.4g", math.Exp(c.Value))
		}
		rows = append(rows, row)
	}
	p.rows(fmt.Sprintf("Life against the covariates: what one more of each adds to ln life (%d blades, %d ended)", p.Regression.Blades, p.Regression.Ended),
		[]string{"TERM", "ADDS", "95 %", "LIFE"}, rows)
}

func (p *printer) fitted() {
	if len(p.Fitted) == 0 {
		return
	}
	columns := []string{"SAW", "BLADE", "CUT " + p.style.AreaUnit() + " (weighted)", "LEFT " + p.style.AreaUnit() + " 10 / 50 / 90 %", "FROM"}
	if n := p.next(); n != nil {
		columns = append(columns, fmt.Sprintf("SURVIVES %s %s MORE OF %s", p.style.Area(n.Area), p.style.AreaUnit(), n.Class))
	}
	var rows [][]string
	for i := range p.Fitted {
		rows = append(rows, p.fittedRow(&p.Fitted[i]))
	}
	p.rows("On the saws now: what is left when a tenth, half and nine tenths of such blades are done, in "+p.style.AreaUnit()+
		" of the saw's mix,\nthe doubt of the fit included; a star: more than any blade of its type has cut", columns, rows)
}

func (p *printer) fittedRow(f *Fitted) []string {
	left, from := "unknown: "+f.Why, ""
	if r := f.Remaining; r != nil {
		mark := func(area, weighted float64) string {
			if weighted > *f.Horizon {
				return p.style.Area(area) + "*"
			}
			return p.style.Area(area)
		}
		left = mark(r.Q10, f.InWeight.Q10) + " / " + mark(r.Q50, f.InWeight.Q50) + " / " + mark(r.Q90, f.InWeight.Q90)
		from = fmt.Sprintf("%s; %d of %d ended", f.Basis, f.Ended, f.Blades)
	}
	row := []string{f.Saw, named(f.Blade, "(not named)"), p.style.Whole(f.Area) + " (" + p.style.Whole(f.Weighted) + ")", left, from}
	if f.Next != nil && f.Next.Odds != nil {
		row = append(row, figures.Percent(*f.Next.Odds))
	}
	return row
}

func (p *printer) next() *Next {
	for i := range p.Fitted {
		if n := p.Fitted[i].Next; n != nil {
			return n
		}
	}
	return nil
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
