package shiftreport

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"time"
	"unicode/utf8"

	"gullet/analyze/downtime"
	"gullet/analyze/shift"
	"gullet/cmd/gullet/internal/figures"
	"gullet/cmd/gullet/internal/standing"
)

// strip is a saw's time, drawn. Lengths are in the units of the drawing, stripWide of
// which are as wide as the page has room for.
type strip struct {
	Saw, Title, Says string
	Bands            []band
	Words            []label
}

// band is a stretch of time as one element.
type band struct {
	X, Wide float64
	Class   string
	Tip     string
}

// label is a text at a place, End where it ends there.
type label struct {
	X    float64
	Text string
	End  bool
}

// tick is a mark on the axis.
type tick = label

const (
	stripWide  = 600.0
	letterWide = 4.6  // of the words over a strip
	hourWide   = 24.0 // of an hour on the axis
	dayGap     = 8.0  // between the days of a week
	named      = 3    // stops that have words over the strip
	worthWords = 0.02 // of the strip's time
)

// place is a moment's place on the strip.
func (r *Report) place(t time.Time) float64 {
	return tenth(stripWide * t.Sub(r.Begins).Seconds() / r.Ends.Sub(r.Begins).Seconds())
}

// strips are those of the saws that have something to show.
func (r *Report) strips() (list []strip) {
	most := r.longestDay()
	for i := range r.Saws {
		s := &r.Saws[i]
		switch {
		case s.Off:
		case r.Kind == "shift":
			list = append(list, r.shiftStrip(s))
		case most > 0:
			list = append(list, r.weekStrip(s, most))
		}
	}
	return list
}

// shiftStrip is the time line of a shift.
func (r *Report) shiftStrip(s *Saw) strip {
	out := strip{Saw: s.Saw, Title: s.Saw + ", " + r.Title()}
	for i := range s.Line {
		at := &s.Line[i]
		from, to := r.place(at.From), r.place(at.To)
		out.Bands = append(out.Bands, band{X: from, Wide: tenth(to - from), Class: class(at.Element), Tip: r.tip(at)})
	}
	longest := r.longest(s)
	out.Words = r.words(longest)
	out.Says = inWords(&s.Report.Minutes)
	if len(longest) > 0 {
		at := &longest[0]
		out.Says += fmt.Sprintf(" The longest stop: %s, %s from %s.", what(at.Element, at.Cause), minutes(at.To.Sub(at.From).Minutes()), r.moment(at.From))
	}
	return out
}

func (r *Report) tip(s *standing.Stretch) string {
	text := what(s.Element, s.Cause)
	if s.Cause != "" {
		text = string(s.Element) + ", " + text
	}
	return fmt.Sprintf("%s-%s %s: %s", r.moment(s.From), r.moment(s.To), minutes(s.To.Sub(s.From).Minutes()), text)
}

// class is how an element is drawn.
func class(e downtime.Element) string { return "e-" + string(e) }

// inWords tells a saw's time in a sentence.
func inWords(m *downtime.Minutes) string {
	var parts []string
	for _, e := range downtime.Elements() {
		if x := *m.Of(e); x > 0 && e != downtime.Unscheduled {
			parts = append(parts, string(e)+" "+minutes(x))
		}
	}
	if len(parts) == 0 {
		return "No time in shifts."
	}
	text := strings.Join(parts, ", ") + "."
	return strings.ToUpper(text[:1]) + text[1:]
}

// longest are the stops of a shift that have words, the longest first: what is not
// production, setup or a break, with what of it stands together as one.
func (r *Report) longest(s *Saw) []standing.Stretch {
	var list []standing.Stretch
	for i := range s.Line {
		at := s.Line[i]
		switch at.Element {
		case downtime.Production, downtime.Setup, downtime.Unscheduled:
			continue
		}
		if n := len(list); n > 0 && list[n-1].To.Equal(at.From) && list[n-1].Cause == at.Cause {
			list[n-1].To = at.To
			continue
		}
		list = append(list, at)
	}
	slices.SortStableFunc(list, func(a, b standing.Stretch) int { return cmp.Compare(b.To.Sub(b.From), a.To.Sub(a.From)) })
	return list[:min(named, len(list))]
}

