package shiftreport

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"gullet/analyze"
	"gullet/analyze/downtime"
	"gullet/analyze/shift"
	"gullet/cmd/gullet/internal/figures"
	"gullet/cmd/gullet/internal/standing"
)

// Title says what time the report is of.
func (r *Report) Title() string {
	if r.Kind == "week" {
		return "Week from " + r.Begins.Format("Mon 2 Jan") + " to " + r.lastDay().Format("Mon 2 Jan 2006") + r.whose()
	}
	return "Shift " + r.Shift + ", " + r.Begins.Format("Mon 2 Jan 2006 15:04") + " to " + r.Ends.Format("15:04") + r.whose()
}

// lastDay is a moment of the last day of a week.
func (r *Report) lastDay() time.Time { return r.Ends.AddDate(0, 0, -1) }

// who is whom the report is about.
func (r *Report) who() string {
	if only := r.Downtime.Only.Saw; only != "" {
		return only
	}
	return "the saws"
}

// upper begins a sentence; the name of a saw stays as it is.
func upper(who string) string {
	if who == "the saws" {
		return "The saws"
	}
	return who
}

func (r *Report) whose() string {
	if only := r.Downtime.Only.Saw; only != "" {
		return ", saw " + only
	}
	return ""
}

// made is when the report was made, and the zone of its times.
func (r *Report) made() string {
	at := r.Downtime.MadeAt.In(r.style.Zone)
	return "Made " + at.Format("Mon 2 Jan 2006 15:04 MST") + "; times as on the wall in " + r.Downtime.Zone + "."
}

// lead says the main thing first, and then what is left to do.
func (r *Report) lead() (first string, more []string) {
	d := r.Downtime
	unknown := d.All.Minutes.Unknown
	switch {
	case len(r.Saws) == 0:
		return "No saw has told anything yet.", nil
	case r.known() == 0 && unknown > 0:
		first = fmt.Sprintf("What %s did is unknown: of %s no reading tells.", r.who(), minutes(unknown))
	case r.known() == 0:
		first = "No saw had anything to do: no time was planned."
	case len(d.Pareto) == 0:
		first = fmt.Sprintf("No unplanned stop is known in %s of planned busy time.", minutes(r.known()))
	default:
		first = r.stood()
	}
	if r.Running {
		first = "It is not over yet. " + first
	}
	if r.Kind == "shift" && r.known() > 0 {
		more = append(more, r.handover())
	}
	switch n := d.Unexplained; {
	case n.Count == 1:
		more = append(more, fmt.Sprintf("Nobody has said what 1 stop, %s, was for.", minutes(n.Minutes)))
	case n.Count > 1:
		more = append(more, fmt.Sprintf("Nobody has said what %s, %s, were for.", figures.Plural(n.Count, "stop", "stops"), minutes(n.Minutes)))
	case n.Minutes > 0:
		more = append(more, fmt.Sprintf("Nobody has said what %s were for.", minutes(n.Minutes)))
	case d.Standing.Count > 0:
		more = append(more, "Every stop has its cause.")
	}
	if unknown > 0 && r.known() > 0 {
		more = append(more, fmt.Sprintf("Of %s in shifts nothing is known.", minutes(unknown)))
	}
	return first, more
}

// stood says for how long the saws stood, and most for what.
func (r *Report) stood() string {
	d := r.Downtime
	stops := "in " + figures.Plural(d.Standing.Count, "stop", "stops")
	if d.Standing.Count == 0 {
		stops = "in stops that had begun before"
	}
	text := fmt.Sprintf("%s stood unplanned for %s %s", upper(r.who()), minutes(d.Standing.Minutes), stops)
	top := d.Pareto[0]
	cause := string(top.Cause)
	if top.Cause == downtime.Unexplained {
		cause = "no cause that anybody has told"
	}
	switch {
	case top.Share == nil:
		return text + "."
	case len(d.Pareto) == 1:
		return text + ", all for " + cause + "."
	}
	return text + fmt.Sprintf(", most for %s: %s, %s.", cause, minutes(top.Minutes), figures.Percent(*top.Share))
}

