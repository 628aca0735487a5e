package lives

import (
	"encoding/json"
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"gullet/analyze"
	"gullet/analyze/life"
	"gullet/store"
)

// written is a report as a person reads it in inches.
func written(t *testing.T, r *Report) string {
	t.Helper()
	var b strings.Builder
	if err := r.Write(&b, style); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

// wants holds a text to parts of it.
func wants(t *testing.T, text string, parts ...string) {
	t.Helper()
	for _, part := range parts {
		if !strings.Contains(text, part) {
			t.Errorf("no %q in\n%s", part, text)
		}
	}
}

// drawRows are blades of two groups in whole hundreds of in².
func drawRows(t *rapid.T) []Row {
	return rapid.SliceOfN(rapid.Custom(func(t *rapid.T) Row {
		return Row{
			Group: rapid.SampledFrom([]string{"A", "B"}).Draw(t, "group"), Area: float64(rapid.IntRange(1, 40).Draw(t, "area")) * 100,
			Ended: rapid.Bool().Draw(t, "ended"), Cause: rapid.SampledFrom([]string{"", "dull"}).Draw(t, "cause"), Off: true, Last: -1, LastWear: 1,
		}
	}), 1, 10).Draw(t, "rows")
}

// figuresOf lists every number of a report by its path.
func figuresOf(t interface{ Fatal(...any) }, r *Report) map[string]float64 {
	text, err := json.Marshal(r)
	if err != nil {
		t.Fatal(err)
	}
	var v any
	if err := json.Unmarshal(text, &v); err != nil {
		t.Fatal(err)
	}
	found := map[string]float64{}
	var walk func(path string, v any)
	walk = func(path string, v any) {
		switch x := v.(type) {
		case map[string]any:
			for name, member := range x {
				walk(path+"."+name, member)
			}
		case []any:
			for i, e := range x {
				walk(fmt.Sprint(path, ".", i), e)
			}
		case float64:
			found[path] = x
		}
	}
	walk("", v)
	return found
}

// A study does not depend on the order of its list, on the unit of its areas
// (from 1e-6 to 1e10 here) or on whether a start of 0 is written down.
func TestStudyProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rows := drawRows(t)
		study := func(rows []Row) *Report { return Study(&Data{Rows: rows}, "test", Limits{}) }
		report := study(rows)
		countsOnce(t, report)
		switch rapid.SampledFrom([]string{"order", "unit", "start"}).Draw(t, "change") {
		case "order":
			sameFigures(t, study(rapid.Permutation(rows).Draw(t, "shuffled")), report)
		case "start":
			sameFigures(t, Study(listed(t, rows, rapid.SampledFrom([]string{"0", "", "0.0"}).Draw(t, "start")), "test", Limits{}), report)
		case "unit":
			unit := rapid.SampledFrom([]float64{1e-8, 6.4516, 1e6}).Draw(t, "unit")
			scaled := slices.Clone(rows)
			for i := range scaled {
				scaled[i].Area *= unit
			}
			sameButForUnit(t, study(scaled), report, unit)
		}
	})
}

// listed is rows by way of a list with a column start.
func listed(t *rapid.T, rows []Row, start string) *Data {
	text := "start,area,ended,group,cause\n"
	for _, r := range rows {
		text += fmt.Sprintf("%s,%v,%d,%s,%s\n", start, r.Area, map[bool]int{true: 1}[r.Ended], r.Group, r.Cause)
	}
	d, err := Read(strings.NewReader(text), List{})
	if err != nil {
		t.Fatal(err)
	}
	return d
}

// sameFigures holds every number of a report to that of another but for the
// rounding of sums.
func sameFigures(t *rapid.T, got, want *Report) {
	g, w := figuresOf(t, got), figuresOf(t, want)
	if len(g) != len(w) {
		t.Fatalf("%d figures, want %d", len(g), len(w))
	}
	for path, x := range w {
		allowed := 1e-6 * (1 + math.Abs(x))
		if strings.HasSuffix(path, "more_blades_each") {
			allowed++ // it is rounded up
		}
		if y, ok := g[path]; !ok || !(math.Abs(x-y) <= allowed) {
			t.Fatalf("%s is %v, want %v", path, y, x)
		}
	}
}

