package lives

import (
	"encoding/json"
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"
)

// rowsOf makes blades of one group from areas, negative ones standing for
// censored.
func rowsOf(group string, areas ...float64) (rows []Row) {
	for i, a := range areas {
		rows = append(rows, Row{Name: fmt.Sprint(group, i), Group: group, Kind: group, Area: math.Abs(a), Ended: a > 0, Off: true, Last: -1, LastWear: 1})
	}
	return rows
}

// Every figure that is missing says why, whatever the blades.
func TestWhatIsMissingSaysWhy(t *testing.T) {
	for _, c := range []struct {
		name string
		rows []Row
	}{
		{"no end", rowsOf(all, -500, -600)},
		{"one end", rowsOf(all, 500, -600, -700)},
		{"one end, the longest", rowsOf(all, 700, -600, -500)},
		{"all ended", rowsOf(all, 500, 600, 700)},
		{"all tied", rowsOf(all, 500, 500, 500)},
		{"tiny", rowsOf(all, 1e-6, 2e-6, -3e-6)},
		{"huge", rowsOf(all, 1e9, 2e9, -3e9)},
		{"groups of one", append(rowsOf("A", 500), rowsOf("B", -700)...)},
		{"few beside many", append(rowsOf("A", 500, 700, 800, 900, 1000, -1200), rowsOf("B", 300, -900)...)},
	} {
		t.Run(c.name, func(t *testing.T) {
			r := Study(&Data{Rows: c.rows}, "test", Limits{})
			for _, g := range r.Groups {
				if g.Ended+g.Censored != g.Blades {
					t.Errorf("%s: %d ended, %d censored of %d", g.Group, g.Ended, g.Censored, g.Blades)
				}
				says(t, g.Group+" median", g.Median.Value == nil, g.Median.Why)
				says(t, g.Group+" Weibull", g.Weibull == nil, g.WhyWeibull)
				says(t, g.Group+" borrowed", g.Borrowed == nil, g.WhyBorrowed)
				says(t, g.Group+" lognormal", g.Lognormal == nil, g.WhyLognormal)
				says(t, g.Group+" exponential", g.Exponential == nil, g.WhyExponential)
				says(t, g.Group+" cost", g.Cost == nil, g.WhyCost)
				for _, cause := range g.Causes {
					says(t, g.Group+" cause", cause.Weibull == nil, cause.WhyWeibull)
				}
			}
			says(t, "tests", r.LogRank == nil || r.Peto == nil, r.WhyTests)
			says(t, "shrunk", r.Shrunk == nil, r.WhyShrunk)
			says(t, "weights", len(r.Weights) == 0, r.WhyWeights)
			if _, err := json.Marshal(r); err != nil {
				t.Error(err)
			}
		})
	}
}

func says(t *testing.T, what string, missing bool, why string) {
	t.Helper()
	if missing != (why != "") {
		t.Errorf("%s is missing: %v, and says %q", what, missing, why)
	}
}

func TestShapeIsBorrowedBelowFiveEnds(t *testing.T) {
	rows := append(rowsOf("A", 500, 700, 800, 900, 1000, -1200), rowsOf("B", 300, 450, 500, 600, -900)...)
	r := Study(&Data{Rows: append(rows, rowsOf("C", -200, -400)...)}, "test", Limits{})
	pool, a, b, c := r.Groups[0], r.Groups[1], r.Groups[2], r.Groups[3]
	if a.Borrowed != nil || b.Borrowed == nil || c.Borrowed != nil {
		t.Fatalf("borrowed %v, %v and %v, want for the second alone: it has 4 ends", a.Borrowed, b.Borrowed, c.Borrowed)
	}
	if b.Borrowed.Shape != pool.Weibull.Shape || b.Weibull == nil || b.Weibull.Shape == b.Borrowed.Shape {
		t.Errorf("shape %v beside its own %v, want that of all blades, %v", b.Borrowed.Shape, b.Weibull, pool.Weibull.Shape)
	}
	if !strings.Contains(b.Borrowed.Note, "all 13 blades (9 ended)") {
		t.Errorf("it says %q", b.Borrowed.Note)
	}
	if c.ScaleAtLeast == nil || !(*c.ScaleAtLeast > 0) {
		t.Errorf("a group without an end has a scale of at least %v", c.ScaleAtLeast)
	}
}

