package score

import (
	"cmp"
	"maps"
	"slices"

	"gullet/analyze"
	"gullet/analyze/plan"
	"gullet/cmd/gullet/internal/figures"
	"gullet/cmd/gullet/internal/planning"
	"gullet/store"
)

// change is a blade that came off for good in the days looked at.
type change struct {
	*store.FittingRow
	last *scored // the last forecast of it; nil for none
}

// cameOff reports whether a blade was taken off, and not to be hung elsewhere.
func cameOff(f *store.FittingRow) bool { return !f.Open() && f.Reason != analyze.ReasonMoved }

// changes lists them in order of time. Blades that nobody named are left out, and
// those that were hung again after they were changed early.
func (s *study) changes() (list []change) {
	last := map[int64]*scored{}
	for i := range s.scored { // in order of time
		last[s.scored[i].FittingID] = &s.scored[i]
	}
	for serial, blade := range s.blades {
		for i, f := range blade {
			again := i < len(blade)-1 && !f.Reason.Ends()
			if serial == "" || again || !cameOff(f) || !f.End.After(s.since()) || f.End.After(s.Now) {
				continue
			}
			list = append(list, change{f, last[f.ID]})
		}
	}
	slices.SortFunc(list, func(a, b change) int { return cmp.Or(a.End.Compare(b.End), cmp.Compare(a.ID, b.ID)) })
	return list
}

// ends counts the ends that were and were not foreseen.
func (s *study) ends(changes []change) *Ends {
	out, reasons := &Ends{Level: foreseen, Reasons: []Reason{}}, map[analyze.EndReason]*Reason{}
	for _, c := range changes {
		if !c.Reason.Ends() {
			continue
		}
		r := reasons[c.Reason]
		if r == nil {
			r = &Reason{Reason: string(c.Reason)}
			reasons[c.Reason] = r
		}
		r.Ended++
		switch f := c.last; {
		case f == nil || f.Odds == nil || f.ShiftEnd.Before(c.End):
			r.Untold++
		case *f.Odds >= foreseen:
			r.Foreseen++
		default:
			r.Unforeseen++
		}
	}
	for _, name := range slices.Sorted(maps.Keys(reasons)) {
		r := reasons[name]
		out.Ended += r.Ended
		out.Foreseen += r.Foreseen
		out.Unforeseen += r.Unforeseen
		out.Untold += r.Untold
		out.Reasons = append(out.Reasons, *r)
	}
	if told := out.Foreseen + out.Unforeseen; told > 0 {
		low, high := plan.ShareLimits(out.Foreseen, told)
		share := figures.Limits(float64(out.Foreseen)/float64(told), low, high)
		out.Share = &share
	}
	return out
}

// early tells of the blades that were changed early what the last forecast left them.
func (s *study) early(changes []change) *Early {
	out := &Early{Changes: []EarlyChange{}}
	area, cut := 0.0, 0.0
	for _, c := range changes {
		if c.Reason.Ends() {
			continue
		}
		e := EarlyChange{Saw: c.Saw, Blade: c.Serial, Type: c.Type, At: c.End.UTC(), Reason: string(c.Reason), Cut: s.Lives.Of(c.FittingRow).Weighted}
		switch f := c.last; {
		case f == nil:
			e.Why = "no forecast was kept of it"
		case f.fate.state == done:
			e.Why = "the saw had tripped since the last forecast, which counts as done"
		default:
			made, since := f.MadeAt.UTC(), f.fate.area
			e.MadeAt, e.Since, e.Q10, e.Q50, e.Q90 = &made, &since, f.Q10, f.Q50, f.Q90
			if f.Q50 == nil {
				e.Why = "the median was beyond what is looked at"
				break
			}
			left := max(0, *f.Q50-since)
			e.Left = &left
			out.Told++
			area += left
			cut += e.Cut
		}
		out.Changes = append(out.Changes, e)
	}
	if out.Told > 0 {
		out.Area, out.Seen = &area, &cut
	}
	return out
}

// money is what the changes cost. A change after an end counts as unplanned.
func (s *study) money(changes []change) *Money {
	types := map[string]*TypeMoney{}
	for _, c := range changes {
		kind := s.Config.TypeName(c.Type)
		t := types[kind]
		if t == nil {
			t = &TypeMoney{Type: kind}
			types[kind] = t
		}
		if c.Reason.Ends() {
			t.Unplanned++
		} else {
			t.Planned++
		}
	}
	out, costs := &Money{Types: []TypeMoney{}}, s.costs()
	sum := 0.0
	for _, kind := range slices.Sorted(maps.Keys(types)) {
		t := types[kind]
		price, ok := planning.Price(s.Config, kind)
		switch {
		case !ok:
			t.Why = "its price is not configured (blade_type.price)"
			out.Why = "the price of a blade type is not configured (blade_type.price)"
		case costs.SawHour+costs.Scrap == 0:
			t.Why = planning.NoSawHour
			out.Why = cmp.Or(out.Why, t.Why)
		default:
			cost := costs.Changes(price, t.Planned, t.Unplanned)
			t.Cost = &cost
			sum += cost
		}
		out.Planned += t.Planned
		out.Unplanned += t.Unplanned
		out.Types = append(out.Types, *t)
	}
	if out.Why == "" {
		out.Cost = &sum
	}
	return out
}