// sameButForUnit holds a report to that of the same blades in a unit so many
// times smaller.
func sameButForUnit(t *rapid.T, got, want *Report, unit float64) {
	for i := range want.Groups {
		a, b := want.Groups[i], got.Groups[i]
		if (a.Weibull == nil) != (b.Weibull == nil) || (a.Borrowed == nil) != (b.Borrowed == nil) || (a.Median.Value == nil) != (b.Median.Value == nil) {
			t.Fatalf("group %s is told in one unit and not in the other:\n%+v\n%+v", a.Group, a, b)
		}
		if a.Weibull != nil && !(math.Abs(b.Weibull.Shape/a.Weibull.Shape-1) < 1e-6 && math.Abs(b.Weibull.B10.Value/a.Weibull.B10.Value/unit-1) < 1e-5) {
			t.Fatalf("shape %v and B10 %v, times %g %v and %v", a.Weibull.Shape, a.Weibull.B10, unit, b.Weibull.Shape, b.Weibull.B10)
		}
	}
	for i, p := range want.Pairs {
		q := got.Pairs[i]
		if (p.Ratio == nil) != (q.Ratio == nil) || p.P != nil && math.Abs(*p.P-*q.P) > 1e-6 {
			t.Fatalf("pair %+v, times %g %+v", p, unit, q)
		}
	}
}

// countsOnce checks that every blade is counted once, as ended or as censored,
// whichever table it stands in.
func countsOnce(t *rapid.T, r *Report) {
	blades, causes := 0, 0
	for i, g := range r.Groups {
		if g.Ended+g.Censored != g.Blades || g.Longest > g.Area {
			t.Fatalf("group %+v", g)
		}
		if i > 0 {
			blades += g.Blades
		}
		steps, total := 0, 0
		for _, s := range g.KM {
			steps += s.Ended
		}
		share := 0.0
		for _, c := range g.Causes {
			total += c.Ended
			share += c.Share
		}
		if steps != g.Ended || total != g.Ended || g.Ended > 0 && math.Abs(share-1) > 1e-12 {
			t.Fatalf("%d ended, %d of them on the curve and %d by a cause (%v)", g.Ended, steps, total, share)
		}
		causes += total
	}
	if len(r.Groups) > 1 && (blades != r.Groups[0].Blades || causes != 2*r.Groups[0].Ended) {
		t.Fatalf("the groups have %d blades, all %d", blades, r.Groups[0].Blades)
	}
}

func TestLimitsAreNamed(t *testing.T) {
	for _, c := range []struct {
		limits Limits
		want   []string
	}{
		{Limits{}, []string{"curve log-log", "fit by profile likelihood"}},
		{Limits{Plain: true}, []string{"curve plain", "fit by profile likelihood"}},
		{Limits{Wald: true}, []string{"curve log-log", "fit by standard errors"}},
		{Limits{Plain: true, Wald: true}, []string{"curve plain", "fit by standard errors"}},
	} {
		if diff := cmp.Diff(c.want, Study(&Data{Rows: rowsOf(all, 1, 2)}, ByNone, c.limits).Limits); diff != "" {
			t.Error(diff)
		}
	}
}

// A class that only blades that run on have cut has no weight the data could
// tell: with a configured severity it has that one, else nothing is weighted.
func TestAClassThatNoEndTellsOf(t *testing.T) {
	const list = "area,ended,area:x,area:y,area:z,last_class\n100,1,100,,,x\n120,1,120,,,x\n150,0,,150,,\n90,1,90,,,x\n"
	r := Study(readText(t, list, List{}), ByNone, Limits{})
	if r.Clock != clockArea || len(r.Doubts) != 1 {
		t.Errorf("on %s, doubts %q", r.Clock, r.Doubts)
	}
	for _, w := range append(slices.Clone(r.Weights), r.Settled...) {
		if w.Class == "x" && (w.Weight == nil || *w.Weight != 1) || w.Class != "x" && (w.Weight != nil || w.Why == "") {
			t.Errorf("weight %+v", w)
		}
	}
	wants(t, written(t, r), "the weight of class y cannot be told and no severity is configured for it", "unknown: nobody cut it")

	severity := func(class string) (float64, bool) { return map[string]float64{"x": 1, "y": 2.5, "z": 4}[class], true }
	r = Study(readText(t, list, List{Severity: severity}), ByNone, Limits{})
	if r.Clock != clockWeighted || len(r.Settled) != 3 || r.Settled[2].Weight == nil || math.Abs(*r.Settled[2].Weight-4) > 1e-6 {
		t.Errorf("on %s, weights in use %+v, want z at the 4 configured", r.Clock, r.Settled)
	}
}