// Three blades at 90 and 1,000, 2,000 and 3,000 in², the last one still on a
// saw: 180 for 6,000 in².
func TestCost(t *testing.T) {
	rows := rowsOf("A", 1000, 2000, -3000)
	for i := range rows {
		rows[i].Price = ptr(90.0)
	}
	rows[2].Off = false
	c := Study(&Data{Rows: rows}, "test", Limits{}).Groups[0].Cost
	if c == nil || c.Off != 2 || c.PerWeighted != nil || math.Abs(c.PerArea.Value-0.03) > 1e-12 {
		t.Fatalf("cost %+v, want 0.03 to the in² from 2 blades off", c)
	}
	// n/(n-1)·Σ(y - R·a)²/(Σy)² with y 90, 90, 0 and R·a 30, 60, 90; Student's t
	// with 2 degrees of freedom has its 97.5 % point at 4.302653 (tables).
	spread := math.Exp(4.30265273 * math.Sqrt(1.5*(60*60+30*30+90*90)/(180*180)))
	if math.Abs(*c.PerArea.High/(0.03*spread)-1) > 1e-7 || math.Abs(*c.PerArea.Low*spread/0.03-1) > 1e-7 {
		t.Errorf("limits %v and %v, want a factor of %v", *c.PerArea.Low, *c.PerArea.High, spread)
	}
	if c := Study(&Data{Rows: rows[:1]}, "test", Limits{}).Groups[0].Cost; c == nil || c.PerArea.Low != nil || c.PerArea.High != nil {
		t.Errorf("cost %+v from one blade, want one without limits", c)
	}
	for i := range rows {
		rows[i].Off = false
	}
	if g := Study(&Data{Rows: rows}, "test", Limits{}).Groups[0]; g.Cost != nil || g.WhyCost != "no blade has come off yet" {
		t.Errorf("cost %+v because %q", g.Cost, g.WhyCost)
	}
}

func TestSentences(t *testing.T) {
	long, short := []float64{9000, 9500, 10000, 10500, 11000, 11500, -12000}, []float64{3000, 3500, 4000, 4500, 5000, -5500}
	r := Study(&Data{Rows: append(rowsOf("A", short...), rowsOf("B", long...)...)}, "test", Limits{})
	p := r.Pairs[0]
	want := fmt.Sprintf("B outlasts A by %.0f %% (%.0f %% to %.0f %%), 7 and 6 blades, 6 and 5 ended",
		100*(1/p.Ratio.Value-1), 100*(1 / *p.Ratio.High - 1), 100*(1 / *p.Ratio.Low - 1))
	if p.Sentence != want || p.Needed != nil || *p.P > 0.001 {
		t.Errorf("%q with p %v, want %q", p.Sentence, *p.P, want)
	}
	r = Study(&Data{Rows: append(rowsOf("A", short...), rowsOf("B", 3100, 3600, 4100, 4600, 5100)...)}, "test", Limits{})
	if p = r.Pairs[0]; p.Needed == nil || !strings.HasPrefix(p.Sentence, "no difference can be told yet between ") ||
		!strings.Contains(p.Sentence, " more blades of each would be needed to tell one of 10 %") {
		t.Errorf("%q, want that none can be told", p.Sentence)
	}
	r = Study(&Data{Rows: append(rowsOf("A", short...), rowsOf("B", -100)...)}, "test", Limits{})
	if p = r.Pairs[0]; p.Ratio != nil || p.Sentence != "A and B cannot be compared yet: group 2: 0 of 1 blades have ended: at least one end is needed" {
		t.Errorf("%q", p.Sentence)
	}
}

