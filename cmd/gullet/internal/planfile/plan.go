package planfile

import (
	"strings"
	"time"

	"gullet/analyze/shift"
	"gullet/cmd/gullet/internal/figures"
	"gullet/cmd/gullet/internal/planning"
)

// Plan is a change plan, and what its files need beside it.
type Plan struct {
	*planning.Report
	Style    figures.Style
	Calendar *shift.Calendar // of the shifts that changes fall in
	Change   time.Duration   // for which a saw stands when a change is planned
	Caution  string          // that stands beside every advised change
}

func (p *Plan) moment(t *time.Time) string { return planning.Moment(t, p.Style.Zone) }

// minute is a moment in the shop's zone to the minute, as people are told it.
func (p *Plan) minute(t time.Time) time.Time { return t.Truncate(time.Minute).In(p.Style.Zone) }

// made is when the plan was made, with its year and zone.
func (p *Plan) made() string { return p.MadeAt.In(p.Style.Zone).Format("Mon 2 Jan 2006 15:04 MST") }

// until is the end of the plan.
func (p *Plan) until() string {
	end := p.MadeAt.AddDate(0, 0, p.Days)
	return p.moment(&end)
}

// caution is the caution on one line.
func (p *Plan) caution() string { return strings.Join(strings.Fields(p.Caution), " ") }

// shift names the shift in which a blade is to be changed. A change at the end of a
// shift belongs to that shift.
func (p *Plan) shift(s *planning.Saw) string {
	return planning.ShiftOf(p.Calendar, s.Saw, *s.Advise.At, s.Advise.Shift != nil)
}

// need is a blade that a change takes from the shelf.
type need struct {
	Type  string
	Shelf string
	Short bool // the shelf does not hold it
}

func (n need) words() string { return "one blade " + n.Type + "; on the shelf: " + n.Shelf }

// needs are what the changes take from the shelf, parallel to the list: one that
// suffices for the first change of a type may not for the next.
func needs(changes []*planning.Saw) []need {
	list, taken := make([]need, len(changes)), map[string]int{}
	for i, s := range changes {
		n := need{Type: planning.BladeName(s.Type), Shelf: planning.Count(s.Advise.OnHand)}
		if hand := s.Advise.OnHand; hand != nil {
			n.Short = taken[s.Type] >= *hand
			if n.Short && *hand > 0 {
				n.Shelf += ", taken by earlier changes of this plan"
			}
		}
		taken[s.Type]++
		list[i] = n
	}
	return list
}
