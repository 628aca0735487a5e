package standing

import (
	"cmp"
	"slices"
	"time"

	"gullet/analyze/downtime"
)

// groupings are what a report can be broken down by.
var groupings = []string{"saw", "shift", "weekday", "grade"}

// Groupings lists what a report can be broken down by, beside causes.
func Groupings() []string { return slices.Clone(groupings) }

// topCauses are shown of each group.
const topCauses = 3

// gathered is what one group has.
type gathered struct {
	minutes       downtime.Minutes
	stood         *tally
	trips, breaks int
}

// grouping breaks the time down by one thing; nil where none is asked for.
func (b *builder) grouping() *Grouping {
	if b.options.By == "" {
		return nil
	}
	groups := map[string]*gathered{}
	of := func(name string) *gathered {
		if groups[name] == nil {
			groups[name] = &gathered{stood: b.stood()}
		}
		return groups[name]
	}
	b.days(b.options.From, b.options.To, func(saw string, day *downtime.Day) { b.gather(of, saw, day) })
	out := &Grouping{By: b.options.By, Groups: []Group{}}
	for name, g := range groups {
		causes := g.stood.causes()
		out.Groups = append(out.Groups, Group{
			Name: name, Minutes: g.minutes, Standing: g.stood.sum(), Unexplained: g.stood.of(downtime.Unexplained).Minutes,
			Top: causes[:min(topCauses, len(causes))], Trips: g.trips, Breaks: g.breaks,
		})
	}
	order := b.order()
	slices.SortFunc(out.Groups, func(x, y Group) int { return order(x.Name, y.Name) })
	return out
}

// gather puts a day to its groups.
func (b *builder) gather(of func(string) *gathered, saw string, day *downtime.Day) {
	key := func(shiftName, grade string) *gathered {
		switch b.options.By {
		case "saw":
			return of(saw)
		case "shift":
			return of(shiftName)
		case "weekday":
			return of(day.Date.Weekday().String())
		}
		return of(grade)
	}
	for i := range day.Times {
		if t := &day.Times[i]; b.of(t.Shift) {
			g := key(t.Shift, t.Grade)
			*g.minutes.Of(t.Element) += t.Took.Minutes()
			g.stood.time(t)
		}
	}
	for i := range day.Stops {
		if s := &day.Stops[i]; b.of(s.Shift) {
			key(s.Shift, s.Grade).stood.stop(s)
		}
	}
	for i := range day.Work {
		if w := &day.Work[i]; b.of(w.Shift) {
			g := key(w.Shift, w.Grade)
			g.trips += w.Trips
			g.breaks += w.Breaks
		}
	}
}

// order is that of the groups: weekdays from Monday, shifts as the shop lists them,
// the rest by name.
func (b *builder) order() func(x, y string) int {
	var names []string
	switch b.options.By {
	case "weekday":
		for i := range 7 {
			names = append(names, time.Weekday((i+1)%7).String())
		}
	case "shift":
		for _, r := range b.data.Calendar.Effective() {
			names = append(names, r.Name)
		}
	}
	rank := func(name string) int {
		i := slices.Index(names, name)
		switch {
		case i >= 0:
			return i
		case name == "": // what has no name comes last
			return len(names) + 1
		}
		return len(names)
	}
	return func(x, y string) int { return cmp.Or(cmp.Compare(rank(x), rank(y)), cmp.Compare(x, y)) }
}
