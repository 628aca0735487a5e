package score

import (
	"bytes"
	"encoding/json"
	"testing"
	"time"

	"gullet/cmd/gullet/internal/figures"
	"gullet/cmd/gullet/internal/golden"
)

func interval(value, low, high float64) figures.Interval { return figures.Limits(value, low, high) }

// shown is a report with every figure.
func shown() *Report {
	made := time.Date(2026, 3, 30, 15, 30, 0, 0, time.UTC)
	return &Report{
		MadeAt: made, Since: made.AddDate(0, 0, -90), Days: 90, Unit: "weighted in2", Currency: "USD", Forecasts: 1240, Blades: 61, LeftOut: 2,
		Coverage: &Coverage{Inside: 600, Below: 90, Above: 60, Undecided: 490, Blades: 48, Share: ptr(interval(0.8, 0.71, 0.87)), Worst: 0.48, Best: 0.88},
		Pinball: &Pinball{Forecasts: 700, Blades: 44, Unended: 500, NoRival: 40, Levels: []Level{
			{0.1, interval(165, 130, 210), interval(513, 397, 652), interval(812, 600, 1071)},
			{0.5, interval(499, 380, 655), interval(1232, 959, 1512), interval(1020, 817, 1250)},
			{0.9, interval(267, 200, 350), interval(1953, 1412, 2470), interval(1230, 829, 1650)},
		}, OverMean: interval(553, 217, 850), OverInterval: interval(-46, -231, 143)},
		Shift: &Shift{Forecasts: 1100, Blades: 60, LeftOut: 140, Brier: interval(0.056, 0.041, 0.073), BaseRate: interval(0.14, 0.12, 0.17), Reference: 0.1204,
			Warned: 65, CameTrue: 54, TrueShare: ptr(interval(0.83, 0.75, 0.91))},
		Ends: &Ends{Level: foreseen, Ended: 24, Foreseen: 12, Unforeseen: 9, Untold: 3, Share: ptr(interval(12.0/21, 0.34, 0.78)),
			Reasons: []Reason{{"broke-body", 9, 4, 4, 1}, {"crooked", 15, 8, 5, 2}}},
		Early: &Early{Told: 1, Area: ptr(1190.0), Seen: ptr(6800.0), Changes: []EarlyChange{
			{Saw: "s2", Blade: "B-33", Type: "3/4 bimetal", At: made.AddDate(0, 0, -9), Reason: "planned", Cut: 6800, MadeAt: &made, Since: ptr(110.0), Q10: ptr(789.0), Q50: ptr(1300.0), Left: ptr(1190.0)},
			{Saw: "s4", Blade: "B-35", Type: "3/4 bimetal", At: made.AddDate(0, 0, -5), Reason: "unknown", Cut: 16_900, Why: "no forecast was kept of it"},
		}},
		Money: &Money{Planned: 2, Unplanned: 24, Why: "the price of a blade type is not configured (blade_type.price)", Types: []TypeMoney{
			{Type: "", Unplanned: 1, Why: "its price is not configured (blade_type.price)"}, {Type: "3/4 bimetal", Planned: 2, Unplanned: 23, Cost: ptr(4790.0)},
		}},
		Doubts: []string{"2 forecasts are left out"},
	}
}

// poor is one of which little is known.
func poor() *Report {
	r := shown()
	r.Forecasts, r.Blades, r.Doubts = 4, 3, nil
	r.Coverage = &Coverage{Undecided: 4, Best: 1}
	r.Pinball, r.WhyPinball = nil, "of 4 forecasts the blade was not done by now"
	r.Shift = &Shift{Forecasts: 3, Blades: 3, Brier: figures.Interval{Value: 0.0025}, BaseRate: figures.Interval{}, Reference: 0}
	r.Ends, r.Early = &Ends{Level: foreseen}, &Early{}
	r.Money = &Money{Cost: ptr(0.0)}
	return r
}

func TestWrite(t *testing.T) {
	inch := figures.Style{Zone: time.UTC}
	for _, c := range []struct {
		golden string
		report *Report
		style  figures.Style
	}{
		{"score-inch.txt", shown(), inch},
		{"score-mm.txt", shown(), figures.Style{Zone: time.UTC, Metric: true}},
		{"score-poor.txt", poor(), inch},
		{"score-none.txt", &Report{Why: nothingKept(90)}, inch},
	} {
		t.Run(c.golden, func(t *testing.T) {
			var b bytes.Buffer
			if err := c.report.Write(&b, c.style); err != nil {
				t.Fatal(err)
			}
			golden.Check(t, c.golden, b.String())
		})
	}
}

func TestTheMonthInWords(t *testing.T) {
	m := &Month{Days: 30, Forecasts: 215, Blades: 44, Inside: 69, Decided: 102, Share: ptr(interval(0.68, 0.53, 0.79)), Ended: 18, Foreseen: 11, Unforeseen: 6, Untold: 1, Level: foreseen}
	golden.Check(t, "month.txt", m.String()+"\n")
	few := *m
	few.Share = &figures.Interval{Value: 0.5}
	golden.Check(t, "month-few.txt", few.String()+"\n")
	golden.Check(t, "month-undecided.txt", (&Month{Days: 30, Forecasts: 1, Blades: 1, Ended: 1, Untold: 1, Level: foreseen}).String()+"\n")
}

func TestJSON(t *testing.T) {
	r, err := Build(example(t))
	if err != nil {
		t.Fatal(err)
	}
	text, err := json.MarshalIndent(r, "", "  ")
	if err != nil {
		t.Fatal(err)
	}
	golden.Check(t, "score.json", string(text)+"\n")
}
