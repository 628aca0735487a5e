package lives

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"gullet/analyze"
	"gullet/analyze/life"
	"gullet/config"
	"gullet/store"
)

var (
	monday = time.Date(2026, 3, 2, 6, 0, 0, 0, time.UTC)
	since  = monday.AddDate(-1, 0, 0)
	later  = monday.AddDate(0, 0, 20)
)

// shop is a configuration of two saws and a priced type, with the default
// grades (1018: carbon, severity 1; A36: shapes, 1.3; 304: stainless, 3.2).
func shopConfig(t *testing.T) *config.Config {
	t.Helper()
	loaded, err := config.Load(config.Options{})
	if err != nil {
		t.Fatal(err)
	}
	cfg := loaded.Config
	cfg.Saws = []analyze.Saw{{Name: "s1", BandLength: ptr(16.0)}, {Name: "s2"}}
	cfg.BladeTypes = []analyze.BladeType{{Name: "T", Price: ptr(90.0)}, {Name: "free", Price: ptr(0.0)}}
	return &cfg
}

// hung is a fitting from day to day with what it cut, 10 ft of band to the in².
// A last day below 0 is none: it hangs still.
func hung(saw, serial string, from, to int, reason analyze.EndReason, cut ...analyze.GradeTotal) store.FittingRow {
	f := store.FittingRow{Fitting: analyze.Fitting{Saw: saw, Serial: serial, Type: "T", Start: monday.AddDate(0, 0, from), Reason: reason}}
	if to >= 0 {
		f.End = monday.AddDate(0, 0, to)
	}
	for _, g := range cut {
		g.Cuts, g.Travel, g.Seconds = 10, 10*g.Area, g.Area
		f.Totals = append(f.Totals, g)
		f.Cuts += 10
		f.Area += g.Area
		if reason.Ends() {
			f.LastGrade = g.Grade
		}
	}
	return f
}

func of(grade string, area float64) analyze.GradeTotal {
	return analyze.GradeTotal{Grade: grade, Area: area}
}

// worn is blades of carbon steel that ended dull after so many in², one after
// another on s1.
func worn(areas ...float64) (list []store.FittingRow) {
	for i, area := range areas {
		list = append(list, hung("s1", fmt.Sprintf("W%d", i), i, i+1, analyze.ReasonDull, of("1018", area)))
	}
	return list
}

func TestBladesAreWhole(t *testing.T) {
	s := Gather([]store.FittingRow{
		hung("s1", "A", 0, 1, analyze.ReasonMoved, of("1018", 1000), of("A36", 200)),
		hung("s2", "A", 2, 3, analyze.ReasonDull, of("1018", 300)),
		hung("s1", "B", 1, 2, analyze.ReasonMoved, of("1018", 50)),
		hung("s1", "C", 2, 3, analyze.ReasonPlanned, of("1018", 70)),
		hung("s1", "D", 3, 4, analyze.ReasonUnknown, of("1018", 80)),
		hung("s1", "E", 4, 5, analyze.ReasonStripped),
		hung("s1", "F", 5, -1, "", of("1018", 90)),
		hung("s1", "", 5, -1, "", of("1018", 5)),
	}, map[string]string{"A": "L1"}, shopConfig(t), since)
	d := s.Data([]string{BySaw})
	got := map[string]string{}
	for _, r := range d.Rows {
		got[r.Name] = fmt.Sprintf("%s %v ended %v off %v cause %q", r.Group, r.Area, r.Ended, r.Off, r.Cause)
	}
	for name, want := range map[string]string{
		"A": `s1 1500 ended true off true cause "dull"`, // where it cut most
		"B": `s1 50 ended false off false cause ""`,     // moved: it will be hung again
		"C": `s1 70 ended false off true cause ""`,
		"D": `s1 80 ended false off true cause ""`,
		"E": "", // ended with nothing counted
		"F": `s1 90 ended false off false cause ""`,
		"":  "", // nobody named it
	} {
		if got[name] != want {
			t.Errorf("blade %q: %s, want %s", name, got[name], want)
		}
	}
	doubts := strings.Join(d.Doubts, "\n")
	for _, want := range []string{"1 blade ended with nothing counted and left out", "1 blade left a saw for a reason nobody told"} {
		if !strings.Contains(doubts, want) {
			t.Errorf("no doubt %q in %q", want, doubts)
		}
	}
	for by, want := range map[string]string{ByType: "T", ByLot: "L1", ByClass: "carbon", ByNone: "all", "type,saw": "T · s1"} {
		for _, r := range s.Data(strings.Split(by, ",")).Rows {
			if r.Name == "A" && r.Group != want {
				t.Errorf("by %s it is in %q, want %q", by, r.Group, want)
			}
		}
	}
	if s.Odd[""] != 0 || len(s.Odd) != 0 {
		t.Errorf("odd grades %v, want none", s.Odd)
	}
}

