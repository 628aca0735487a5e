package planning

import (
	"slices"
	"strconv"
	"time"
)

// Changes are the saws whose blade is to be changed within the plan, first on top, so
// that one fitter sees the day.
func (r *Report) Changes() (list []*Saw) {
	for i := range r.Saws {
		if a := r.Saws[i].Advise; a != nil && a.Change && a.At != nil {
			list = append(list, &r.Saws[i])
		}
	}
	slices.SortStableFunc(list, func(a, b *Saw) int { return a.Advise.At.Compare(*b.Advise.At) })
	return list
}

// Where names the boundary at which a blade is to be changed, "run on" where it is
// not.
func (a *Advice) Where() string {
	switch {
	case !a.Change:
		return "run on"
	case a.BeforeJob != nil:
		return "before job " + *a.BeforeJob
	case a.AfterJob != nil:
		return "after job " + *a.AfterJob
	case a.Shift != nil:
		return *a.Shift
	}
	return "now"
}

// Moment writes a time of the plan, "later" where the calendar does not go so far.
func Moment(t *time.Time, zone *time.Location) string {
	if t == nil {
		return "later"
	}
	return t.In(zone).Format("Mon 2 Jan 15:04")
}

// Money writes an amount to the hundredth, with its currency.
func Money(x float64, currency string) string {
	return strconv.FormatFloat(x, 'f', 2, 64) + " " + currency
}

// BladeName is the serial of a blade or the name of a type, or that it has none.
func BladeName(name string) string {
	if name == "" {
		return "(not named)"
	}
	return name
}