// handover says what the next shift finds standing.
func (r *Report) handover() string {
	var list []string
	for i := range r.Handed {
		s := &r.Handed[i]
		list = append(list, fmt.Sprintf("%s, %s since %s", s.Saw, s.Cause, r.moment(s.From)))
	}
	switch {
	case len(list) == 0 && r.Running:
		return "No saw is known to stand now."
	case len(list) == 0:
		return "No stop is known to have been handed over to the next shift."
	case r.Running:
		return "Standing now: " + strings.Join(list, "; ") + "."
	}
	return "Handed over to the next shift: " + strings.Join(list, "; ") + "."
}

// moment is a time of day, with its day where that is not the shift's first.
func (r *Report) moment(t time.Time) string {
	if r.Kind == "shift" && t.Format(time.DateOnly) == r.Begins.Format(time.DateOnly) {
		return t.Format("15:04")
	}
	return t.Format("Mon 2 Jan 15:04")
}

func minutes(m float64) string {
	if m > 0 && m < 0.5 {
		return "under 1 min"
	}
	return figures.Thousands(m) + " min"
}

// fate says of a stop what a person must know beside its cause.
func (r *Report) fate(s *standing.Stop) string {
	var list []string
	if r.Kind == "shift" && among(r.Taken, s) {
		list = append(list, "taken over")
	}
	switch {
	case s.Open:
		list = append(list, "no end known")
	case r.Kind == "shift" && among(r.Handed, s):
		list = append(list, "handed over")
	}
	if s.Explained != 0 {
		list = append(list, fmt.Sprintf("explanation %d", s.Explained))
	}
	return strings.Join(list, ", ")
}

func among(list []standing.Stop, s *standing.Stop) bool {
	for i := range list {
		if list[i].Saw == s.Saw && list[i].From.Equal(s.From) {
			return true
		}
	}
	return false
}

// stops are the long ones of the report and those taken or handed over, the longest
// first of each.
func (r *Report) stops() (list []standing.Stop) {
	for _, from := range [][]standing.Stop{r.Handed, r.Taken, r.Downtime.Long} {
		for i := range from {
			if !among(list, &from[i]) {
				list = append(list, from[i])
			}
		}
	}
	return list
}

// at is a moment of a stop as gullet downtime explain reads it: to the minute on the
// wall, unless the stop has none or the wall shows that minute twice.
func (r *Report) at(s *standing.Stop) string {
	minute := s.From.Truncate(time.Minute)
	if minute.Before(s.From) {
		minute = minute.Add(time.Minute)
	}
	minute = minute.In(r.style.Zone)
	clock := shift.Clock(minute.Hour()*60 + minute.Minute())
	if !minute.Before(s.To) || !shift.Wall(r.style.Zone, shift.DateOf(minute), clock).Equal(minute) {
		return s.From.Format(time.RFC3339Nano)
	}
	return minute.Format("2006-01-02 15:04")
}

// explain is how a stop is given its cause.
func (r *Report) explain(s *standing.Stop) string {
	return fmt.Sprintf("gullet downtime explain --saw %s --at %q --cause CAUSE --who NAME --why WORDS", quoted(s.Saw), r.at(s))
}

// quoted is a word of a shell as it stands, or in quotes.
func quoted(word string) string {
	plain := func(c rune) bool {
		return c == '-' || c == '_' || c == '.' || c >= '0' && c <= '9' || c >= 'a' && c <= 'z' || c >= 'A' && c <= 'Z'
	}
	if word != "" && strings.IndexFunc(word, func(c rune) bool { return !plain(c) }) < 0 {
		return word
	}
	return "'" + strings.ReplaceAll(word, "'", `'\''`) + "'"
}

// what names a stretch of a time line.
func what(e downtime.Element, c analyze.Cause) string {
	if c == "" {
		return string(e)
	}
	return string(c)
}

// joined are the texts that there are.
func joined(texts ...string) string {
	return strings.Join(slices.DeleteFunc(texts, func(s string) bool { return s == "" }), ", ")
}
