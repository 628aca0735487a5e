package vigil

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"time"

	"gullet/analyze/alert"
	"gullet/analyze/shift"
	"gullet/cmd/gullet/internal/figures"
	"gullet/cmd/gullet/internal/planning"
	"gullet/cmd/gullet/internal/standing"
)

const (
	// doubtsTold is how many doubts of the plan a digest has room for.
	doubtsTold = 8
	// workedWithin is how many days back the last one with a shift is looked for.
	workedWithin = 7
)

// Digest is what awaits a shift, by the plan that was made last and the conditions that
// stand.
func (l *Looker) Digest(ctx context.Context, p *Planned, turn *shift.Turn, open []alert.Condition, now time.Time) (*alert.Digest, error) {
	r, style := p.Report, l.style()
	d := &alert.Digest{Shift: turn.Name, Start: turn.Start, End: turn.End}
	needed := map[string]int{} // blades by type
	for _, s := range r.Changes() {
		if s.Advise.At.After(turn.End) {
			continue
		}
		d.Changes = append(d.Changes, changeLine(s, style))
		needed[s.Type]++
	}
	d.Risky = len(d.Changes) > 0
	for i := range r.Shelf {
		if e := &r.Shelf[i]; needed[e.Type] > 0 {
			d.Spares = append(d.Spares, fmt.Sprintf("%s: %s needed in this shift, on the shelf %s", planning.BladeName(e.Type), figures.Plural(needed[e.Type], "blade", "blades"), planning.Count(e.OnHand)))
		}
	}
	for i := range r.Saws {
		s := &r.Saws[i]
		if look := s.LookFirst(); look != "" {
			d.Findings = append(d.Findings, s.Saw+": "+look)
		}
		if s.Advise == nil {
			d.Doubts = append(d.Doubts, s.Saw+": no advice: "+s.WhyNone)
		}
	}
	for i := range open {
		if c := &open[i]; c.Open() {
			d.Open = append(d.Open, conditionLine(c, style, now))
		}
	}
	d.Doubts = shortened(append(d.Doubts, r.Doubts...))
	var err error
	d.Downtime, err = l.downtime(ctx, now)
	if err != nil {
		return nil, fmt.Errorf("digest of shift %s: %w", turn.Name, err)
	}
	return d, nil
}

// shortened are the first doubts, and how many more there are.
func shortened(doubts []string) []string {
	if more := len(doubts) - doubtsTold; more > 0 {
		return append(doubts[:doubtsTold], fmt.Sprintf("and %d more: gullet plan", more))
	}
	return doubts
}

// changeLine is one advised change.
func changeLine(s *planning.Saw, style figures.Style) string {
	text := fmt.Sprintf("%s: change blade %s %s (%s)", s.Saw, planning.BladeName(s.Blade), s.Advise.Where(), planning.Moment(s.Advise.At, style.Zone))
	if w := s.Window; w != nil {
		text += fmt.Sprintf("; 10 %% of such blades are done %s, 50 %% %s, 90 %% %s", by(style, w.Time.Q10), by(style, w.Time.Q50), by(style, w.Time.Q90))
	}
	return text + "; " + s.Advise.Because()
}

// conditionLine is one condition that stands.
func conditionLine(c *alert.Condition, style figures.Style, now time.Time) string {
	parts := []string{c.Severity.String()}
	if c.Saw != "" {
		parts = append(parts, c.Saw)
	}
	return fmt.Sprintf("%s: %s (since %s)", strings.Join(parts, ", "), c.Words.What, style.Moment(c.Since, now))
}

// downtime is the last day that had a shift, in three lines.
func (l *Looker) downtime(ctx context.Context, now time.Time) ([]string, error) {
	day := l.lastWorked(shift.DateOf(now.In(l.style().Zone)))
	o := standing.Options{From: day, To: day}
	data, err := standing.Gather(ctx, l.Store, l.Config, now, o.Since(), day, true)
	if err != nil {
		return nil, err
	}
	return standing.Build(data, o).Brief(l.style()), nil
}

// lastWorked is the last date before today on which a shift began, yesterday where none
// did for long.
func (l *Looker) lastWorked(today shift.Date) shift.Date {
	c, _ := l.calendar()
	zone := l.style().Zone
	for back := 1; back <= workedWithin; back++ {
		day := today.Add(-back)
		from, to := shift.Wall(zone, day, 0), shift.Wall(zone, day.Add(1), 0)
		for _, saw := range l.saws() {
			began := func(t shift.Turn) bool { return t.Date == day && t.Worked > 0 }
			if slices.ContainsFunc(c.Turns(saw, from, to), began) {
				return day
			}
		}
	}
	return today.Add(-1)
}

// saws are the names of those configured; where none is, any name has the shifts of all.
func (l *Looker) saws() []string {
	names := []string{""}
	for i := range l.Config.Saws {
		names = append(names, l.Config.Saws[i].Name)
	}
	return names
}
