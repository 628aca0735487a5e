package analyze_test

import (
	"slices"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	. "gullet/analyze"
)

func point(seconds float64, seq int64) SeqPoint {
	return SeqPoint{At: dayStart.Add(time.Duration(seconds * float64(time.Second))), Seq: seq}
}

func TestSeqRuns(t *testing.T) {
	for name, tc := range map[string]struct {
		points  []SeqPoint
		runs    int
		missing [][2]int64
	}{
		"nothing":         {nil, 0, nil},
		"all there":       {[]SeqPoint{point(0, 7), point(60, 8), point(120, 9)}, 1, nil},
		"two missing":     {[]SeqPoint{point(0, 7), point(60, 10)}, 1, [][2]int64{{8, 9}}},
		"a restart":       {[]SeqPoint{point(0, 7), point(60, 8), point(120, 0), point(180, 1)}, 2, nil},
		"a quick restart": {[]SeqPoint{point(0, 7), point(100, 8), point(110, 0), point(115, 1)}, 2, nil},
		"a restart with its first reading lost": {
			[]SeqPoint{point(0, 7), point(60, 8), point(120, 1), point(180, 3)}, 2, [][2]int64{{2, 2}},
		},
		"a cut dated before the stop that was sent first": {
			[]SeqPoint{point(0, 5), point(60.5, 7), point(61, 6), point(120, 8)}, 1, nil,
		},
		"a restart seconds after Gullet first heard the saw": {
			[]SeqPoint{point(0, 500), point(10, 0), point(15, 1), point(20, 2)}, 2, nil,
		},
		"a number out of another counter": {
			[]SeqPoint{point(0, 1), point(60, 2), point(120, 4_000_000_000), point(180, 3), point(240, 4)}, 3, nil,
		},
		"the same number twice": {[]SeqPoint{point(0, 5), point(1, 5), point(60, 6)}, 1, nil},
	} {
		t.Run(name, func(t *testing.T) {
			runs := SeqRuns(tc.points)
			var missing [][2]int64
			for i := range runs {
				for _, g := range runs[i].Gaps() {
					missing = append(missing, [2]int64{g.First, g.Last})
					if !g.After.Before(g.Before) || g.Missing() != g.Last-g.First+1 {
						t.Errorf("gap %+v", g)
					}
				}
			}
			if len(runs) != tc.runs || !cmp.Equal(missing, tc.missing) {
				t.Errorf("%d runs, missing %v; want %d, %v", len(runs), missing, tc.runs, tc.missing)
			}
		})
	}
}

// Adding readings one by one in any order, and making runs again where SeqAdd
// asks for it, gives what all of them give at once.
func TestSeqAddIsSeqRuns(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		var points []SeqPoint
		seq, clock := int64(0), 0.0
		for range rapid.IntRange(1, 40).Draw(rt, "readings") {
			clock += float64(rapid.IntRange(1, 50).Draw(rt, "wait"))
			switch rapid.IntRange(0, 12).Draw(rt, "mishap") {
			case 0:
				seq = 0
			case 1:
				seq += 3
			case 2:
				seq += 150 // a restart is then far below
			case 3:
				seq += 2_000_000
			}
			points = append(points, point(clock+float64(rapid.IntRange(-20, 20).Draw(rt, "jitter")), seq))
			seq++
		}
		var runs []SeqRun
		var had []SeqPoint
		for _, p := range rapid.Permutation(points).Draw(rt, "order") {
			had = append(had, p)
			slices.SortFunc(had, ComparePoints)
			var i int
			var ok bool
			if runs, i, ok = SeqAdd(runs, p); !ok {
				from := 0
				if i > 0 {
					from, _ = slices.BinarySearchFunc(had, runs[i].FirstAt, func(p SeqPoint, t time.Time) int { return p.At.Compare(t) })
				}
				runs = append(runs[:i:i], SeqRuns(had[from:])...)
			}
			if diff := cmp.Diff(SeqRuns(had), runs); diff != "" {
				rt.Fatalf("after %d readings (-at once +one by one):\n%s", len(had), diff)
			}
		}
	})
}

// Readings in order with nothing lost never need the slow way.
func TestSeqAddInOrder(t *testing.T) {
	var runs []SeqRun
	for i := range 1000 {
		var ok bool
		seq := int64(i % 400) // two restarts
		if runs, _, ok = SeqAdd(runs, point(float64(i*40), seq)); !ok {
			t.Fatalf("reading %d is not taken as it comes", i)
		}
	}
	if len(runs) != 3 || len(runs[0].Gaps()) != 0 || len(runs[0].Spans) != 1 {
		t.Errorf("%+v", runs)
	}
}
