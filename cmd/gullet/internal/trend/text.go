package trend

import (
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"
	"text/tabwriter"

	"gullet/cmd/gullet/internal/figures"
)

// Write writes the answer for a terminal: all saws at a glance, the most urgent
// first, then each by itself. With course the way of the deviation is written
// too.
func (r *Report) Write(out io.Writer, s figures.Style, course bool) error {
	p := printer{Report: r, words: words{style: s, over: r.Unit == "in/in", unit: r.AreaUnit}, course: course}
	p.title()
	p.glance()
	for _, a := range r.Urgent() {
		p.saw(a)
	}
	p.doubts()
	_, err := io.WriteString(out, p.b.String())
	return err
}

type printer struct {
	*Report
	words
	course bool
	b      strings.Builder
}

func (p *printer) say(format string, args ...any) { fmt.Fprintf(&p.b, format, args...) }

func (p *printer) title() {
	p.say("Is the cut wandering, and is it the blade or the saw?")
	if p.MadeAt != nil {
		p.say(" %s", p.style.Moment(*p.MadeAt, *p.MadeAt)+p.MadeAt.In(p.style.Zone).Format(" MST, Mon 2 Jan 2006"))
	}
	p.say("\n")
	if p.over {
		p.say("Deviations are over the height of their cut, in %s, signed: the sign is the side.", p.deviationUnit())
	} else {
		p.say("Deviations are as they were told, in %s, signed: no heights were given.", p.deviationUnit())
	}
	switch {
	case p.AreaUnit == unitCuts:
		p.say(" Blades are counted in cuts.\n")
	case p.Clock == "weighted area":
		p.say(" What a blade has cut, and each 1,000 %[1]s of a slope or a rate, is weighted by how each grade wears it; what is still to be cut until a trip is plain %[1]s of the saw's own mix.\n", p.style.AreaUnit())
	default:
		p.say(" What a blade has cut is %s as listed.\n", p.style.AreaUnit())
	}
	if len(p.Saws) == 0 {
		p.say("No saw has sent a cut yet.\n")
	}
}

// area writes an estimated area in the unit of the answer.
func (p *printer) area(x float64) string {
	if p.AreaUnit == unitCuts {
		return figures.Thousands(math.Round(x))
	}
	return p.style.Area(x)
}

func (p *printer) unitOfArea() string {
	if p.AreaUnit == unitCuts {
		return unitCuts
	}
	return p.style.AreaUnit()
}

// window writes three areas; beyond is what a chance never reaches.
func (p *printer) window(r *Reach) string {
	one := func(x *float64) string {
		if x == nil {
			return "beyond"
		}
		return p.area(*x)
	}
	return one(r.Q10) + " / " + one(r.Q50) + " / " + one(r.Q90)
}

func (p *printer) glance() {
	if len(p.Saws) == 0 {
		return
	}
	p.say("\n")
	t := tabwriter.NewWriter(&p.b, 0, 0, 2, ' ', 0)
	fmt.Fprintf(t, "SAW\tBLADE\tCUTS\tCUT %[1]s\tLEVEL %[2]s (95 %%)\tLIMIT\tFIRST TRIP WITHIN %[1]s 10 / 50 / 90 %%\tIN THE NEXT SHIFT\tFOUND\n", p.unitOfArea(), p.deviationUnit())
	for _, a := range p.Urgent() {
		level, limit, reach, odds := "unknown", "unknown", "unknown", "unknown"
		if l := a.Level; l != nil {
			level = p.style.Interval(*l, p.number)
		}
		if a.Limit != nil {
			limit = "±" + strings.TrimPrefix(p.number(*a.Limit), "+")
		}
		if a.Reach != nil {
			reach = p.window(a.Reach)
			if a.Reach.Odds != nil {
				odds = figures.Odds(*a.Reach.Odds)
			}
		}
		fmt.Fprintf(t, "%s\t%s\t%d\t%s\t%s\t%s\t%s\t%s\t%s\n", a.Saw, blade(a.Blade), a.Cuts, figures.Thousands(math.Round(p.areas(a.Area))), level, limit, reach, odds, a.kinds())
	}
	_ = t.Flush() // a strings.Builder does not fail
}

func (p *printer) areas(x float64) float64 {
	if p.AreaUnit == unitCuts {
		return x
	}
	return p.style.Areas(x)
}

