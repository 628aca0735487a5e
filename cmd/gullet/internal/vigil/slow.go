package vigil

import (
	"context"
	"fmt"
	"time"

	"gullet/analyze/alert"
	"gullet/analyze/deviation"
	"gullet/analyze/shift"
	"gullet/cmd/gullet/internal/figures"
	"gullet/cmd/gullet/internal/floor"
	"gullet/cmd/gullet/internal/planning"
	"gullet/cmd/gullet/internal/trend"
)

// planDays is how far the plan of a slow look goes, as gullet plan does.
const planDays = 7

// slowKinds are those of a slow look.
var slowKinds = []alert.Kind{alert.ChangeWindow, alert.TripLikely, alert.SawFinding, alert.CutTime, alert.Reorder}

// Planned is what a slow look found, and the plan that it was made from.
type Planned struct {
	Look     alert.Look
	Report   *planning.Report
	Calendar *shift.Calendar // those shifts in which the saws cut, where none are configured
}

// Slow is what the change plan and the deviations tell of the whole shop. The floor says
// how old the newest readings are. It may take seconds.
func (l *Looker) Slow(ctx context.Context, f *floor.Floor, now time.Time) (*Planned, error) {
	in, err := planning.Gather(ctx, l.Store, l.Config, now, planDays)
	if err != nil {
		return nil, fmt.Errorf("slow look: %w", err)
	}
	report := planning.Build(in)
	l.shifts.Store(in.Calendar)
	s := &slow{Looker: l, floor: f, now: now, data: in.Data, report: report, calendar: in.Calendar, look: alert.Look{Kinds: slowKinds}}
	trends, limits := trend.Trends(in.Data), map[string]float64{}
	for i := range in.Data.Saws {
		saw := &in.Data.Saws[i]
		limits[saw.Name] = saw.Limit
		s.window(s.planOf(saw.Name))
		s.trip(s.planOf(saw.Name), saw, &trends[i])
		s.findings(saw, trends[i].Findings)
	}
	s.shelf()
	l.limits.Store(&limits)
	return &Planned{s.look, report, in.Calendar}, nil
}

// slow is one slow look.
type slow struct {
	*Looker
	floor    *floor.Floor
	now      time.Time
	data     *trend.Data
	report   *planning.Report
	calendar *shift.Calendar
	look     alert.Look
}

func (s *slow) add(f alert.Fact) { s.look.Facts = append(s.look.Facts, f) }

// planOf is the plan of a saw. The plan and the deviations are of the same saws.
func (s *slow) planOf(name string) *planning.Saw {
	for i := range s.report.Saws {
		if s.report.Saws[i].Saw == name {
			return &s.report.Saws[i]
		}
	}
	return &planning.Saw{Saw: name}
}

// newest is when the newest reading of a saw happened, as the floor has it.
func (s *slow) newest(name string) time.Time {
	for i := range s.floor.Saws {
		if s.floor.Saws[i].Saw == name {
			return newest(&s.floor.Saws[i])
		}
	}
	return time.Time{}
}

// since is a time of the saw's clock by the shop's.
func (s *slow) since(name string, at time.Time) time.Time {
	for i := range s.floor.Saws {
		if s.floor.Saws[i].Saw == name && !at.IsZero() {
			return shopTime(&s.floor.Saws[i], at)
		}
	}
	return at
}

// trip tells how likely a saw trips on deviation before the shift that runs ends.
func (s *slow) trip(p *planning.Saw, saw *trend.Saw, t *deviation.Trend) {
	n := p.Next
	if n == nil || n.Start.After(s.now) || p.Fitting == nil {
		return // no shift runs, or no blade is on
	}
	f := alert.Fact{Key: alert.Key{Kind: alert.TripLikely, Saw: p.Saw}, Level: unknown, At: s.newest(p.Saw), Words: alert.Words{
		What: "how likely it trips on deviation in this shift is not known", Check: trend.CheckFirst(deviation.BladeWear), Blade: p.Blade, Path: path(p.Saw), Risky: true,
	}}
	end := n.End.In(s.calendar.Zone).Format("15:04")
	switch {
	case t.Outlook == nil:
		f.Words.Sure = t.WhyReach
	case n.Weighted == nil:
		f.Words.Sure = p.Why
	default:
		f.Level = t.Outlook.Chance(*n.Weighted)
		f.Mark = step(f.Level)
		f.Words.What = fmt.Sprintf("chance of a trip on deviation before the shift %s ends at %s: %s", n.Shift, end, figures.Odds(f.Level))
		f.Words.Sure = s.tripSure(saw, t)
		f.Words.Advice = s.advice(p)
	}
	s.add(f)
}