// 2 bends a turn of the band: 10 ft to the in² over a band of 16 ft are 1.25 to
// the in². s2 has no band length, so a blade that hung there has no bends.
func TestBendsComeFromTravelAndBandLength(t *testing.T) {
	unknown := hung("s1", "C", 2, 3, analyze.ReasonDull, of("1018", 100))
	unknown.Totals[0].TravelUnknown = 1
	s := Gather([]store.FittingRow{
		hung("s1", "A", 0, 1, analyze.ReasonDull, of("1018", 1000)),
		hung("s1", "B", 1, 2, analyze.ReasonMoved, of("1018", 100)),
		hung("s2", "B", 3, 4, analyze.ReasonDull, of("1018", 100)),
		unknown,
	}, nil, shopConfig(t), since)
	for _, r := range s.Data([]string{ByNone}).Rows {
		switch {
		case r.Name == "A" && (r.Bends == nil || *r.Bends != 1250 || r.BendsPerArea == nil || *r.BendsPerArea != 1.25):
			t.Errorf("bends of A %v, %v to the in², want 1250 and 1.25", r.Bends, r.BendsPerArea)
		case r.Name != "A" && r.Bends != nil:
			t.Errorf("bends of %s are %v, want unknown", r.Name, *r.Bends)
		}
	}
}

func TestPricesAreOfTheType(t *testing.T) {
	free := hung("s1", "B", 1, 2, analyze.ReasonDull, of("1018", 100))
	free.Type = "free"
	s := Gather([]store.FittingRow{hung("s1", "A", 0, 1, analyze.ReasonDull, of("1018", 1000)), free}, nil, shopConfig(t), since)
	rows := s.Data([]string{ByType}).Rows
	if rows[0].Price == nil || *rows[0].Price != 90 || rows[1].Price != nil {
		t.Errorf("prices %v and %v, want 90 and none: nothing costs 0", rows[0].Price, rows[1].Price)
	}
}

// With nothing to learn from, weights are the configured severities; a grade
// nobody configured stays at 1 whatever its blades do.
func TestWeights(t *testing.T) {
	cfg := shopConfig(t)
	s := Gather([]store.FittingRow{hung("s1", "A", 0, -1, "", of("1018", 100), of("304", 100), of("mystery", 50))}, nil, cfg, since)
	for grade, want := range map[string]float64{"1018": 1, "304": 3.2, "A36": 1.3, "mystery": 1, "": 1} {
		if got := s.Weight(grade); math.Abs(got-want) > 1e-12 {
			t.Errorf("weight of %q is %v, want %v", grade, got, want)
		}
	}
	r := Study(s.Data([]string{ByType}), ByType, Limits{})
	if len(r.Doubts) != 1 || !strings.Contains(r.Doubts[0], "weighted by their configured severity alone: ") {
		t.Errorf("doubts %q, want that nothing was learned", r.Doubts)
	}
	if r.Clock != clockWeighted || *r.Groups[0].Weighted != 100+320+50 {
		t.Errorf("on %s %v, want 470 weighted", r.Clock, *r.Groups[0].Weighted)
	}
	if s.Odd["mystery"] != 50 {
		t.Errorf("odd grades %v, want 50 in² of mystery", s.Odd)
	}

	// Blades of stainless that last twice as long as its severity says: the weight
	// moves toward what they say, and stops short of it.
	var list []store.FittingRow
	for i := range 40 {
		area := 9000 * math.Pow(-math.Log((float64(i)+0.5)/40), 1/2.5)
		list = append(list, hung("s1", fmt.Sprintf("C%d", i), i, i+1, analyze.ReasonDull, of("1018", area)),
			hung("s1", fmt.Sprintf("S%d", i), i, i+1, analyze.ReasonDull, of("304", area/1.6)),
			hung("s1", fmt.Sprintf("M%d", i), i, i+1, analyze.ReasonDull, of("mystery", area*1.05)))
	}
	s = Gather(list, nil, cfg, since)
	if w := s.Weight("304"); !(1.5 < w && w < 2.4) {
		t.Errorf("weight of 304 is %v, want between the 1.6 its blades say and the 3.2 configured", w)
	}
	if w := s.Weight("mystery"); math.Abs(w-1) > 1e-3 {
		t.Errorf("weight of what nobody configured is %v, want 1", w)
	}
	b := s.Blades["S3"]
	if math.Abs(b.Weighted-b.Area*s.Weight("304")) > 1e-9 {
		t.Errorf("weighted %v of %v in² of 304", b.Weighted, b.Area)
	}
	if c := s.Classes(b); len(c) != 1 || c[0].Name != "stainless" || !c[0].Configured || math.Abs(c[0].Weight-s.Weight("304")) > 1e-12 {
		t.Errorf("classes %+v", c)
	}
}

