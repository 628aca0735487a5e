package trend

import (
	"bytes"
	"strings"
	"testing"
	"time"

	"gullet/analyze/deviation"
	"gullet/cmd/gullet/internal/figures"
	"gullet/cmd/gullet/internal/golden"
)

// shown is a report with every figure, and one with none.
func shown() *Report {
	at := time.Date(2026, 3, 4, 15, 30, 0, 0, time.UTC)
	earlier := at.Add(-50 * time.Hour)
	r := &Report{MadeAt: &at, Unit: "in/in", AreaUnit: unitArea, Clock: "weighted area", Doubts: []string{"saw s3: 4 deviations were told without the height of the cut and left out"}}
	r.Saws = []Answer{
		{
			Saw: "s1", Blade: "B-1", Type: "3/4 bimetal", Cuts: 12, Area: 150, WhyLevel: "0 of the blade's 12 cuts told their deviation: at least 3 are needed",
			WhySlope: "no deviations", WhyReach: "no deviations", WhyChange: "no deviations", WhyPace: "the cuts told no times", WhyTrips: "nobody told whether the saw trips",
		},
		{
			Saw: "s2", Blade: "B-2", Type: "3/4 bimetal", Lot: "L-7", Cuts: 310, Readings: 308, Wild: 2, Area: 4321.4,
			Limit: ptr(0.0024), LimitNote: "the limit is one length for every height; told as if all cuts were tall, which reach it first: with lower ones among them it comes later",
			Level:  &figures.Interval{Value: -0.00168, Low: ptr(-0.0018), High: ptr(-0.00155)},
			Slope:  &Slope{Value: -0.00021, Low: -0.00024, High: -0.00018, PerArea: 1000, N: 308},
			Reach:  &Reach{Q10: ptr(230.7), Q50: ptr(642.0), Unit: unitArea, Odds: ptr(0.88), Shift: ptr(975.0)},
			Change: &Change{At: &earlier, Area: 2100, Size: -0.0009, P: 0.002},
			Chart:  &Chart{Settled: "B-1", Sigma: 1, Low: -3, High: 3, Beyond: 4, Readings: 308, EWMA: -0.7, EWMALow: -0.62, EWMAHigh: 0.62, Upper: 0, Lower: 5.4, Limit: 5, Out: true, Since: ptr(15)},
			Pace:   &Pace{Ratio: figures.Interval{Value: 1.05, Low: ptr(1.03), High: ptr(1.07)}, Slowing: 0.81, Cuts: 50},
			Trips:  &Trips{Count: 18, Area: 118380, Rate: 0.152, Low: 0.09, High: 0.24, PerArea: 1000, Minus: 18, Ratio: &Ratio{Value: ptr(0.8), Low: ptr(0.27), High: ptr(2.25), P: 0.81}},
			Habits: &Habits{Blades: 12, Cuts: 8000, Cut: 0.00025, Power: 2},
			Findings: []Finding{
				{Kind: "feed-pushed", Since: &earlier, Last: &at, Confidence: 0.93, Sentence: "fast cuts are further off", Evidence: []string{"one", "two"}, CheckFirst: []string{"the feed"}},
				{Kind: "blade-wear", Since: &earlier, Confidence: 0.9999, Sentence: "the blade wanders off as it wears", Evidence: []string{"slope"}, CheckFirst: []string{"the teeth"}},
			},
			Points: []Point{{Area: 10, Deviation: ptr(0.001)}, {Area: 20}, {Area: 30, Deviation: ptr(-0.002), Trip: true}},
		},
		{Saw: "s3", Blade: "", Cuts: 40, Readings: 40, Area: 900, Level: &figures.Interval{Value: 0.0003, Low: ptr(0.0001), High: ptr(0.0005)}, WhyReach: "the trip limit of the saw is not known", WhySlope: "too few", WhyChange: "none stands out: chance of one as large without any change 0.32", WhyPace: "too few", Trips: &Trips{Area: 900, High: 4.1, PerArea: 1000, WhyRatio: "no trip to compare"}},
	}
	return r
}

