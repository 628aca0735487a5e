package floor

import (
	"cmp"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"
	"text/tabwriter"
	"time"

	"gullet/analyze"
	"gullet/cmd/gullet/internal/figures"
)

const unknown = "unknown"

// Write writes the floor for a terminal: what to do first, one row per saw,
// how long blades last, and what is in doubt.
func (f *Floor) Write(w io.Writer, s figures.Style) error {
	var b strings.Builder
	fmt.Fprintf(&b, "Floor, %s\n%s\n\n", f.MadeAt.In(s.Zone).Format("Mon 2 Jan 2006 15:04 MST"), f.Sentence(s))
	f.writeSaws(&b, s)
	f.writeChanges(&b, s)
	f.writeTypes(&b, s)
	if len(f.Doubts) > 0 {
		b.WriteString("\nBefore you trust these figures:\n")
		for _, d := range f.Doubts {
			fmt.Fprintf(&b, "  - %s\n", d)
		}
	}
	_, err := io.WriteString(w, b.String())
	return err
}

// Sentence says which saw needs a blade first.
func (f *Floor) Sentence(s figures.Style) string {
	var first *Saw
	for i := range f.Saws {
		b := f.Saws[i].Blade
		if b == nil || b.Remaining == nil {
			continue
		}
		if first == nil || sooner(&f.Saws[i], first) < 0 {
			first = &f.Saws[i]
		}
	}
	switch {
	case len(f.Saws) == 0:
		return "No saw has said anything yet."
	case first == nil:
		return "No blade's end can be forecast yet; the reasons stand below."
	}
	r := first.Blade.Remaining
	text := fmt.Sprintf("First to change is %s, blade %s: 1 in 10 such blades is done within %s %s more, half within %s",
		first.Saw, bladeName(first.Blade), s.Area(r.Q10), s.AreaUnit(), s.Area(r.Q50)+first.Blade.mark(r.Q50))
	if c := first.Blade.ChangeTime; c != nil {
		text += "; at the saw's pace that is " + s.Day(c.Q10, f.MadeAt) + " and " + s.Day(c.Q50, f.MadeAt)
	}
	return text + "."
}

// sooner orders saws by when their blades are likely to be done; a saw with no
// pace comes after those with one. In² would compare stainless with mild steel.
func sooner(a, b *Saw) int {
	x, y := a.Blade.ChangeTime, b.Blade.ChangeTime
	switch {
	case x == nil && y == nil:
		return cmp.Compare(a.Blade.Remaining.Q10, b.Blade.Remaining.Q10)
	case y == nil:
		return -1
	case x == nil:
		return 1
	}
	return cmp.Or(x.Q10.Compare(y.Q10), x.Q50.Compare(y.Q50))
}

// beyond marks what lies past the oldest blade of its type that was seen: the
// fitted curve goes on there, but no blade has shown it.
const beyond = "*"

// mark is beyond for an area still to be cut that no such blade has reached.
func (b *Blade) mark(left float64) string {
	if b.Horizon != nil && left > *b.Horizon {
		return beyond
	}
	return ""
}

// text writes three areas, each with its mark.
func (w *Window) text(s figures.Style, b *Blade) string {
	return s.Area(w.Q10) + b.mark(b.Remaining.Q10) + " / " + s.Area(w.Q50) + b.mark(b.Remaining.Q50) + " / " + s.Area(w.Q90) + b.mark(b.Remaining.Q90)
}

func (f *Floor) writeSaws(b *strings.Builder, s figures.Style) {
	t := tabwriter.NewWriter(b, 0, 0, 2, ' ', 0)
	fmt.Fprintf(t, "SAW\tSTATE\tBLADE\tCUT %[1]s\tLEFT %[1]s\tCUTS\tDEVIATION %[2]s\tSLOPE (95 %%)\tTRIPS\tLAST STOP\tLAST READING\n", s.AreaUnit(), s.LengthUnit())
	fmt.Fprintf(t, "\t\t\t(weighted)\t10 / 50 / 90 %%\t\t\tof deviation/height, per 1,000 weighted in²\t\t\t\n")
	for i := range f.Saws {
		saw := &f.Saws[i]
		cells := []string{saw.Saw, saw.stateText(f.MadeAt, s)}
		cells = append(cells, saw.bladeCells(s)...)
		cells = append(cells, saw.stopText(f.MadeAt, s), saw.heardText())
		fmt.Fprintln(t, strings.Join(cells, "\t"))
	}
	_ = t.Flush() // a strings.Builder does not fail
}

func (saw *Saw) stateText(now time.Time, s figures.Style) string {
	if saw.Silent {
		if saw.LastReading == nil {
			return "no data yet"
		}
		return "no data since " + s.Moment(saw.LastReading.Happened, now)
	}
	if saw.Online != nil && !*saw.Online && saw.OnlineSince != nil {
		return "offline since " + s.Moment(*saw.OnlineSince, now)
	}
	text := cmp.Or(saw.State, unknown)
	if saw.stopped() {
		return string(analyze.StateStopped) + ", " + saw.LastStop.Cause
	}
	if saw.Cause != "" {
		text += ", " + saw.Cause
	}
	return text
}

