package standing

import (
	"cmp"
	"slices"
	"strings"
	"time"

	"gullet/analyze/downtime"
	"gullet/analyze/shift"
)

// Done is what one saw did in the time of a report.
type Done struct {
	Saw         string       `json:"saw"`
	Pieces      int          `json:"pieces"` // parts cut through
	Area        float64      `json:"area"`   // in² of all passes whose area is known
	AreaUnknown int          `json:"area_unknown"`
	Trips       int          `json:"trips"`
	Breaks      int          `json:"breaks"`
	Days        []DayMinutes `json:"days"` // those it has told anything of
}

// DayMinutes is one shop day.
type DayMinutes struct {
	Date    string           `json:"date"`
	Minutes downtime.Minutes `json:"minutes"`
}

// add puts a day to it.
func (s *Done) add(b *builder, day *downtime.Day) {
	d := DayMinutes{Date: day.Date.String()}
	for i := range day.Times {
		if t := &day.Times[i]; b.of(t.Shift) {
			*d.Minutes.Of(t.Element) += t.Took.Minutes()
		}
	}
	s.Days = append(s.Days, d)
	for i := range day.Work {
		if w := &day.Work[i]; b.of(w.Shift) {
			s.Pieces += w.Pieces
			s.Area += w.Area
			s.AreaUnknown += w.AreaUnknown
			s.Trips += w.Trips
			s.Breaks += w.Breaks
		}
	}
}

// Done is what the saws did, in the order of the report's saws.
func (d *Data) Done(o Options) []Done {
	b := &builder{data: d, options: o}
	list := []Done{}
	for i := range d.Saws {
		if name := d.Saws[i].Name; o.Only.Saw == "" || o.Only.Saw == name {
			list = append(list, Done{Saw: name, Days: []DayMinutes{}})
		}
	}
	b.days(o.From, o.To, func(saw string, day *downtime.Day) {
		i := slices.IndexFunc(list, func(s Done) bool { return s.Saw == saw })
		list[i].add(b, day)
	})
	return list
}

// works reports whether a saw has the shift that is asked for.
func (b *builder) works(saw string) bool {
	return slices.ContainsFunc(b.data.Calendar.Effective(), func(r shift.Rule) bool {
		return b.of(r.Name) && (len(r.Saws) == 0 || slices.Contains(r.Saws, saw))
	})
}

// NotExplained lists the stops that began in the time of a report, whose cause nobody
// has said and that are not pooled with short ones, the longest first, with suggestions.
func (d *Data) NotExplained(o Options) []Stop {
	b := &builder{data: d, options: o}
	list := []Stop{}
	b.days(o.From, o.To, func(saw string, day *downtime.Day) {
		for i := range day.Stops {
			if s := &day.Stops[i]; b.of(s.Shift) {
				if c, ok := counted(s); ok && c == downtime.Unexplained {
					list = append(list, b.stop(saw, s))
				}
			}
		}
	})
	slices.SortStableFunc(list, func(a, b Stop) int { return cmp.Or(cmp.Compare(b.Minutes, a.Minutes), a.From.Compare(b.From)) })
	b.suggest(list)
	return list
}

// StandingAt lists the stops in which a moment falls, of one saw or of all (""), the
// first first: not setup, and not what is pooled with short ones. Only those are found
// that began in the days of the data.
func (d *Data) StandingAt(saw string, at time.Time) []Stop {
	b := &builder{data: d, options: Options{Only: Only{Saw: saw}}}
	list := []Stop{}
	m := downtime.MomentOf(at)
	b.days(d.From, d.To, func(saw string, day *downtime.Day) {
		for i := range day.Stops {
			s := &day.Stops[i]
			over := s.To > m || s.Open && s.To == m
			if s.From < m && over && !s.Minor && d.Rules.Meanings.Of(s.Cause).Element != downtime.Setup {
				list = append(list, b.stop(saw, s))
			}
		}
	})
	slices.SortStableFunc(list, func(a, b Stop) int { return a.From.Compare(b.From) })
	return list
}

// Ratio writes a figure of the time model in percent, with what unknown time leaves open.
func Ratio(f *downtime.Figure) string { return ratio(f) }

// Estimate writes a figure with its limits in a unit of so many minutes.
func Estimate(f *Figure, unit float64, decimals int) string { return estimate(f, unit, decimals) }

// Suggested names what an unexplained stop may have been for, the likeliest first, "" where
// nothing speaks for a cause.
func Suggested(list []Suggestion) string {
	var causes []string
	for _, s := range list {
		causes = append(causes, string(s.Cause))
	}
	if len(causes) == 0 {
		return ""
	}
	return "perhaps " + strings.Join(causes, " or ")
}
