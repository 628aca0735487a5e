package planning

import (
	"math"
	"slices"
	"testing"
	"time"

	"gullet/analyze/plan"
	"gullet/analyze/shift"
)

// A saw with two jobs of an hour and 100 in² each, on a blade that has ended by x in²
// with the chance 1-exp(-x/1000). By hand: a job due 10 minutes after its end is late by
// a planned change of 15 minutes and by an end, of 45; one due 30 minutes after is late
// by an end alone; one that is late anyway or has time enough costs nothing.
func TestWhatALateJobCosts(t *testing.T) {
	left, err := plan.Combine([]plan.Way{{Cause: "chance", Left: func(x float64) float64 { return math.Exp(-x / 1000) }}}, 4000)
	if err != nil {
		t.Fatal(err)
	}
	gone := func(x float64) float64 { return 1 - math.Exp(-x/1000) }
	for _, c := range []struct {
		name   string
		spare  [2]int // min, of each job
		none   [2]bool
		want   []float64 // at 0, 100, 200 in² and beyond
		lateBy []string
	}{
		{"time enough", [2]int{60, 60}, [2]bool{}, []float64{0, 0, 0, 0}, []string{"", ""}},
		{"late anyway", [2]int{-5, -5}, [2]bool{}, []float64{0, 0, 0, 0}, []string{"LATE", "LATE"}},
		{"no due time", [2]int{}, [2]bool{true, true}, []float64{0, 0, 0, 0}, []string{"", ""}},
		{"by an end alone", [2]int{60, 30}, [2]bool{}, []float64{0, 500 * gone(100), 500 * gone(200), 500 * gone(200)}, []string{"", "late if a blade ends in the cut before"}},
		{"by any change", [2]int{10, 60}, [2]bool{}, []float64{500, 500 * gone(100), 500 * gone(100), 500 * gone(100)}, []string{"late if a blade ends in the cut before", ""}},
	} {
		t.Run(c.name, func(t *testing.T) {
			in := &Input{Now: opened, Days: 7, Calendar: shift.Default(time.UTC), Costs: Costs{Planned: 15, Unplanned: 45, Late: 500}}
			leg := plan.Leg{Area: 100, Weighted: 100, Hours: 1}
			s := &sawPlan{name: "s1", left: left, work: plan.Work{Jobs: []plan.Leg{leg, leg}, Usual: leg}}
			for i, min := range c.spare {
				due := opened.Add(time.Duration(60*(i+1)+min) * time.Minute)
				if c.none[i] {
					due = time.Time{}
				}
				s.coming = append(s.coming, &Coming{Due: due})
			}
			got := in.lateness(s, []float64{0, 100, 200, 1000})
			for k := range got {
				if math.Abs(got[k]-c.want[k]) > 0.5 {
					t.Errorf("costs %v, want %v", got, c.want)
					break
				}
			}
			var out Saw
			in.jobs(s, &out)
			if words := []string{out.Jobs[0].Lateness(), out.Jobs[1].Lateness()}; !slices.Equal(words, c.lateBy) {
				t.Errorf("the jobs are %q, want %q", words, c.lateBy)
			}
		})
	}
}