// At one price B's blades last twice as long, so they cost half; at twice the
// price they cost the same, and the words agree with the ratio.
func TestCostWords(t *testing.T) {
	rows := append(rowsOf("A", 900, 1000, 1100, 1000, 1050, 950), rowsOf("B", 1800, 2000, 2200, 2000, 2100, 1900)...)
	for i := range rows {
		rows[i].Price = ptr(60.0)
	}
	study := func() Pair { return Study(&Data{Rows: rows}, "test", Limits{}).Pairs[0] }
	p := study()
	c := p.Cost
	want := fmt.Sprintf("; B costs 50 %% less per area (%.0f %% to %.0f %%)", 100*(1 - 1 / *c.Low), 100*(1 - 1 / *c.High))
	if math.Abs(c.Value-2) > 1e-9 || !strings.HasSuffix(p.Sentence, want) {
		t.Errorf("%q with a ratio of %v, want %q", p.Sentence, c.Value, want)
	}
	for i := range rows {
		if rows[i].Group == "B" {
			rows[i].Price = ptr(120.0)
		}
	}
	p = study()
	if math.Abs(p.Cost.Value-1) > 1e-9 || !strings.Contains(p.Sentence, "; which costs less per area cannot be told yet (A against B: 0 %, ") {
		t.Errorf("%q with a ratio of %v, want that none can be told", p.Sentence, p.Cost.Value)
	}
	rows[0].Price = nil
	if p = study(); p.Cost != nil || strings.Contains(p.Sentence, "costs") {
		t.Errorf("%q, want nothing of costs: one has no price", p.Sentence)
	}
}

// Fatigue goes by bends: blades that broke at about one number of bends and at
// any area. Told too alike, weighted area stands but for breaks of the body.
func TestClockOfACause(t *testing.T) {
	blade := func(cause string, area, bends float64) Row {
		perArea := bends / area
		return Row{Group: all, Area: area, Ended: true, Cause: cause, Off: true, Last: -1, LastWear: 1, Bends: &bends, BendsPerArea: &perArea}
	}
	var told, alike []Row
	for i := range 12 {
		area := 1000 * float64(1+i*5%12)
		told = append(told, blade("fatigue", area, 30000+500*float64(i)))
		alike = append(alike, blade("broke-body", area, 10*area), blade("dull", area+1, 10*(area+1)))
	}
	c := Study(&Data{Rows: told}, ByNone, Limits{}).Groups[0].Causes[0]
	if c.Weibull == nil || c.Weibull.Clock != clockBends || c.WhyClocks != "" || len(c.Clocks) != 2 || !(c.Clocks[1].AIC < c.Clocks[0].AIC-apart) {
		t.Errorf("cause %+v, want on bends", c)
	}
	for _, c := range Study(&Data{Rows: alike}, ByNone, Limits{}).Groups[0].Causes {
		want := map[string]string{"broke-body": clockBends, "dull": clockArea}[c.Cause]
		if c.Weibull.Clock != want || c.WhyClocks != "the clocks cannot be told apart yet" {
			t.Errorf("%s goes by %s because %q, want %s", c.Cause, c.Weibull.Clock, c.WhyClocks, want)
		}
	}
	// Of too few blades the bends are known.
	for i := range told[:3] {
		told[i].Bends, told[i].BendsPerArea = nil, nil
	}
	c = Study(&Data{Rows: told}, ByNone, Limits{}).Groups[0].Causes[0]
	if c.Weibull.Clock != clockArea || c.Clocks != nil || c.WhyClocks != "the bends of the band are known of too few blades to choose a clock by" {
		t.Errorf("cause %+v", c)
	}
}

