package score

import (
	"math"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
	"pgregory.net/rapid"

	"gullet/analyze"
	"gullet/cmd/gullet/internal/lives"
	"gullet/cmd/gullet/internal/planning"
	"gullet/config"
	"gullet/store"
)

func ptr[T any](x T) *T { return &x }

// monday is the day on which the forecasts of the example begin; day counts from it.
var monday = time.Date(2026, 3, 2, 6, 0, 0, 0, time.UTC)

func day(n float64) time.Time { return monday.Add(time.Duration(n * 24 * float64(time.Hour))) }

// shop is the configuration of the example: a planned change costs 50 and a quarter of
// an hour at 120, 80; one after an end 50, 90 and a scrapped piece of 60, 200.
func shop(t testing.TB, text string) *config.Config {
	t.Helper()
	path := filepath.Join(t.TempDir(), "gullet.toml")
	if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	loaded, err := config.Load(config.Options{File: path, FileRequired: true})
	if err != nil {
		t.Fatal(err)
	}
	return &loaded.Config
}

const priced = "[[blade_type]]\nname = \"T\"\nprice = 50\n[plan]\nsaw_hour = 120\nscrap = 60\n"

// fitting is one of a blade that cut so many in² of 1018, whose weight is 1.
func fitting(id int64, serial string, start, end float64, reason analyze.EndReason, area float64) store.FittingRow {
	f := store.FittingRow{Fitting: analyze.Fitting{ID: id, Saw: "s1", Serial: serial, Type: "T", Start: day(start), Reason: reason},
		Totals: []analyze.GradeTotal{{Grade: "1018", Area: area, Cuts: 1}}}
	if reason != "" {
		f.End = day(end)
	}
	return f
}

// foretold is a forecast for the eight hours from when it was made.
func foretold(fitting int64, serial, method string, at, cut, q10, q50, q90, odds float64) store.ForecastRow {
	return store.ForecastRow{Saw: "s1", FittingID: fitting, Serial: serial, Type: "T", MadeAt: day(at), Method: method, Area: cut, WeightedArea: cut,
		Q10: &q10, Q50: &q50, Q90: &q90, ShiftStart: day(at), ShiftEnd: day(at + 1.0/3), Odds: &odds}
}

// example is five blades that came before and four that were foretold. A broke after
// 500 in², B was changed early after 350, C is on with 100, D tripped after 80 and was
// pulled two days later.
func example(t testing.TB) *Data {
	rows := []store.FittingRow{
		fitting(1, "P1", -20, -15, analyze.ReasonDull, 1000),
		fitting(2, "P2", -15, -13, analyze.ReasonPlanned, 400),
		fitting(3, "P3", -13, -11, analyze.ReasonStripped, 600),
		fitting(4, "A", -0.1, 1.2, analyze.ReasonBrokeBody, 500),
		fitting(5, "B", 1.3, 2.1, analyze.ReasonPlanned, 350),
		fitting(6, "D", 2.2, 5, analyze.ReasonCrooked, 220),
		fitting(7, "C", 5.1, 0, "", 100),
	}
	return &Data{
		Now: day(7), Days: 10, Config: shop(t, priced), Lives: lives.Gather(rows, nil, shop(t, priced), day(-1000)),
		Forecasts: []store.ForecastRow{
			foretold(4, "A", planning.ByEnds, 0, 0, 100, 300, 700, 0.1),
			foretold(4, "A", planning.ByEnds, 1, 200, 50, 150, 250, 0.3),
			foretold(5, "B", planning.ByEndsAndTrip, 2, 0, 200, 600, 900, 0.2),
			foretold(6, "D", planning.ByEndsAndTrip, 3, 0, 100, 300, 700, 0.4),
			foretold(7, "C", planning.ByEnds, 6, 0, 400, 500, 600, 0.05),
		},
		passes: map[int64][]pass{
			4: {{day(0.5), 200, false}, {day(1.1), 300, false}},
			5: {{day(2.05), 350, false}},
			6: {{day(3.1), 80, true}, {day(4), 140, false}},
			7: {{day(6.1), 100, true}}, // a trip of a blade whose forecast is by ends alone
		},
	}
}