// kinds are the findings in short. A saw whose deviation nobody knows is not fine.
func (a *Answer) kinds() string {
	var list []string
	if a.Level == nil && len(a.Findings) == 0 {
		return "unknown"
	}
	for _, f := range a.Findings {
		list = append(list, f.Kind+" "+figures.Odds(f.Confidence))
	}
	if len(list) == 0 {
		return "nothing"
	}
	return strings.Join(list, ", ")
}

// saw writes one saw.
func (p *printer) saw(a *Answer) {
	p.say("\n%s · blade %s", a.Saw, strings.TrimSpace(blade(a.Blade)+" "+a.Type))
	if a.Lot != "" {
		p.say(", lot %s", a.Lot)
	}
	p.say(" · %s, %s with a deviation", figures.Plural(a.Cuts, "cut", "cuts"), strconv.Itoa(a.Readings))
	if a.Wild > 0 {
		p.say(", %d of them wild", a.Wild)
	}
	p.say("\n")
	for i := range a.Findings {
		p.finding(&a.Findings[i])
	}
	p.figures(a)
	if p.course {
		p.way(a)
	}
}

func (p *printer) finding(f *Finding) {
	since := ""
	if f.Since != nil {
		since = ", since " + f.Since.In(p.style.Zone).Format("2 Jan 15:04")
	}
	if f.Last != nil {
		since += ", last on " + f.Last.In(p.style.Zone).Format("2 Jan 15:04")
	}
	p.say("  FOUND %s, %s sure%s: %s\n", f.Kind, figures.Odds(f.Confidence), since, f.Sentence)
	for _, e := range f.Evidence {
		p.say("    because      %s\n", e)
	}
	for i, c := range f.CheckFirst {
		p.say("    check %-6d %s\n", i+1, c)
	}
}

// figures are the numbers of a saw, each with its reason where it is unknown.
func (p *printer) figures(a *Answer) {
	line := func(name, text string) { p.say("  %-11s%s\n", name, text) }
	if s := a.Slope; s != nil {
		line("slope", fmt.Sprintf("%s %s per 1,000 %s (%s to %s), n=%d", p.slope(s.Value*p.perArea()), p.deviationUnit(), p.unitOfArea(), p.slope(s.Low*p.perArea()), p.slope(s.High*p.perArea()), s.N))
	} else {
		line("slope", "unknown: "+a.WhySlope)
	}
	p.levels(a, line)
	if c := a.Change; c != nil {
		at := ""
		if c.At != nil {
			at = " about " + c.At.In(p.style.Zone).Format("2 Jan 15:04")
		}
		line("change", fmt.Sprintf("by %s %s at %s %s%s; chance of one as large without any %s", p.number(c.Size), p.deviationUnit(), p.area(c.Area), p.unitOfArea(), at, figures.Chance(c.P))+bend(a.Habits))
	} else {
		line("change", a.WhyChange)
	}
	if c := a.Chart; c != nil {
		text := fmt.Sprintf("%d of %d readings beyond the limits; EWMA %s in %s to %s; sums %.1f up, %.1f down, limit %g", c.Beyond, c.Readings, figures.Signed(c.EWMA, 2), figures.Signed(c.EWMALow, 2), figures.Signed(c.EWMAHigh, 2), c.Upper, c.Lower, c.Limit)
		if c.Out {
			text += "; OUT"
			if c.Since != nil {
				text += " for " + figures.Plural(*c.Since, "reading", "readings")
			}
		}
		from := "no blade before it was settled enough for a baseline"
		if c.Settled != "" {
			from = "baseline from blade " + c.Settled
		}
		line("charts", text+" (standard deviations beside the wear line; "+from+")")
	}
	if c := a.Pace; c != nil {
		line("pace", fmt.Sprintf("%s beside the same grade and size, wear allowed for, n=%d; wear has made it %s by now", percents(c.Ratio), c.Cuts, ratio(math.Log(c.Slowing))))
	} else {
		line("pace", "unknown: "+a.WhyPace)
	}
	p.trips(a, line)
}

// bend warns of a change where no blade before shows how wear bends the line it is
// held against.
func bend(h *Habits) string {
	if h == nil || h.Blades > 0 {
		return ""
	}
	return "; no blade before it being known, wear that bends otherwise than usual looks like one"
}

// perArea turns a slope per 1,000 in² into one per 1,000 of the shop's unit.
func (p *printer) perArea() float64 { return 1 / p.areas(1) }

