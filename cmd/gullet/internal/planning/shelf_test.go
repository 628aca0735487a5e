package planning

import (
	"math"
	"testing"
	"time"

	"gullet/analyze/plan"
	"gullet/analyze/shift"
	"gullet/cmd/gullet/internal/lives"
)

// TestTheShelfGoesByTheJobsAndTheAdvice counts blades that do not end before their
// change, so that the numbers are plain arithmetic: a saw works 168 h a week, new blades
// are changed at 1,000 weighted in², and the one that is on has 400.
func TestTheShelfGoesByTheJobsAndTheAdvice(t *testing.T) {
	forEver, err := plan.Combine([]plan.Way{{Cause: "none", Left: func(float64) float64 { return 1 }}}, 1e6)
	if err != nil {
		t.Fatal(err)
	}
	areas := []float64{0, 150, 900}
	for _, c := range []struct {
		name string
		jobs []plan.Leg
		pick choice
		want float64 // blades in a week
	}{
		{"at the best age without an advice", nil, choice{}, 1 + 16},                           // 600 + 16·1,000 of 16,800
		{"as advised, sooner", nil, choice{areas: areas, pick: 1}, 1 + 16},                     // 150 + 16·1,000
		{"as advised, later", nil, choice{areas: areas, pick: 2}, 1 + 15},                      // 900 + 15·1,000
		{"run on beyond the plan", nil, choice{areas: areas, pick: 3}, 1 + 15},                 // 900 at least
		{"run on to the best age", nil, choice{areas: areas[:2], pick: 2}, 1 + 16},             // 600
		{"jobs wear more", []plan.Leg{{Weighted: 20_000, Hours: 84}}, choice{}, 1 + 27},        // 20,000 + 84·100, less 600
		{"jobs beyond the week", []plan.Leg{{Weighted: 40_000, Hours: 336}}, choice{}, 1 + 19}, // half of them
	} {
		t.Run(c.name, func(t *testing.T) {
			in := &Input{Now: opened, Calendar: shift.Default(time.UTC)}
			s := &sawPlan{
				name: "s", blade: &lives.Blade{Weighted: 400}, left: forEver, choice: c.pick,
				work:  plan.Work{Jobs: c.jobs, Usual: plan.Leg{Area: 100, Weighted: 100, Hours: 1}},
				later: later{fresh: forEver, best: &plan.Replacement{Age: 1000, Helps: true}},
			}
			u, err := in.user(s)
			if err != nil {
				t.Fatal(err)
			}
			count, err := (&uses{in, []user{u}, map[time.Duration]plan.Count{}}).over(daysOf(7))
			if err != nil {
				t.Fatal(err)
			}
			if math.Abs(count.Mean-c.want) > 1e-3 {
				t.Errorf("%v blades in a week, want %v", count.Mean, c.want)
			}
		})
	}
}