// The wanted figures are worked out by hand. Windows: A lasted 500 of 100/300/700,
// inside, and from its second forecast on 300 of 50/150/250, above; B is beyond 350 of
// 200/600/900 and C beyond 100, open; D tripped after 80 of 100/300/700, below. With the
// open ones allowed for, C is lost before D ends, one of four, and B within its window;
// then A ends within its own, one of two: 3/4 less 3/8 held.
//
// Losses, at 10, 50 and 90 %: A 40, 100, 20 and 25, 75, 45; D 18, 110, 62. The mean
// life that was known is 800 for A, less 200 the second time, and with A 700 for D:
// 270, 150, 30 twice and 558, 310, 62. The mean at which any came off is 2000/3 for A
// and with A and B 570 for D: 150, 83 1/3, 16 2/3 twice and 441, 245, 49.
//
// Odds of 0.1 (nothing), 0.3 (done), 0.4 (done) and 0.05 (nothing): squares 0.01, 0.49,
// 0.36, 0.0025. B was changed early within its shift.
func TestTheExampleByHand(t *testing.T) {
	r, err := Build(example(t))
	if err != nil {
		t.Fatal(err)
	}
	near := cmpopts.EquateApprox(0, 1e-9)
	if diff := cmp.Diff([]int{5, 4, 0}, []int{r.Forecasts, r.Blades, r.LeftOut}); diff != "" {
		t.Error("forecasts, blades, left out", diff)
	}
	c := r.Coverage
	if diff := cmp.Diff([]int{1, 1, 1, 2, 2}, []int{c.Inside, c.Below, c.Above, c.Undecided, c.Blades}); diff != "" {
		t.Error("inside, below, above, undecided, blades", diff)
	}
	if diff := cmp.Diff([]float64{1.0 / 3, 0.2, 0.6}, []float64{c.Share.Value, c.Worst, c.Best}, near); diff != "" || c.Share.Low != nil {
		t.Errorf("share, worst, best %s; limits from %v of two blades, want none", diff, c.Share.Low)
	}
	if c.Allowed == nil || cmp.Diff(3.0/8, c.Allowed.Value, near) != "" || c.Allowed.Low != nil {
		t.Errorf("with the open ones allowed for %+v held, want 3/8 without limits", c.Allowed)
	}
	p := r.Pinball
	var losses []float64
	for _, l := range p.Levels {
		losses = append(losses, l.Gullet.Value, l.MeanLife.Value, l.Interval.Value)
	}
	if diff := cmp.Diff([]float64{83.0 / 3, 366, 247, 95, 610.0 / 3, 1235.0 / 9, 127.0 / 3, 122.0 / 3, 247.0 / 9}, losses, near); diff != "" {
		t.Error("losses", diff)
	}
	if diff := cmp.Diff([]float64{445.0 / 3, 740.0 / 9}, []float64{p.OverMean.Value, p.OverInterval.Value}, near); diff != "" {
		t.Error("less than the rivals", diff)
	}
	if diff := cmp.Diff([]int{3, 2, 2, 0}, []int{p.Forecasts, p.Blades, p.Unended, p.NoRival}); diff != "" {
		t.Error("compared, blades, not ended, no rival", diff)
	}
	s := r.Shift
	if diff := cmp.Diff([]float64{0.215625, 0.5, 0.25, 1}, []float64{s.Brier.Value, s.BaseRate.Value, s.Reference, s.TrueShare.Value}, near); diff != "" {
		t.Error("Brier, base rate, its score, warnings that came true", diff)
	}
	if diff := cmp.Diff([]int{4, 3, 1, 2, 2}, []int{s.Forecasts, s.Blades, s.LeftOut, s.Warned, s.CameTrue}); diff != "" {
		t.Error("forecasts, blades, left out, warned, true", diff)
	}
}

