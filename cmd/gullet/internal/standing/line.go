package standing

import (
	"context"

	"gullet/analyze/downtime"
	"gullet/store"
)

// Lines makes the time lines of the saws over the days of the report.
func (d *Data) Lines(ctx context.Context, db *store.Store, only string) ([]Line, error) {
	list := []Line{}
	for i := range d.Saws {
		name := d.Saws[i].Name
		if only != "" && name != only {
			continue
		}
		line, err := d.Line(ctx, db, name)
		if err != nil {
			return nil, err
		}
		list = append(list, Line{Saw: name, Stretches: d.stretches(line)})
	}
	return list, nil
}

// stretches are those of a line, with cuts and the handling between them as one.
func (d *Data) stretches(l *downtime.Line) []Stretch {
	list := []Stretch{}
	if l == nil {
		return list
	}
	for i := range l.Stretches {
		s := &l.Stretches[i]
		out := Stretch{From: s.From.Time().In(d.zone()), To: s.To.Time().In(d.zone()), Element: s.Element, Cause: s.Cause}
		switch {
		case s.Cause == downtime.BetweenCuts:
			out.Element, out.Cause = downtime.Production, ""
		case s.Element == downtime.Unscheduled && s.Cause == downtime.Unexplained:
			out.Cause = "" // out of hours nobody need say why
		}
		out.Part = s.Stop >= 0 && !l.Stops[s.Stop].Own()
		if n := len(list); n > 0 {
			if last := &list[n-1]; last.Element == out.Element && last.Cause == out.Cause && last.Part == out.Part {
				last.To = out.To
				continue
			}
		}
		list = append(list, out)
	}
	return list
}