func TestWrite(t *testing.T) {
	chicago, err := time.LoadLocation("America/Chicago")
	if err != nil {
		t.Fatal(err)
	}
	cuts := shown()
	cuts.MadeAt, cuts.AreaUnit, cuts.Unit, cuts.Clock = nil, unitCuts, "in", "area"
	for _, c := range []struct {
		golden string
		report *Report
		style  figures.Style
		course bool
	}{
		{"trend-inch.txt", shown(), figures.Style{Zone: time.UTC}, true},
		{"trend-mm.txt", shown(), figures.Style{Zone: chicago, Metric: true}, false},
		{"trend-list-cuts.txt", cuts, figures.Style{Zone: time.UTC}, false},
		{"trend-empty.txt", &Report{MadeAt: shown().MadeAt, Unit: "in/in", AreaUnit: unitArea}, figures.Style{Zone: time.UTC}, false},
	} {
		t.Run(c.golden, func(t *testing.T) {
			var b bytes.Buffer
			if err := c.report.Write(&b, c.style, c.course); err != nil {
				t.Fatal(err)
			}
			golden.Check(t, c.golden, b.String())
		})
	}
}

// Every kind of finding has words of its own and something to check first.
func TestEveryKindHasWords(t *testing.T) {
	w := words{style: figures.Style{Zone: time.UTC}, over: true, unit: unitArea}
	said := map[string]deviation.Kind{}
	for _, k := range deviation.Kinds() {
		f := deviation.Finding{Kind: k}
		sentence := w.sentence(f)
		if other, twice := said[sentence]; sentence == "" || twice {
			t.Errorf("%s says %q, as %s does", k, sentence, other)
		}
		said[sentence] = k
		if len(checks(f)) == 0 {
			t.Errorf("%s has nothing to check first", k)
		}
	}
}

// Every fact is said; one that is not would be a number behind a finding that
// nobody sees.
func TestEveryFactIsSaid(t *testing.T) {
	w := words{style: figures.Style{Zone: time.UTC}, over: true, unit: unitArea, gap: ptr(12.0)}
	facts := []deviation.What{
		deviation.FactOffset, deviation.FactStep, deviation.FactSurvived, deviation.FactStart, deviation.FactSlope, deviation.FactShare,
		deviation.FactOdds, deviation.FactPace, deviation.FactBefore, deviation.FactSlowing, deviation.FactTall, deviation.FactHeights,
		deviation.FactAlternate, deviation.FactWith, deviation.FactOthers, deviation.FactLot, deviation.FactSaws, deviation.FactSame,
		deviation.FactIdle, deviation.FactDrop, deviation.FactTurn,
	}
	said := map[string]deviation.What{}
	for _, what := range facts {
		for _, k := range deviation.Kinds() {
			text := w.evidence(k, deviation.Fact{What: what, Value: 0.001, Low: 0.0005, High: 0.002, N: 7, Name: "X"})
			if other, twice := said[text]; text == "" || twice && other != what || strings.Contains(text, "%!") {
				t.Errorf("%s of %s is %q", what, k, text)
			}
			said[text] = what
		}
	}
}

func TestUrgentSawsComeFirst(t *testing.T) {
	r := &Report{Saws: []Answer{
		{Saw: "quiet"}, {Saw: "soon", Reach: &Reach{Odds: ptr(0.4)}}, {Saw: "worn", Findings: []Finding{{Kind: "blade-wear"}}},
		{Saw: "off", Findings: []Finding{{Kind: "saw-alignment"}, {Kind: "blade-wear"}}},
	}}
	var order []string
	for _, a := range r.Urgent() {
		order = append(order, a.Saw)
	}
	if got := strings.Join(order, " "); got != "off worn soon quiet" {
		t.Errorf("order %s", got)
	}
}

// A blade with none before it is held against what is usual: its window is a guess,
// and a bend of its wear may look like a change.
func TestFirstBladeIsAGuess(t *testing.T) {
	for blades, want := range map[int]bool{0: true, 1: false} {
		r := shown()
		r.Saws[1].Habits.Blades = blades
		var b bytes.Buffer
		if err := r.Write(&b, figures.Style{Zone: time.UTC}, false); err != nil {
			t.Fatal(err)
		}
		for _, words := range []string{"a guess from what is usual", "looks like one"} {
			if strings.Contains(b.String(), words) != want {
				t.Errorf("with %d blades before it: said %q is %v, want %v", blades, words, !want, want)
			}
		}
	}
}