func TestCausesByGroup(t *testing.T) {
	rows := rowsOf(all, 100, 200, 300, -400)
	rows[0].Cause, rows[1].Cause = "dull", "dull"
	rows[3].Cause = "planned" // no end
	causes := Study(&Data{Rows: rows}, ByNone, Limits{}).Groups[0].Causes
	if len(causes) != 2 || causes[0].Cause != "dull" || causes[0].Ended != 2 || causes[1].Cause != notSaid || math.Abs(causes[1].Share-1.0/3) > 1e-15 {
		t.Errorf("causes %+v, want dull twice and one not told", causes)
	}
	// Aalen-Johansen by hand: of 4 blades 1 ends dull at 100 and 200, 1 of the 2
	// left otherwise at 300.
	if last := causes[0].Incidence[len(causes[0].Incidence)-1].Value; math.Abs(last-0.5) > 1e-12 {
		t.Errorf("%v end dull, want a half", last)
	}
	if last := causes[1].Incidence[len(causes[1].Incidence)-1].Value; math.Abs(last-0.25) > 1e-12 {
		t.Errorf("%v end otherwise, want a quarter", last)
	}
}

func TestRegressionIsTold(t *testing.T) {
	var b strings.Builder
	b.WriteString("area,ended,group,speed\n")
	for i := range 12 {
		fmt.Fprintf(&b, "%d,1,%s,%d\n", 3000+i*i*17%7*300, []string{"A", "B"}[i%2], 200+i*37%11*10)
	}
	d := readText(t, b.String(), List{Covariates: []string{"speed"}})
	r := Study(d, "group", Limits{})
	text := written(t, r)
	wants(t, text, "Life against the covariates: what one more of each adds to ln life (12 blades, 12 ended)", "\ngroup B ", "\nspeed ")
	for _, c := range r.Regression.Coefficients {
		wants(t, text, fmt.Sprintf("%s ", c.Name), fmt.Sprintf("%.4g to %.4g", *c.Low, *c.High))
	}
	// A covariate that says what the group says already.
	d = readText(t, "area,ended,group,speed\n100,1,A,1\n200,1,B,2\n300,1,A,1\n400,1,B,2\n350,1,B,2\n", List{Covariates: []string{"speed"}})
	r = Study(d, "group", Limits{})
	if r.Regression != nil || !strings.Contains(r.WhyRegr, "group B, speed") {
		t.Errorf("regression %+v because %q", r.Regression, r.WhyRegr)
	}
	wants(t, written(t, r), "Life against the covariates: unknown: "+r.WhyRegr)
}

// A list of many groups stays readable: no curve and no causes of each, and only
// the pairs that differ.
func TestManyGroupsStayReadable(t *testing.T) {
	rows := rowsOf("best", 5000, 5100, 5200, 5300, 5400, 5500)
	for i := range 12 {
		rows = append(rows, rowsOf(fmt.Sprintf("G%02d", i), 500, 600, 700, 800)...)
	}
	text := written(t, Study(&Data{Rows: rows}, "test", Limits{}))
	wants(t, text, "best outlasts G00 by ", "\nG11 ")
	if n := strings.Count(text, "\n"); n > 90 {
		t.Errorf("%d lines:\n%s", n, text)
	}
}