// A broke with odds of 0.3 told for the shift; the shift that was told for D was over
// when it was pulled. B had 350 cut of a median of 600.
func TestTheChangesOfTheExample(t *testing.T) {
	r, err := Build(example(t))
	if err != nil {
		t.Fatal(err)
	}
	want := []Reason{{"broke-body", 1, 1, 0, 0}, {"crooked", 1, 0, 0, 1}}
	if diff := cmp.Diff(want, r.Ends.Reasons); diff != "" || r.Ends.Ended != 2 || r.Ends.Share.Value != 1 {
		t.Errorf("ends %+v (-want +got): %s", r.Ends, diff)
	}
	early := r.Early.Changes
	if len(early) != 1 || early[0].Blade != "B" || *early[0].Left != 250 || *early[0].Since != 350 || early[0].Cut != 350 || *r.Early.Area != 250 || *r.Early.Seen != 350 {
		t.Errorf("changed early %+v of %+v, want B with 250 of 600 left", r.Early, early)
	}
	if m := r.Money; m.Planned != 1 || m.Unplanned != 2 || *m.Cost != 80+2*200 {
		t.Errorf("money %+v, want 480 for one planned change and two others", m)
	}
}

func TestFates(t *testing.T) {
	move := []store.FittingRow{fitting(1, "M", 0, 1, analyze.ReasonMoved, 100), fitting(2, "M", 2, 3, analyze.ReasonDull, 70)}
	rehung := []store.FittingRow{fitting(1, "M", 0, 1, analyze.ReasonPlanned, 100), fitting(2, "M", 2, 0, "", 70)}
	cuts := map[int64][]pass{1: {{day(0.1), 30, false}, {day(0.8), 70, true}}, 2: {{day(2.5), 70, false}}}
	holes := map[int64][]pass{1: {{day(0.8), math.NaN(), false}}, 2: {{day(2.5), 70, false}}}
	for _, c := range []struct {
		name   string
		rows   []store.FittingRow
		passes map[int64][]pass
		method string
		at     float64
		want   fate
		lost   bool
	}{
		{"a moved blade goes on until it ends", move, cuts, planning.ByEnds, 0.5, fate{state: done, at: day(3), area: 140}, false},
		{"a trip is its end where its deviation was followed", move, cuts, planning.ByEndsAndTrip, 0.5, fate{state: done, at: day(0.8), area: 70}, false},
		{"a trip before the forecast is none", move, cuts, planning.ByEndsAndTrip, 0.9, fate{state: done, at: day(3), area: 70}, false},
		{"one that is hung again is on", rehung, cuts, planning.ByEnds, 0.5, fate{state: on, area: 140}, false},
		{"until then it was changed early", rehung[:1], cuts, planning.ByEnds, 0.05, fate{state: pulled, at: day(1), area: 100}, false},
		{"what a saw's clock says of tomorrow is not so yet", []store.FittingRow{fitting(1, "M", 0, 9.5, analyze.ReasonDull, 100)}, cuts, planning.ByEnds, 0.5, fate{state: on, area: 70}, false},
		{"of unknown area only the rest counts", move, holes, planning.ByEnds, 0.5, fate{state: done, at: day(3), area: 70, unknown: true}, false},
		{"the blade was off already", move, cuts, planning.ByEnds, 1.5, fate{}, true},
		{"the fitting is no more", move[1:], cuts, planning.ByEnds, 0.5, fate{}, true},
		{"the fitting begins later now", []store.FittingRow{fitting(1, "M", 0.7, 1, analyze.ReasonDull, 100)}, cuts, planning.ByEnds, 0.5, fate{}, true},
	} {
		t.Run(c.name, func(t *testing.T) {
			d := &Data{Now: day(9), Days: 30, Config: shop(t, priced), Lives: lives.Gather(c.rows, nil, shop(t, priced), day(-1000)), passes: c.passes}
			f := foretold(1, "M", c.method, c.at, 0, 1, 2, 3, 0.5)
			got, ok := d.fate(&f, d.blades()["M"])
			if ok == c.lost || got != c.want {
				t.Errorf("%+v, %v, want %+v", got, ok, c.want)
			}
		})
	}
}