// stopped reports whether a trip or a break is the last that was heard of a saw
// whose state was never told anew.
func (saw *Saw) stopped() bool {
	return saw.LastStop != nil && saw.LastReading != nil && saw.State == string(analyze.StateCutting) &&
		(saw.Since == nil || saw.LastStop.At.After(*saw.Since)) && !saw.LastReading.At.After(saw.LastStop.At)
}

// bladeCells are blade, cut, left, cuts, deviation, slope and trips.
func (saw *Saw) bladeCells(s figures.Style) []string {
	b := saw.Blade
	if b == nil {
		return []string{"no blade known", unknown, unknown, unknown, unknown, unknown, unknown}
	}
	left, deviation, slope := unknown, unknown, unknown
	if r := b.Remaining; r != nil {
		left = r.text(s, b)
	}
	if b.Deviation != nil {
		deviation = s.Length(b.Deviation.Value)
	}
	if sl := b.Slope; sl != nil {
		slope = fmt.Sprintf("%s (%s to %s, n=%d)", figures.Signed(sl.Value, 5), figures.Signed(sl.Low, 5), figures.Signed(sl.High, 5), sl.N)
	}
	cut := fmt.Sprintf("%s (%s)", s.Whole(b.Area), s.Whole(b.WeightedArea))
	if b.AreaUnknown > 0 {
		cut += " + " + figures.Plural(b.AreaUnknown, "pass", "passes") + " of unknown area"
	}
	return []string{
		strings.TrimSpace(bladeName(b) + " " + b.Type), cut, left,
		strconv.FormatInt(b.Cuts, 10), deviation, slope, strconv.FormatInt(b.Trips, 10),
	}
}

func bladeName(b *Blade) string { return cmp.Or(b.Serial, "(not named)") }

func (saw *Saw) stopText(now time.Time, s figures.Style) string {
	if saw.LastStop == nil {
		return "none seen"
	}
	return s.Moment(saw.LastStop.At, now) + " " + cmp.Or(saw.LastStop.Cause, "no cause given")
}

func (saw *Saw) heardText() string {
	if saw.LastReading == nil {
		return "never"
	}
	return figures.Age(time.Duration(saw.LastReading.AgeSeconds*float64(time.Second))) + " ago"
}

// writeChanges writes when each fitted blade is likely to be done, first to
// change on top.
func (f *Floor) writeChanges(b *strings.Builder, s figures.Style) {
	var known []*Saw
	for i := range f.Saws {
		if bl := f.Saws[i].Blade; bl != nil && bl.ChangePoint != nil {
			known = append(known, &f.Saws[i])
		}
	}
	if len(known) == 0 {
		return
	}
	slices.SortFunc(known, sooner)
	fmt.Fprintf(b, "\nNext change: when 10, 50 and 90 %% of such blades are done, the doubt of the fit included; days at each saw's pace of\n"+
		"the last %d days, weekends included. A star: more than any such blade has cut so far, so only the fitted curve says it.\n"+
		"By lives alone: gullet plan goes by the deviation of this very blade, the shifts and the costs, too\n", paceDays)
	t := tabwriter.NewWriter(b, 0, 0, 2, ' ', 0)
	fmt.Fprintf(t, "SAW\tBLADE\tWITH THIS MUCH CUT, %s\tABOUT\n", s.AreaUnit())
	for _, saw := range known {
		p, about := saw.Blade.ChangePoint, "unknown: the saw cut nothing"
		if c := saw.Blade.ChangeTime; c != nil {
			about = s.Day(c.Q10, f.MadeAt) + " / " + s.Day(c.Q50, f.MadeAt) + " / " + s.Day(c.Q90, f.MadeAt)
		}
		fmt.Fprintf(t, "%s\t%s\t%s\t%s\n", saw.Saw, bladeName(saw.Blade), p.text(s, saw.Blade), about)
	}
	_ = t.Flush()
}

func (f *Floor) writeTypes(b *strings.Builder, s figures.Style) {
	if len(f.Types) == 0 {
		return
	}
	fmt.Fprintf(b, "\nHow long blades last, in %s weighted to the reference grade; blades first hung since %s; pulled early and still running count as censored\n",
		s.AreaUnit(), f.LivesSince.In(s.Zone).Format("2 Jan 2006"))
	t := tabwriter.NewWriter(b, 0, 0, 2, ' ', 0)
	fmt.Fprintln(t, "TYPE\tBLADES\tENDED\tCENSORED\tMEDIAN (95 %)\tWEIBULL SHAPE (95 %)\tSCALE (95 %)\tMEAN (95 %)")
	for _, l := range f.Types {
		median, shape, scale, mean := l.WhyMedian, l.WhyWeibull, "", ""
		if l.Median != nil {
			median = s.Interval(*l.Median, s.Area)
		}
		if w := l.Weibull; w != nil {
			shape = s.Interval(w.Shape, func(x float64) string { return strconv.FormatFloat(x, 'f', 2, 64) })
			if w.Borrowed {
				shape += ", that of all types"
			}
			scale, mean = s.Interval(w.Scale, s.Area), s.Interval(w.Mean, s.Area)
		}
		fmt.Fprintf(t, "%s\t%d\t%d\t%d\t%s\t%s\t%s\t%s\n", typeName(l.Type),
			l.Blades, l.Ended, l.Censored, median, shape, scale, mean)
	}
	_ = t.Flush()
}
