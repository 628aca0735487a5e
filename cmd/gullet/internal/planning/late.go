package planning

import (
	"math"

	"gullet/analyze/plan"
)

// tight reports whether a job that would be done in time is late if the saw stands so
// many minutes before its end.
func (in *Input) tight(s *sawPlan, i int, end plan.Place, minutes float64) bool {
	due := s.coming[i].Due
	if due.IsZero() {
		return false
	}
	done := in.at(s, end)
	if done == nil || done.After(due) {
		return false
	}
	end.Hours += minutes / 60
	done = in.at(s, end)
	return done == nil || done.After(due)
}

// lateness is what it costs that jobs are late by a change, for a blade run to each of
// some areas x:
//
//	late·Σ [an end makes job i late]·(1-S(min(x, end of i))) + late·Σ [x before the end of i, a planned change makes it late]·S(x),
//
// with S the chance that the blade is on still.
func (in *Input) lateness(s *sawPlan, areas []float64) []float64 {
	costs := make([]float64, len(areas))
	starts := s.work.Starts()
	for i := range s.work.Jobs {
		end := starts[i+1]
		byEnd, byChange := in.tight(s, i, end, in.Costs.Unplanned), in.tight(s, i, end, in.Costs.Planned)
		for k, x := range areas {
			if byEnd {
				costs[k] += in.Costs.Late * (1 - s.left.Left(math.Min(x, end.Weighted)))
			}
			if byChange && x < end.Weighted {
				costs[k] += in.Costs.Late * s.left.Left(x)
			}
		}
	}
	return costs
}