func (p *printer) levels(a *Answer, line func(name, text string)) {
	switch {
	case a.Level == nil:
		line("level", "unknown: "+a.WhyLevel)
	case a.Limit != nil:
		line("level", fmt.Sprintf("%s %s, %.0f %% of the limit", p.style.Interval(*a.Level, p.number), p.deviationUnit(), 100*math.Abs(a.Level.Value) / *a.Limit))
	default:
		line("level", p.style.Interval(*a.Level, p.number)+" "+p.deviationUnit())
	}
	r := a.Reach
	if r == nil {
		line("first trip", "unknown: "+a.WhyReach)
		return
	}
	text := fmt.Sprintf("within %s %s more at 10 / 50 / 90 %%", p.window(r), p.unitOfArea())
	if r.Q90 != nil && *r.Q90 == 0 {
		text = "the deviation is at the limit now"
	}
	if r.Odds != nil {
		text += fmt.Sprintf("; %s within the next shift (%s %s)", figures.Odds(*r.Odds), p.area(*r.Shift), p.unitOfArea())
	} else {
		text += "; within the next shift unknown: " + r.WhyOdds
	}
	if a.LimitNote != "" {
		text += "; " + a.LimitNote
	}
	line("first trip", text)
	if h := a.Habits; h != nil {
		from := "from " + figures.Plural(h.Blades, "blade", "blades") + " before it"
		if h.Blades == 0 {
			from = "a guess from what is usual, no blade before it being known: the trip may come well before or after"
		}
		line("", fmt.Sprintf("%s; wear goes with the power %.3g of the area, one cut wanders by %s %s (1 SD)", from, h.Power, strings.TrimPrefix(p.number(h.Cut), "+"), p.deviationUnit()))
	}
}

func (p *printer) trips(a *Answer, line func(name, text string)) {
	t := a.Trips
	if t == nil {
		line("trips", "unknown: "+a.WhyTrips)
		return
	}
	rate := func(x float64) string { return strconv.FormatFloat(x*p.perArea(), 'f', 3, 64) }
	sides := ""
	if t.Minus+t.Plus > 0 {
		sides = fmt.Sprintf(" (%d to -, %d to +)", t.Minus, t.Plus)
	}
	text := fmt.Sprintf("%d%s, %s per 1,000 %s (%s to %s)", t.Count, sides, rate(t.Rate), p.unitOfArea(), rate(t.Low), rate(t.High))
	if r := t.Ratio; r != nil {
		one := func(x *float64) string {
			if x == nil {
				return "not reached"
			}
			return strconv.FormatFloat(*x, 'f', 2, 64)
		}
		text += fmt.Sprintf("; later half of the area over the earlier × %s (%s to %s, p %s)", one(r.Value), one(r.Low), one(r.High), figures.Chance(r.P))
	}
	if a.Level == nil && t.Odds != nil {
		text += "; at that rate " + p.style.Interval(*t.Odds, figures.Percent) + " within the next shift"
	}
	line("trips", text)
}

func percents(i figures.Interval) string {
	low, high := math.NaN(), math.NaN()
	if i.Low != nil && i.High != nil {
		low, high = math.Log(*i.Low), math.Log(*i.High)
	}
	return fmt.Sprintf("%s (%s to %s)", ratio(math.Log(i.Value)), ratio(low), ratio(high))
}

// stretches is how many lines the way of a deviation is written in.
const stretches = 10

// way writes the course of the deviation in stretches of equal numbers of
// readings.
func (p *printer) way(a *Answer) {
	var known []Point
	for _, c := range a.Points {
		if c.Deviation != nil {
			known = append(known, c)
		}
	}
	if len(known) == 0 {
		return
	}
	p.say("\n")
	t := tabwriter.NewWriter(&p.b, 0, 0, 2, ' ', 0)
	fmt.Fprintf(t, "  UP TO %s\tREADINGS\tMEAN %s\tLEAST\tMOST\tTRIPS\n", p.unitOfArea(), p.deviationUnit())
	groups := min(stretches, len(known))
	for g := range groups {
		part := known[g*len(known)/groups : (g+1)*len(known)/groups]
		sum, least, most, trips := 0.0, math.Inf(1), math.Inf(-1), 0
		for _, c := range part {
			sum += *c.Deviation
			least, most = math.Min(least, *c.Deviation), math.Max(most, *c.Deviation)
			if c.Trip {
				trips++
			}
		}
		fmt.Fprintf(t, "  %s\t%d\t%s\t%s\t%s\t%d\n", figures.Thousands(math.Round(p.areas(part[len(part)-1].Area))), len(part), p.number(sum/float64(len(part))), p.number(least), p.number(most), trips)
	}
	_ = t.Flush()
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