// The fittings of a shop come saw by saw: a blade is the same in any order, and a
// blade hung twice is as one hung once.
func TestFittingsMakeOneBlade(t *testing.T) {
	cut := func(from, to int, area float64, reason analyze.EndReason) store.FittingRow {
		return hung([]string{"s1", "s2"}[from%2], "B", from, to, reason, of("1018", area), of("304", area/10))
	}
	parts := append(worn(4000, 5000, 6000, 7000, 8000), cut(10, 11, 900, analyze.ReasonMoved), cut(12, 13, 400, analyze.ReasonMoved), cut(13, 14, 700, analyze.ReasonCrooked))
	whole := append(worn(4000, 5000, 6000, 7000, 8000), cut(10, 14, 2000, analyze.ReasonCrooked))
	parts[7].LastGrade, whole[5].LastGrade = "304", "304"
	study := func(fittings []store.FittingRow) map[string]float64 {
		cfg := shopConfig(t)
		cfg.Saws[1].BandLength = cfg.Saws[0].BandLength
		return figuresOf(t, Study(Gather(fittings, nil, cfg, since).Data([]string{ByType}), ByType, Limits{}))
	}
	want := study(whole)
	rapid.Check(t, func(t *rapid.T) {
		got := study(rapid.Permutation(parts).Draw(t, "fittings"))
		if len(got) != len(want) {
			t.Fatalf("%d figures, of one fitting %d", len(got), len(want))
		}
		for path, x := range want {
			if y, ok := got[path]; !ok || !(math.Abs(x-y) <= 1e-6*(1+math.Abs(x))) {
				t.Fatalf("%s is %v, of one fitting %v", path, y, x)
			}
		}
	})
}

func TestAnEmptyShop(t *testing.T) {
	s := Gather(nil, nil, shopConfig(t), since)
	r := Study(s.Data([]string{ByType}), ByType, Limits{})
	if _, err := json.Marshal(r); err != nil || len(r.Groups) != 1 || r.Groups[0].Blades != 0 || r.Groups[0].WhyWeibull == "" || r.Groups[0].Median.Why == "" {
		t.Errorf("%+v (%v)", r, err)
	}
	wants(t, written(t, r), "no fit: 0 of 0 blades have ended")
	if fitted, err := s.Fitted(later, nil); err != nil || len(fitted) != 0 || len(s.Types()) != 0 {
		t.Errorf("fitted %+v (%v), types %v", fitted, err, s.Types())
	}
}

// Blades first hung before the line are on the floor and teach nothing.
func TestOldBladesTeachNothing(t *testing.T) {
	if got := Since(monday).Format("2006-01-02"); got != "2023-03-02" {
		t.Errorf("blades count from %s, want from three years back", got)
	}
	old := hung("s1", "O", -400, -399, analyze.ReasonDull, of("1018", 100))
	running := hung("s1", "R", -380, -1, "", of("1018", 900))
	s := Gather(append(worn(4000, 5000, 6000), old, running), nil, shopConfig(t), since)
	if n := len(s.Data([]string{ByNone}).Rows); n != 3 {
		t.Errorf("%d blades, want the 3 of the last year", n)
	}
	types := s.Types()
	if len(types) != 1 || types[0].Type != "T" || types[0].Blades != 3 || types[0].Longest != 6000 {
		t.Errorf("types %+v", types)
	}
	// It is not among the fitted, so all it has cut is news to the fit.
	f, why := s.Forecast(&running, later)
	if f == nil {
		t.Fatal(why)
	}
	fit, err := life.FitWays([]life.Caused{{Observation: life.Observation{Area: 4000, Ended: true}}, {Observation: life.Observation{Area: 5000, Ended: true}}, {Observation: life.Observation{Area: 6000, Ended: true}}}, 1)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "half", f.Left.Q50, fit.Remaining(900, 0).Q50)
}

func TestSeverities(t *testing.T) {
	severity := Severities(shopConfig(t))
	for name, want := range map[string]float64{"carbon": 1, "stainless": 3.2, "304": 3.2, "4140PH": 2} {
		if got, ok := severity(name); !ok || math.Abs(got-want) > 1e-12 {
			t.Errorf("severity of %s is %v (%v), want %v", name, got, ok, want)
		}
	}
	// 4130, 4140 and 8620 are 11.5/9, 1.25 and 11.5/8.5, rounded (config/grades.go).
	if got, _ := severity("alloy"); math.Abs(got-math.Cbrt(1.28*1.25*1.35)) > 1e-12 {
		t.Errorf("severity of alloy is %v, want the geometric mean of its grades", got)
	}
	if _, ok := severity("cheese"); ok {
		t.Error("cheese has a severity")
	}
}

func TestGroupings(t *testing.T) {
	if diff := cmp.Diff([]string{"type", "saw", "class", "lot", "none"}, Groupings()); diff != "" {
		t.Error(diff)
	}
}