// words put the longest stops' names over the strip, where there is room.
func (r *Report) words(longest []standing.Stretch) (list []label) {
	for i := range longest {
		at := &longest[i]
		if at.To.Sub(at.From).Seconds() < worthWords*r.Ends.Sub(r.Begins).Seconds() {
			continue
		}
		l := label{X: r.place(at.From), Text: fmt.Sprintf("%s %s", what(at.Element, at.Cause), minutes(at.To.Sub(at.From).Minutes()))}
		if l.X+l.wide() > stripWide {
			l.X, l.End = r.place(at.To), true
		}
		if !slices.ContainsFunc(list, l.meets) {
			list = append(list, l)
		}
	}
	return list
}

func (l label) wide() float64 { return letterWide * float64(utf8.RuneCountInString(l.Text)) }

// from is where a label begins.
func (l label) from() float64 {
	if l.End {
		return l.X - l.wide()
	}
	return l.X
}

// meets reports whether two labels would be written over each other.
func (l label) meets(other label) bool {
	return l.from() < other.from()+other.wide()+letterWide && other.from() < l.from()+l.wide()+letterWide
}

// hours are the ticks of a shift, at whole hours on the wall, as many as there is room
// for.
func (r *Report) hours() (list []tick) {
	step := time.Hour
	for r.place(r.Begins.Add(step)) < 1.4*hourWide {
		step += time.Hour
	}
	at := r.Begins.Add(-time.Duration(r.Begins.Minute()) * time.Minute)
	for ; !at.After(r.Ends); at = at.Add(step) {
		if x := r.place(at); x >= 0 {
			list = append(list, tick{X: x, Text: at.Format("15:04"), End: x+hourWide > stripWide})
		}
	}
	return list
}

// dayWide is the room of one day of a week.
const dayWide = (stripWide - 6*dayGap) / 7

// day is where a day of the week begins on the strip.
func day(i int) float64 { return tenth(float64(i) * (dayWide + dayGap)) }

// longestDay is the most minutes in shifts that a saw has on a day.
func (r *Report) longestDay() (most float64) {
	for i := range r.Saws {
		for k := range r.Saws[i].Days {
			most = max(most, scheduled(&r.Saws[i].Days[k].Minutes))
		}
	}
	return most
}

// stacked are the elements of a day's bar, from the left.
var stacked = []downtime.Element{downtime.Production, downtime.Setup, downtime.Delay, downtime.Down, downtime.PlannedDown, downtime.NoData}

// weekStrip is each day's minutes, one after the other; a day as long as the longest
// of any saw fills its room.
func (r *Report) weekStrip(s *Saw, most float64) strip {
	out := strip{Saw: s.Saw, Title: s.Saw + ", " + r.Title(), Says: inWords(&s.Report.Minutes)}
	for i, date := range r.dates() {
		for k := range s.Days {
			if d := &s.Days[k]; d.Date == date.String() {
				out.day(day(i), d, most)
			}
		}
	}
	return out
}

func (s *strip) day(x float64, d *standing.DayMinutes, most float64) {
	stood := d.Minutes.Delay + d.Minutes.Down
	if stood > 0 {
		s.Words = append(s.Words, label{X: x, Text: "stood " + minutes(stood)})
	}
	for _, e := range stacked {
		m := *d.Minutes.Of(e)
		wide := tenth(dayWide * m / most)
		if wide > 0 {
			s.Bands = append(s.Bands, band{X: tenth(x), Wide: wide, Class: class(e), Tip: fmt.Sprintf("%s %s: %s", d.Date, e, minutes(m))})
		}
		x += wide
	}
}

// dates are the days of a week.
func (r *Report) dates() (list []shift.Date) {
	first := shift.DateOf(r.Begins)
	for i := range 7 {
		list = append(list, first.Add(i))
	}
	return list
}

// dayName is a date as people say it, "Mon 2 Mar".
func dayName(d shift.Date) string { return fmt.Sprintf("%.3s %d %.3s", d.Weekday(), d.Day, d.Month) }

// axis is the ticks under the strips.
func (r *Report) axis() (list []tick) {
	if r.Kind == "shift" {
		return r.hours()
	}
	for i, date := range r.dates() {
		list = append(list, tick{X: day(i), Text: dayName(date)})
	}
	return list
}

// scale says what the strips show.
func (r *Report) scale() string {
	if r.Kind == "shift" {
		return "hours as on the wall; handling between cuts is drawn as production, and counted as setup above"
	}
	return "minutes in shifts of each day; a full bar is " + figures.Thousands(r.longestDay()) + " min"
}