// From five ends on a forecast is that of life.FitWays, below it that of
// life.Borrow from all blades, and the blade itself is among the fitted.
func TestForecast(t *testing.T) {
	list := worn(4000, 5000, 6500, 7000, 8000)
	list[1].Reason = analyze.ReasonStripped
	few := hung("s2", "F0", 0, 1, analyze.ReasonDull, of("1018", 3000))
	now := hung("s2", "F1", 1, -1, "", of("1018", 500))
	few.Type, now.Type = "few", "few"
	running := hung("s1", "R", 6, -1, "", of("1018", 2000))
	s := Gather(append(list, few, now, running), nil, shopConfig(t), since)

	var caused []life.Caused
	var all []life.Observation
	for i, area := range []float64{4000, 5000, 6500, 7000, 8000, 2000} {
		o := life.Observation{Area: area, Ended: i < 5}
		caused = append(caused, life.Caused{Observation: o, Cause: map[bool]int{true: 1}[i == 1]})
		all = append(all, o)
	}
	ways, err := life.FitWays(caused, 2)
	if err != nil {
		t.Fatal(err)
	}
	f, why := s.Forecast(&running, later)
	if f == nil {
		t.Fatal(why)
	}
	near(t, "half", f.Left.Q50, ways.Remaining(2000, 2000).Q50)
	near(t, "chance of 1,000 more", f.Survives(1000, Wear{1, 0}), ways.Survives(2000, 2000, 1000))
	if f.Borrowed || f.Ended != 5 || f.Blades != 6 || f.Horizon != 6000 {
		t.Errorf("forecast %+v, want from 5 ends of 6, 6,000 from the horizon", f)
	}

	own := []life.Observation{{Area: 3000, Ended: true}, {Area: 500}}
	pool, err := life.FitWeibull(append(all, own...))
	if err != nil {
		t.Fatal(err)
	}
	borrowed, err := life.Borrow(own, pool)
	if err != nil {
		t.Fatal(err)
	}
	f, why = s.Forecast(&now, later)
	if f == nil {
		t.Fatal(why)
	}
	near(t, "half, borrowed", f.Left.Q50, borrowed.Remaining(500, 500).Q50)
	if !f.Borrowed || f.Ended != 1 {
		t.Errorf("forecast %+v, want borrowed, of one end", f)
	}
	// A heavier material leaves less of a chance, and doubt of its weight takes
	// from a good chance.
	sure, heavy, unsure := f.Survives(300, Wear{1, 0}), f.Survives(300, Wear{2, 0}), f.Survives(300, Wear{1, 0.8})
	if !(heavy < sure && unsure < sure) {
		t.Errorf("chances %v, of a heavier material %v, of one not well known %v", sure, heavy, unsure)
	}
}

func near(t *testing.T, what string, got, want float64) {
	t.Helper()
	if math.Abs(got/want-1) > 1e-7 {
		t.Errorf("%s: %v, want %v", what, got, want)
	}
}

func TestNoForecast(t *testing.T) {
	a := hung("s1", "A", 6, -1, "", of("1018", 100))
	for _, c := range []struct {
		name string
		row  store.FittingRow
		list []store.FittingRow
		want string
	}{
		{"too few ends", a, worn(4000, 5000), "2 of 3 blades have ended: at least 3 ends are needed"},
		{"none", a, nil, "0 of 1 blades have ended: at least one end is needed"},
		{"unnamed", hung("s1", "", 6, -1, ""), worn(4000, 5000, 6000), "the blade has no known serial, so what it cut before is unknown"},
		{"on two saws", a, append(worn(4000, 5000, 6000), hung("s2", "A", 6, -1, "")), "the saws say that blade A hangs on more than one of them: correct the ledger (gullet correct)"},
	} {
		t.Run(c.name, func(t *testing.T) {
			list := append(slices.Clone(c.list), c.row)
			s := Gather(list, nil, shopConfig(t), since)
			if f, why := s.Forecast(&list[len(list)-1], later); f != nil || why != c.want {
				t.Errorf("%+v because %q, want none because %q", f, why, c.want)
			}
		})
	}
}

