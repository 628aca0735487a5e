package planning

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"gullet/analyze/plan"
	"gullet/analyze/shift"
	"gullet/config"
)

// levelled puts saws, each with its cost at the end of every shift from opened on and
// the one it prefers, through level.
func levelled(in *Input, costs [][]float64, picks []int) ([]Saw, []Load) {
	turns := in.Calendar.Turns("s", in.Now, in.Now.AddDate(0, 0, 7))
	saws, out := make([]*sawPlan, len(costs)), make([]Saw, len(costs))
	for i := range costs {
		s := &sawPlan{name: fmt.Sprintf("s%d", i+1)}
		s.choice = choice{saw: s, pick: picks[i]}
		for k := range costs[i] {
			s.choice.at = append(s.choice.at, boundary{place: plan.Place{Weighted: float64(k)}, turn: &turns[k]})
			s.choice.areas = append(s.choice.areas, float64(k))
		}
		s.choice.costs = plan.Transition{Cost: costs[i], Ended: make([]float64, len(costs[i]))}
		for k := range s.choice.costs.Ended {
			s.choice.costs.Ended[k] = 0.1 * float64(k)
		}
		out[i] = Saw{Saw: s.name, Advise: &Advice{Change: true}}
		in.name(s, out[i].Advise, s.choice.at, s.choice.areas[picks[i]])
		saws[i] = s
	}
	loads := in.level(saws, out)
	return out, loads
}

func fitterInput(changes int, risk float64) *Input {
	in := &Input{Now: opened, Days: 7, Calendar: shift.Default(time.UTC), Config: &config.Config{Shop: config.Shop{Currency: "USD"}}}
	in.Costs = Costs{Planned: 15, Fitter: time.Duration(changes) * 15 * time.Minute, Risk: risk}
	return in
}

func sawsOf(loads []Load) (list []string) {
	for _, l := range loads {
		list = append(list, strings.Join(l.Saws, " "))
	}
	return list
}

func TestChangesAreLevelledForOneFitter(t *testing.T) {
	flat := []float64{30, 20, 10, 20, 30}
	steep := []float64{90, 50, 10, 50, 90}
	early := []float64{12, 11, 10, 50, 90}
	for _, c := range []struct {
		name  string
		costs [][]float64
		picks []int
		room  int
		risk  float64
		want  []string // saws by shift
		moved string
	}{
		{"that fit stay", [][]float64{flat, flat}, []int{2, 2}, 2, 0, []string{"s1 s2"}, ""},
		{"the cheapest move", [][]float64{steep, early, steep}, []int{2, 2, 2}, 2, 0, []string{"s2", "s1 s3"}, "s2: 1.00 USD more"},
		{"into shifts with room only", [][]float64{flat, early, steep, flat}, []int{2, 1, 2, 2}, 1, 0, []string{"s4", "s2", "s3", "s1"}, "s1: 10.00 USD more"},
		{"none later than the target risk", [][]float64{{90, 80, 10, 11}, {91, 81, 10, 12}}, []int{2, 2}, 1, 0.2, []string{"s1", "s2"}, "s1: 70.00 USD more"},
		{"no room anywhere", [][]float64{{10, 20}, {10, 20}, {10, 20}}, []int{0, 0, 0}, 1, 0, []string{"s2 s3", "s1"}, "s1: 10.00 USD more"},
	} {
		t.Run(c.name, func(t *testing.T) {
			in := fitterInput(c.room, c.risk)
			out, loads := levelled(in, c.costs, c.picks)
			if got := sawsOf(loads); !slices.Equal(got, c.want) {
				t.Errorf("saws by shift %q, want %q", got, c.want)
			}
			moved := ""
			for i := range out {
				if m := out[i].Advise.Moved; m != nil && moved == "" {
					moved = out[i].Saw + ": " + (*m)[strings.LastIndex(*m, ": ")+2:]
				}
			}
			if moved != c.moved {
				t.Errorf("moved first %q, want %q", moved, c.moved)
			}
			for _, l := range loads {
				if l.Over != (len(l.Saws) > c.room) || l.Minutes != 15*float64(len(l.Saws)) {
					t.Errorf("%+v with room for %d", l, c.room)
				}
			}
		})
	}
}

// No change is lost or put where it was not weighed, and a shift is left with more than
// one fitter can do only where no other has room.
func TestLevellingKeepsEveryChange(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		const shifts = 4
		n, room := rapid.IntRange(1, 9).Draw(t, "saws"), rapid.IntRange(1, 3).Draw(t, "room")
		costs, picks := make([][]float64, n), make([]int, n)
		for i := range n {
			costs[i] = rapid.SliceOfN(rapid.Float64Range(0, 100), shifts, shifts).Draw(t, "costs")
			for k, c := range costs[i] {
				if c < costs[i][picks[i]] {
					picks[i] = k
				}
			}
		}
		out, loads := levelled(fitterInput(room, 0), costs, picks)
		sum, over, free := 0, false, shifts*room
		for _, l := range loads {
			sum += len(l.Saws)
			over = over || l.Over
			free -= min(room, len(l.Saws))
		}
		if sum != n || over && free > 0 {
			t.Fatalf("%d changes of %d in %v with room for %d", sum, n, loads, room)
		}
		for i := range out {
			a := out[i].Advise
			if !slices.Contains(costs[i], a.CostThen) && a.Moved != nil || a.Shift == nil {
				t.Fatalf("%+v is none of %v", a, costs[i])
			}
			if k := slices.Index(costs[i], a.CostThen); a.Moved != nil && k+1 < shifts && (a.CostAfter == nil || !slices.Contains(costs[i], *a.CostAfter)) {
				t.Fatalf("%+v: want what the shift after the one it was moved to costs, of %v", a, costs[i])
			}
		}
	})
}

// What a shift more costs is told of the first shift that ends after the change, be that
// at the end of a shift or between two, and of none where the blade is run on.
func TestOneShiftAfterTheAdvice(t *testing.T) {
	turn := &shift.Turn{}
	c := choice{
		at:    []boundary{{}, {place: plan.Place{Weighted: 1}, turn: turn}, {place: plan.Place{Weighted: 2}, job: "J-1"}, {place: plan.Place{Weighted: 3}, turn: turn}},
		areas: []float64{0, 1, 2, 3},
		costs: plan.Transition{Cost: []float64{90, 80, 70, 95, 60}}, // the last lies beyond the plan
	}
	for pick, want := range []float64{80, 95, 95, 0, 0} {
		c.pick = pick
		got := c.after()
		if (got != nil) != (want != 0) || got != nil && *got != want {
			t.Errorf("advised at boundary %d: a shift after it %v, want %v", pick, got, want)
		}
	}
}