// A blade that was worn when logging began is watched from there on, on each
// clock.
func TestDelayedEntryOnEveryClock(t *testing.T) {
	const list = "area,ended,start,area:x,area:y,last_class,bends\n40,1,,40,,x,400\n100,1,50,100,,x,1000\n100,1,10,60,40,y,1000\n90,1,,90,,x,900\n"
	severity := func(class string) (float64, bool) { return map[string]float64{"x": 1, "y": 2}[class], true }
	d := readText(t, list, List{Severity: severity})
	r := Study(d, ByNone, Limits{})
	if first := r.Groups[0].KM[0]; r.Clock != clockWeighted || first.Area != 40 || first.AtRisk != 3 {
		t.Errorf("first step %+v on %s, want 3 at risk at 40: one came in at 50", first, r.Clock)
	}
	rows := d.of(all)
	bends, known := onBends(rows, []life.Observation{{Ended: true}, {Ended: true}, {Ended: true}, {Ended: true}})
	want := []life.Observation{{Area: 400, Ended: true}, {Start: 500, Area: 1000, Ended: true}, {Start: 100, Area: 1000, Ended: true}, {Area: 900, Ended: true}}
	if diff := cmp.Diff(want, bends); known != 4 || diff != "" {
		t.Errorf("%d known\n%s", known, diff)
	}
}

// 4140 wears a blade by 1.25 and 4130 by 1.28, both of class alloy
// (config/grades.go): cut in equal parts the class is 1.265, an in² of 4130
// counts for 1.28/1.265 of it, and the ends go by that rate.
func TestGradesOfAClassWearBladesEachAtItsOwnRate(t *testing.T) {
	list := []store.FittingRow{
		hung("s1", "A", 0, 1, analyze.ReasonDull, of("4140", 3000)), hung("s1", "B", 1, 2, analyze.ReasonDull, of("4130", 3000)),
	}
	s := Gather(list, nil, shopConfig(t), since)
	d := s.Data([]string{ByNone})
	alloy := slices.IndexFunc(d.Classes, func(c Class) bool { return c.Name == "alloy" })
	near(t, "severity", d.Classes[alloy].Severity, 1.265)
	for i, severity := range []float64{1.25, 1.28} {
		r := d.Rows[i]
		near(t, "alloy cut by "+r.Name, r.Cut[alloy], 3000*severity/1.265)
		near(t, "wear at the end of "+r.Name, r.LastWear, severity/1.265)
		near(t, "rate at the end of "+r.Name, (&study{Data: d, weight: []float64{2, 2, 2}}).rate(&r), 2*severity/1.265)
		near(t, "weights within the class", s.Weight([]string{"4140", "4130"}[i])/s.Weight("4140"), severity/1.25)
	}
	if rate := (&study{Data: d}).rate(&d.Rows[0]); rate != 1 {
		t.Errorf("rate on the area as cut is %v, want 1", rate)
	}
}

// A group without an end has a bound where others have figures, and the groups
// below it stay in their columns.
func TestAGroupWithoutAnEndStaysInItsColumns(t *testing.T) {
	rows := append(rowsOf("A", 500, 700, 800, 900, 1000, -1200), rowsOf("Many words for a name", -300, -400)...)
	r := Study(&Data{Rows: append(rows, rowsOf("Z", 400, 500, 650, 700, 810, -900)...)}, "test", Limits{})
	text := written(t, r)
	bound := fmt.Sprintf("at the shape of all blades the scale is at least %s with 95 %% confidence", style.Area(*r.Groups[2].ScaleAtLeast))
	wants(t, text, bound)
	column := -1
	for line := range strings.Lines(text) {
		switch {
		case strings.HasPrefix(line, "GROUP "):
			column = strings.Index(line, "BLADES")
		case strings.HasPrefix(line, "Z "), strings.HasPrefix(line, "Many "):
			if line[column-1] != ' ' || line[column] != '2' && line[column] != '6' {
				t.Errorf("the blades are not at %d in\n%s", column, text)
			}
		case strings.HasPrefix(line, "How they ended"):
			return
		}
	}
}