// Two kinds that cut different materials can differ by how those wear a blade:
// the doubt of the weights is in the comparison.
func TestComparisonContainsTheDoubtOfTheWeights(t *testing.T) {
	// 30 blades a group in the shape of a Weibull(2.5), B's lives the longer.
	mixed := func(severity float64) *Data {
		d := &Data{Classes: []Class{{Name: "mild", Severity: 1}, {Name: "hard", Severity: severity}}}
		for i := range 30 {
			area := 9000 * math.Pow(-math.Log((float64(i)+0.5)/30), 1/2.5)
			d.Rows = append(d.Rows,
				Row{Group: "A", Kind: "A", Area: area, Ended: true, Cut: []float64{area, 0}, Last: 0, LastWear: 1},
				Row{Group: "B", Kind: "B", Area: area * 1.6, Ended: true, Cut: []float64{0, area * 1.6}, Last: 1, LastWear: 1})
		}
		return d
	}
	p := Study(mixed(1), "test", Limits{}).Pairs[0]
	if *p.Ratio.Low > 1/1.2 || *p.Ratio.High < 1 {
		t.Errorf("%q with limits %v to %v: 0.3 in ln weight must be in them", p.Sentence, *p.Ratio.Low, *p.Ratio.High)
	}
	if !strings.Contains(p.Sentence, "they cut different materials") || p.Needed != nil {
		t.Errorf("%q, want that more blades would not do", p.Sentence)
	}
	// Both cut the same mix: no weight can make them differ.
	same := mixed(1)
	for i := range same.Rows {
		r := &same.Rows[i]
		r.Cut, r.Last = []float64{r.Area / 2, r.Area / 2}, i/2%2
	}
	if p = Study(same, "test", Limits{}).Pairs[0]; *p.Ratio.High > 1 || !strings.HasPrefix(p.Sentence, "B outlasts A by 60 %") {
		t.Errorf("%q with limits %v to %v, want a difference of 60 %%", p.Sentence, *p.Ratio.Low, *p.Ratio.High)
	}
}

// A list that tells the classes but not the one at an end says that its lives are
// not weighted.
func TestUnweightedLivesSaySo(t *testing.T) {
	d, err := Read(strings.NewReader("area,ended,area:x,area:y,last_class\n100,1,100,,x\n120,1,60,60,\n90,1,90,,x\n"), List{File: "a.csv"})
	if err != nil {
		t.Fatal(err)
	}
	r := Study(d, ByNone, Limits{})
	if want := "lives are in in² as cut, not weighted: the class in the cut at the end of line 3 is not told"; r.Clock != clockArea || !slices.Contains(r.Doubts, want) {
		t.Errorf("on %s, doubts %q, want %q", r.Clock, r.Doubts, want)
	}
}

func TestRatiosInWords(t *testing.T) {
	for ratio, want := range map[float64]string{1: "0 %", 1.184: "18 %", 0.8: "-20 %", 11.5: "×12", 1e60: "more than ×1,000", 1.004: "0 %"} {
		if got := more(ratio); got != want {
			t.Errorf("%v is %q, want %q", ratio, got, want)
		}
	}
}

func TestManyGroupsAreComparedWithTheGreatest(t *testing.T) {
	var rows []Row
	for i := range 8 {
		rows = append(rows, rowsOf(fmt.Sprintf("G%d", i), 500, 600, 700)...)
	}
	rows = append(rows, rowsOf("G5", 650)...)
	r := Study(&Data{Rows: rows}, "test", Limits{})
	if len(r.Pairs) != 7 {
		t.Fatalf("%d pairs, want 7", len(r.Pairs))
	}
	for _, p := range r.Pairs {
		if p.A != "G5" && p.B != "G5" {
			t.Errorf("%s with %s, want each with G5", p.A, p.B)
		}
	}
}
