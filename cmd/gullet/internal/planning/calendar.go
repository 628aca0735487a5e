package planning

import (
	"time"

	"gullet/analyze/shift"
	"gullet/cmd/gullet/internal/trend"
)

// The shifts of a shop that configured none are those in which its saws have cut:
// of the last weeks, in half at least.
const weeksSeen, weeksWorked = 4, 2

// Seen is a calendar of the shifts in which the saws cut in the last four weeks, out
// of those of the calendar around the clock. A saw that cut in none works around the
// clock.
func Seen(usual *shift.Calendar, data *trend.Data, now time.Time) *shift.Calendar {
	out := &shift.Calendar{Zone: usual.Zone, Holidays: usual.Holidays, Closed: usual.Closed}
	for i := range data.Saws {
		s := &data.Saws[i]
		turns := usual.Turns(s.Name, now.AddDate(0, 0, -7*weeksSeen), now)
		days := map[string]*[7]int{}
		for k, worked := range workedTurns(s, turns) {
			if worked {
				t := &turns[k]
				if days[t.Name] == nil {
					days[t.Name] = &[7]int{}
				}
				days[t.Name][t.Start.In(usual.Zone).Weekday()]++
			}
		}
		out.Rules = append(out.Rules, rulesOf(usual, s.Name, days)...)
	}
	return out
}

// rulesOf are the shifts of one saw.
func rulesOf(usual *shift.Calendar, saw string, days map[string]*[7]int) (list []shift.Rule) {
	all := usual.Effective()
	for _, r := range all {
		n := days[r.Name]
		if n == nil {
			continue
		}
		r.Days, r.Saws = [7]bool{}, []string{saw}
		any := false
		for d, worked := range n {
			r.Days[d] = worked >= weeksWorked
			any = any || r.Days[d]
		}
		if any {
			list = append(list, r)
		}
	}
	if len(list) > 0 {
		return list
	}
	for _, r := range all {
		r.Saws = []string{saw}
		list = append(list, r)
	}
	return list
}

// TurnCuts is how many cuts make a shift one that was worked: the last cut of a day
// often runs out in the next.
const TurnCuts = 4

// workedTurns tells of each shift whether the saw worked in it.
func workedTurns(s *trend.Saw, turns []shift.Turn) []bool {
	worked, cuts := make([]bool, len(turns)), make([]int, len(turns))
	k := 0
	for f := range s.Fittings {
		for i := range s.Fittings[f].Cuts {
			at := s.Fittings[f].Cuts[i].At
			for k < len(turns) && !at.Before(turns[k].End) {
				k++
			}
			if k == len(turns) {
				return worked
			}
			if !at.Before(turns[k].Start) {
				cuts[k]++
				worked[k] = cuts[k] >= TurnCuts
			}
		}
	}
	return worked
}
