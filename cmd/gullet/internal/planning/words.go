package planning

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"gullet/cmd/gullet/internal/figures"
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

// NoChange says why no change is advised: that all blades are best run on is something
// else than that nobody knows.
func (r *Report) NoChange() string {
	unknown := 0
	for i := range r.Saws {
		if r.Saws[i].Advise == nil {
			unknown++
		}
	}
	switch n := len(r.Saws); {
	case n == 0:
		return "No saw has sent a reading that could be stored, so nothing can be advised."
	case unknown == n:
		return "Nothing can be advised of any saw; why stands below."
	case unknown > 0:
		return fmt.Sprintf("No change is advised within the plan, but of %d of %s nothing can be advised; why stands below.", unknown, figures.Plural(n, "saw", "saws"))
	}
	return "No change is advised within the plan: all blades are best run on; what is known of each saw stands below."
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

// Count writes a number of blades, or that it is not known.
func Count(n *int) string {
	if n == nil {
		return "unknown"
	}
	return strconv.Itoa(*n)
}

// Words tells a window in areas and in moments.
func (w *Windows) Words(s figures.Style) string {
	area := func(x *float64) string {
		if x == nil {
			return "beyond"
		}
		return s.Area(*x)
	}
	return fmt.Sprintf("done within %s / %s / %s %s more of the coming work at 10 / 50 / 90 %%: %s / %s / %s",
		area(w.Area.Q10), area(w.Area.Q50), area(w.Area.Q90), s.AreaUnit(), Moment(w.Time.Q10, s.Zone), Moment(w.Time.Q50, s.Zone), Moment(w.Time.Q90, s.Zone))
}

// DrivenBy lists the ways in which the blade may end.
func (s *Saw) DrivenBy() string {
	var list []string
	for _, d := range s.Drivers {
		list = append(list, d.Cause+" "+figures.Odds(d.Share))
	}
	return strings.Join(list, ", ")
}

// Waiting tells what it costs to change now, at the next end of a shift, as advised and
// at the end of a shift after that.
func (a *Advice) Waiting(currency string) string {
	text := "changed now " + Money(a.CostNow, currency)
	if a.CostLater != nil {
		text += ", at the next shift end " + Money(*a.CostLater, currency)
	}
	then := ", as advised "
	if !a.Change {
		then = ", run on "
	}
	text += then + Money(a.CostThen, currency)
	if a.CostAfter != nil {
		text += ", at the shift end after that " + Money(*a.CostAfter, currency)
	}
	return text + " beyond what the blades to come would cost meanwhile"
}

// Late says whether a job is likely to end after it is due.
func (j *Job) Late() bool { return j.Due != nil && (j.Ends == nil || j.Ends.After(*j.Due)) }

// Lateness says that a job is late, or what makes it so; "" where it is in time.
func (j *Job) Lateness() string {
	switch {
	case j.Late():
		return "LATE"
	case j.Tight:
		return "late if a blade ends in the cut before"
	}
	return ""
}

// Enough says what the numbers of the shelf are.
func (r *Report) Enough() string {
	return fmt.Sprintf("Blades used up: the mean, and in brackets how many are enough with a chance of %.4g %%. Reorder at: what is enough for the %s until new ones come.",
		100*r.Service, lead(r.Lead))
}

// lead writes how long blades take to come.
func lead(hours float64) string {
	if days := hours / 24; days == math.Trunc(days) {
		return figures.Plural(int(days), "day", "days")
	}
	return fmt.Sprintf("%.0f h", hours)
}

// DueText is when a job is due, as a day where that is the end of one.
func DueText(due time.Time, zone *time.Location) string {
	due = due.In(zone)
	if last := due.Add(-time.Second); last.Day() != due.Day() {
		return "by the end of " + last.Format("Mon 2 Jan")
	}
	return due.Format("Mon 2 Jan 15:04")
}

// Use writes how many blades are used up over some days: 7d, 14d or 28d.
func (s *Shelf) Use(days string) string {
	u, known := s.Needed[days]
	if !known {
		return "unknown"
	}
	return fmt.Sprintf("%.1f (%d)", u.Mean, u.Safe)
}

// Order writes by which day blades must be ordered.
func (s *Shelf) Order(zone *time.Location) string {
	switch {
	case s.OrderBy != nil:
		return s.OrderBy.In(zone).Format("Mon 2 Jan")
	case s.OnHand == nil:
		return "unknown: the shelf was never counted"
	}
	return "not within 28 days"
}

// Because is the reason of an advice, and why it is not when it would cost least.
func (a *Advice) Because() string {
	if a.Moved == nil {
		return a.Reason
	}
	return a.Reason + "; " + *a.Moved
}

// Cut is what the blade has cut, in words.
func (s *Saw) Cut(style figures.Style) string {
	if s.Area == nil || s.Weighted == nil {
		return "unknown"
	}
	return style.Whole(*s.Area) + " " + style.AreaUnit() + " (weighted " + style.Whole(*s.Weighted) + ")"
}