func TestFitted(t *testing.T) {
	list := append(worn(4000, 5000, 6500, 7000, 8000), hung("s2", "B", 6, -1, "", of("304", 100)), hung("s1", "A", 6, -1, "", of("1018", 2000)))
	s := Gather(list, nil, shopConfig(t), since)
	fitted, err := s.Fitted(later, &Coming{Area: 500, Class: "stainless"})
	if err != nil {
		t.Fatal(err)
	}
	if len(fitted) != 2 || fitted[0].Saw != "s1" || fitted[1].Saw != "s2" {
		t.Fatalf("fitted %+v, want s1 and s2", fitted)
	}
	a := fitted[0]
	if a.Remaining == nil || a.Next == nil || a.Next.Odds == nil || !(0 < *a.Next.Odds && *a.Next.Odds < 1) {
		t.Fatalf("blade %+v", a)
	}
	// What is left is told in the saw's mix: s1 cut carbon only, s2 stainless.
	near(t, "left in carbon", a.Remaining.Q50, a.InWeight.Q50)
	near(t, "left in stainless", fitted[1].Remaining.Q50*s.Weight("304"), fitted[1].InWeight.Q50)
	if byGrade, err := s.Fitted(later, &Coming{Area: 500, Class: "304"}); err != nil || math.Abs(*byGrade[0].Next.Odds-*a.Next.Odds) > 1e-9 {
		t.Errorf("by the grade's name %+v (%v), want as by its class", byGrade, err)
	}
	if _, err := s.Fitted(later, &Coming{Area: 500, Class: "cheese"}); err == nil || !strings.Contains(err.Error(), `"cheese" is no class or grade`) {
		t.Errorf("error %v", err)
	}
}

// One blade that ended on a saw before it cut there does not keep the others'
// lives from being weighted: it counts as ended in what it cut most. A type that
// is named all is not every blade.
func TestOddBladesDoNotSpoilTheStudy(t *testing.T) {
	list := append(worn(4000, 5000, 6500, 7000, 8000),
		hung("s1", "X", 6, 7, analyze.ReasonMoved, of("304", 500), of("1018", 20)), hung("s1", "X", 8, 9, analyze.ReasonDull))
	list[0].Type = all
	s := Gather(list, nil, shopConfig(t), since)
	d := s.Data([]string{ByType})
	for _, r := range d.Rows {
		if r.Name == "X" && (r.Last < 0 || d.Classes[r.Last].Name != "stainless") {
			t.Errorf("X ended in class %d of %+v, want stainless", r.Last, d.Classes)
		}
	}
	r := Study(d, ByType, Limits{})
	if r.Clock != clockWeighted || len(r.Settled) != 2 {
		t.Errorf("lives are on %s with weights %+v (%s), want weighted", r.Clock, r.Settled, r.WhyWeights)
	}
	var names []string
	for _, g := range r.Groups {
		names = append(names, g.Group)
	}
	if want := []string{all, "(named all)", "T"}; !slices.Equal(names, want) {
		t.Errorf("groups %q, want %q", names, want)
	}
}

// A type whose blades all ended in one way has one curve, and it is of that way.
func TestPartsNameTheirWay(t *testing.T) {
	for _, c := range []struct {
		name    string
		reasons []analyze.EndReason // of 12 blades, in turn
		want    []analyze.EndReason
	}{
		{"all crooked", []analyze.EndReason{analyze.ReasonCrooked}, []analyze.EndReason{analyze.ReasonCrooked}},
		{"two ways", []analyze.EndReason{analyze.ReasonCrooked, analyze.ReasonDull}, []analyze.EndReason{analyze.ReasonCrooked, analyze.ReasonDull}},
		{"broke, nobody said where", []analyze.EndReason{analyze.ReasonBroke}, []analyze.EndReason{""}},
	} {
		var rows []store.FittingRow
		for i := range 12 {
			rows = append(rows, hung("s1", string(rune('A'+i)), i, i+1, c.reasons[i%len(c.reasons)], of("1018", 1000+100*float64(i))))
		}
		var got []analyze.EndReason
		for _, p := range Gather(rows, nil, shopConfig(t), since).NewParts("T") {
			got = append(got, p.Cause)
		}
		slices.Sort(got)
		if !slices.Equal(got, c.want) {
			t.Errorf("%s: %q, want %q", c.name, got, c.want)
		}
	}
}
