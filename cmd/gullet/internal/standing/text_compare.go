package standing

import (
	"fmt"
	"strings"

	"gullet/analyze/downtime"
	"gullet/cmd/gullet/internal/figures"
)

// contrasts shows each saw beside the others.
func (p *printer) contrasts() {
	for _, c := range p.Contrasts {
		p.say("\n%s of each saw beside all the others, over operating time\n", strings.ToUpper(c.What[:1])+c.What[1:])
		rows := [][]string{{"  SAW", "EVENTS", "HOURS", "TIMES THE OTHERS", "VERDICT"}}
		for i := range c.Saws {
			s := &c.Saws[i]
			rows = append(rows, []string{"  " + s.Saw, whole(float64(s.Events)), whole(s.Hours), times(&s.Ratio), because(s.Verdict, s.Why)})
		}
		p.left(rows, 1)
	}
	if len(p.Contrasts) > 0 {
		p.say("  Limits and verdicts allow for looking at every saw. A trip within %d min of operating time of another is of its run.\n", tripRun)
	}
}

// times writes a ratio with its limits.
func times(f *Figure) string {
	number := func(x *float64) string {
		if *x >= 100 {
			return whole(*x)
		}
		return fmt.Sprintf("%.2g", *x)
	}
	switch {
	case f.Value == nil && (f.Low == nil || *f.Low == 0):
		return "unknown"
	case f.Value == nil:
		return "over " + number(f.Low)
	case f.High == nil:
		return fmt.Sprintf("%s (%s up)", number(f.Value), number(f.Low))
	}
	return fmt.Sprintf("%s (%s-%s)", number(f.Value), number(f.Low), number(f.High))
}

func because(v downtime.ContrastVerdict, why string) string {
	if why == "" {
		return string(v)
	}
	return string(v) + ": " + why
}

// recurrence shows how trips and breaks come along a blade's life.
func (p *printer) recurrence() {
	r := &p.Recurrence
	p.say("\nTrips and breaks a blade has had by the area it has cut, the mean over blades\n")
	if r.Why != "" {
		p.say("  unknown: %s\n", r.Why)
		return
	}
	rows := [][]string{{"  " + p.style.AreaUnit(), "TRIPS", "BREAKS", "BLADES THERE"}}
	for i := range r.Trips {
		broke := "unknown"
		if i < len(r.Breaks) {
			broke = count(&r.Breaks[i].Count)
		}
		rows = append(rows, []string{"  " + p.style.Whole(r.Trips[i].Area), count(&r.Trips[i].Count), broke, whole(float64(r.Trips[i].AtRisk))})
	}
	p.left(rows, 0)
	p.say("  From %s fitted in this time; limits at 95 %%.\n", figures.Plural(r.Blades, "blade", "blades"))
}

// count writes a mean count with its limits.
func count(f *Figure) string {
	switch {
	case f.Value == nil:
		return "unknown"
	case f.Low == nil || f.High == nil:
		return fmt.Sprintf("%.2f (no limits)", *f.Value)
	}
	return fmt.Sprintf("%.2f (%.2f-%.2f)", *f.Value, *f.Low, *f.High)
}

// split shows the days before a date beside those from it on.
func (p *printer) split() {
	if p.Split == nil {
		return
	}
	p.say("\nBefore %s and from it on, per 100 h of operating time\n", p.Split.Date)
	rows := [][]string{{"  WHAT", "BEFORE", "N", "AFTER", "N", "AFTER / BEFORE", "VERDICT"}}
	for i := range p.Split.Rows {
		s := &p.Split.Rows[i]
		rows = append(rows, []string{
			"  " + s.What, count(&s.Before.Per100), whole(float64(s.Before.Events)), count(&s.After.Per100), whole(float64(s.After.Events)),
			times(&s.Ratio), because(s.Verdict, s.Why),
		})
	}
	p.left(rows, 1)
	if n := len(p.Split.Rows); n > 0 {
		first, last := &p.Split.Rows[0], &p.Split.Rows[n-1]
		p.say("  Over %s h before and %s h after", whole(last.Before.Hours), whole(last.After.Hours))
		if p.Only.Shift != "" {
			p.say(" in all shifts; %s over %s h and %s h of shift %s", first.What, whole(first.Before.Hours), whole(first.After.Hours), p.Only.Shift)
		}
		p.say(". It holds for a date that was not chosen for these counts: after a bad spell they fall of themselves.\n")
	}
}