// An end at an area that is not known in full is beyond what is known of it.
func TestAnEndOfUnknownAreaIsBeyond(t *testing.T) {
	for _, c := range []struct {
		fate fate
		want bool
	}{{fate{state: done}, false}, {fate{state: done, unknown: true}, true}, {fate{state: pulled}, true}, {fate{state: on}, true}} {
		if got := c.fate.outcome().Beyond; got != c.want {
			t.Errorf("%+v: beyond is %v", c.fate, got)
		}
	}
}

// A shift that runs tells nothing yet: else only those that are done would count.
func TestWhatBecameOfAShift(t *testing.T) {
	f := foretold(1, "M", planning.ByEnds, 0, 0, 1, 2, 3, 0.5) // until 14 o'clock
	for _, c := range []struct {
		name          string
		now           float64
		fate          fate
		became, known bool
	}{
		{"it runs and the blade is done", 0.2, fate{state: done, at: day(0.1)}, false, false},
		{"it is over and the blade was done", 1, fate{state: done, at: day(0.1)}, true, true},
		{"it is over and the blade on", 1, fate{state: on}, false, true},
		{"the blade was done after it", 1, fate{state: done, at: day(0.5)}, false, true},
		{"the blade was changed early after it", 1, fate{state: pulled, at: day(0.5)}, false, true},
	} {
		s := scored{ForecastRow: &f, fate: c.fate}
		if became, known := s.inShift(&Data{Now: day(c.now)}); became != c.became || known != c.known {
			t.Errorf("%s: %v, known %v, want %v, %v", c.name, became, known, c.became, c.known)
		}
	}
	s := scored{ForecastRow: &f, fate: fate{state: pulled, at: day(0.1)}}
	if _, known := s.inShift(&Data{Now: day(1)}); known {
		t.Error("the blade was changed early within it: nobody knows")
	}
}

// A blade that is hung again was not used up, one that nobody named is not known, and
// neither is what comes later than now or came before the days looked at.
func TestWhatCountsAsAChange(t *testing.T) {
	rows := []store.FittingRow{
		fitting(1, "M", 0, 1, analyze.ReasonPlanned, 1), fitting(2, "M", 2, 3, analyze.ReasonMoved, 1), fitting(3, "M", 4, 5, analyze.ReasonDull, 1),
		fitting(4, "", 5, 6, analyze.ReasonUnknown, 1), fitting(5, "N", 6, 9.5, analyze.ReasonDull, 1), fitting(6, "O", -9, -2, analyze.ReasonDull, 1),
	}
	d := &Data{Now: day(9), Days: 10, Config: shop(t, priced), Lives: lives.Gather(rows, nil, shop(t, priced), day(-1000))}
	if got := newStudy(d).changes(); len(got) != 1 || got[0].ID != 3 {
		t.Errorf("changes %+v, want the end of M only", got)
	}
}

// What was not known when a forecast was made does not help a rival.
func TestRivalsKnowWhatWasKnown(t *testing.T) {
	list := []off{{day(0), "T", 100, false}, {day(1), "T", 300, true}, {day(2), "U", 5, true}, {day(3), "T", 900, true}}
	for _, c := range []struct {
		at             float64
		life, interval float64
		knows          bool
	}{
		{-1, 0, 0, false},
		{0, 0, 100, false},
		{2.5, 300, 200, true},
		{4, 600, 1300.0 / 3, true},
	} {
		r := known([]store.ForecastRow{foretold(1, "M", planning.ByEnds, c.at, 0, 1, 2, 3, 0.5)}, list)[0]
		life, ok := r.life.left(0)
		interval, _ := r.interval.left(0)
		if ok != c.knows || math.Abs(life-c.life) > 1e-9 || math.Abs(interval-c.interval) > 1e-9 {
			t.Errorf("on day %v: %v (%v) and %v, want %v and %v", c.at, life, ok, interval, c.life, c.interval)
		}
	}
	if left, _ := (mean{sum: 300, n: 1}).left(400); left != 0 {
		t.Errorf("a blade past the mean has %v left, want 0", left)
	}
}

