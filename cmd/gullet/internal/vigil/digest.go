package vigil

import (
	"context"
	"fmt"
	"maps"
	"slices"
	"strings"
	"time"

	"gullet/analyze/alert"
	"gullet/analyze/shift"
	"gullet/cmd/gullet/internal/figures"
	"gullet/cmd/gullet/internal/planning"
	"gullet/cmd/gullet/internal/standing"
)

// Digest is what awaits a shift: the changes advised in it by the plan, the spares they
// need, what stands, and the downtime of the last day on which anybody worked.
func (l *Looker) Digest(ctx context.Context, p *Planned, turn *shift.Turn, open []alert.Condition, now time.Time) (*alert.Digest, error) {
	d := &alert.Digest{Shift: turn.Name, Start: turn.Start, End: turn.End}
	spare := map[string]string{}
	for i := range p.Report.Saws {
		s := &p.Report.Saws[i]
		if a := s.Advise; a != nil && a.Change && a.At != nil && !a.At.Before(turn.Start) && !a.At.After(turn.End) {
			d.Changes = append(d.Changes, fmt.Sprintf("%s · blade %s · %s%s", s.Saw, planning.BladeName(s.Blade), a.Where(), l.windowOf(s)))
			spare[planning.BladeName(s.Type)] = planning.Count(a.OnHand) + " on the shelf"
			d.Risky = true
		}
		if s.Fitting != nil && s.Advise == nil {
			d.Doubts = append(d.Doubts, fmt.Sprintf("%s: no advice, %s", s.Saw, s.WhyNone))
		}
	}
	for _, kind := range slices.Sorted(maps.Keys(spare)) {
		d.Spares = append(d.Spares, kind+": "+spare[kind])
	}
	for i := range open {
		c := &open[i]
		line := c.Words.What
		if c.Saw != "" {
			line = c.Saw + " · " + line
		}
		if c.Kind == alert.SawFinding || c.Kind == alert.CutTime {
			d.Findings = append(d.Findings, line)
		} else {
			d.Open = append(d.Open, fmt.Sprintf("%s (%s, condition %d)", line, c.Severity, c.ID))
		}
	}
	var err error
	d.Downtime, err = l.lastDay(ctx, p.Calendar, now)
	return d, err
}

// windowOf is the change window of a blade, where it is known.
func (l *Looker) windowOf(s *planning.Saw) string {
	if s.Window == nil || s.Window.Time.Q10 == nil {
		return ""
	}
	style := l.style()
	return fmt.Sprintf(", window %s to %s", clock(style, s.Window.Time.Q10), strings.TrimPrefix(by(style, s.Window.Time.Q90), "by "))
}

// daysBack is how far back a day is looked for on which anybody worked.
const daysBack = 7

// lastDay is the downtime of the last day on which a saw had a shift, in three lines.
func (l *Looker) lastDay(ctx context.Context, c *shift.Calendar, now time.Time) ([]string, error) {
	today := shift.DateOf(now.In(c.Zone))
	for back := 1; back <= daysBack; back++ {
		date := today.Add(-back)
		options := standing.Options{From: date, To: date}
		data, err := standing.Gather(ctx, l.Store, l.Config, now, options.Since(), date, true)
		if err != nil {
			return nil, fmt.Errorf("downtime of %s: %w", date, err)
		}
		if r := standing.Build(data, options); r.All.Calendar > 0 && (r.Standing.Count > 0 || r.All.Minutes.Production > 0) {
			return threeLines(r, date), nil
		}
	}
	return []string{fmt.Sprintf("nothing is known of the last %d days", daysBack)}, nil
}

// threeLines are how long the saws stood, what most of it was for, and what nobody
// explained.
func threeLines(r *standing.Report, date shift.Date) []string {
	day := time.Date(date.Year, date.Month, date.Day, 0, 0, 0, 0, time.UTC).Format("Mon 2 Jan")
	lines := []string{fmt.Sprintf("%s: the saws stood unplanned for %.0f min in %s", day, r.Standing.Minutes, figures.Plural(r.Standing.Count, "stop", "stops"))}
	if len(r.Pareto) > 0 {
		var most []string
		for i := range r.Pareto[:min(2, len(r.Pareto))] {
			c := &r.Pareto[i]
			most = append(most, fmt.Sprintf("%s %.0f min in %s", c.Cause, c.Minutes, figures.Plural(c.Count, "stop", "stops")))
		}
		lines = append(lines, "most of it: "+strings.Join(most, ", "))
	}
	if r.Unexplained.Minutes > 0 {
		lines = append(lines, fmt.Sprintf("nobody explained %.0f min of it, %s", r.Unexplained.Minutes, figures.Plural(r.Unexplained.Count, "stop", "stops")))
	} else {
		lines = append(lines, "all of it was explained")
	}
	return lines
}

func sortedNames[T any](m map[string]T) []string { return slices.Sorted(maps.Keys(m)) }