func TestWithoutPricesThereIsNoMoney(t *testing.T) {
	for text, want := range map[string]string{
		"": "the price of a blade type is not configured (blade_type.price)",
		"[[blade_type]]\nname = \"T\"\nprice = 50\n": planning.NoSawHour,
	} {
		d := example(t)
		d.Config = shop(t, text)
		r, err := Build(d)
		if err != nil || r.Money.Cost != nil || r.Money.Why != want || r.Money.Unplanned != 2 {
			t.Errorf("%q: money %+v, %v, want none and %q", text, r.Money, err, want)
		}
	}
}

func TestNothingKept(t *testing.T) {
	d := example(t)
	d.Forecasts = nil
	r, err := Build(d)
	if err != nil || r.Why != nothingKept(10) || r.Coverage != nil {
		t.Errorf("%+v, %v", r, err)
	}
	if m, why, err := LastMonth(d); m != nil || why != nothingKept(10) || err != nil {
		t.Errorf("%v, %q, %v", m, why, err)
	}
}

// The month says what the report says.
func TestTheMonthIsOfTheReport(t *testing.T) {
	d := example(t)
	r, err := Build(d)
	if err != nil {
		t.Fatal(err)
	}
	m, _, err := LastMonth(d)
	if err != nil || m.Forecasts != r.Forecasts || m.Blades != r.Blades || *m.Share != *r.Coverage.Share || m.Ended != r.Ends.Ended || m.Foreseen != r.Ends.Foreseen || m.Untold != r.Ends.Untold {
		t.Errorf("%+v, %v, of %+v", m, err, r)
	}
}

// Whatever comes, every forecast is counted once in each table.
func TestEveryForecastIsCountedOnce(t *testing.T) {
	reasons := append(analyze.EndReasons(), "")
	cfg := shop(t, priced)
	rapid.Check(t, func(t *rapid.T) {
		d := &Data{Now: day(20), Days: 40, Config: cfg, passes: map[int64][]pass{}}
		var rows []store.FittingRow
		for id := range int64(rapid.IntRange(1, 8).Draw(t, "fittings")) {
			serial := string(rune('A' + rapid.IntRange(0, 3).Draw(t, "blade")))
			start := float64(2 * id)
			rows = append(rows, fitting(id, serial, start, start+1, rapid.SampledFrom(reasons).Draw(t, "reason"), 100))
			d.passes[id] = []pass{{day(start + 0.5), rapid.Float64Range(1, 500).Draw(t, "area"), rapid.Bool().Draw(t, "trip")}}
			q := rapid.Float64Range(0, 300).Draw(t, "q")
			method := rapid.SampledFrom([]string{planning.ByEnds, planning.ByEndsAndTrip}).Draw(t, "method")
			d.Forecasts = append(d.Forecasts, foretold(id, serial, method, start+0.1, 0, q, 2*q, 3*q, rapid.Float64Range(0, 1).Draw(t, "odds")))
		}
		d.Lives = lives.Gather(rows, nil, cfg, day(-1000))
		r, err := Build(d)
		if err != nil {
			t.Fatal(err)
		}
		n := len(d.Forecasts)
		if c := r.Coverage; r.LeftOut+c.Inside+c.Below+c.Above+c.Undecided != n {
			t.Errorf("coverage of %d: %+v", n, c)
		}
		if p := r.Pinball; p != nil && r.LeftOut+p.Forecasts+p.Unended+p.NoRival != n {
			t.Errorf("losses of %d: %+v", n, p)
		}
		if s := r.Shift; s != nil && r.LeftOut+s.Forecasts+s.LeftOut != n {
			t.Errorf("shifts of %d: %+v", n, s)
		}
		if e := r.Ends; e.Foreseen+e.Unforeseen+e.Untold != e.Ended || e.Ended != r.Money.Unplanned || len(r.Early.Changes) != r.Money.Planned {
			t.Errorf("ends %+v, early %+v, money %+v", e, r.Early, r.Money)
		}
		if m, _, err := LastMonth(d); err != nil || (m.Share == nil) != (m.WhyShare != "") {
			t.Errorf("the month: %+v, %v: want a share or why there is none", m, err)
		}
	})
}
