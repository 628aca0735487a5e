package planning

import (
	"bytes"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"gullet/analyze"
	"gullet/analyze/plan"
	"gullet/analyze/section"
	"gullet/analyze/shift"
	"gullet/cmd/gullet/internal/figures"
	"gullet/cmd/gullet/internal/golden"
	"gullet/cmd/gullet/internal/sim"
	"gullet/cmd/gullet/internal/trend"
	"gullet/config"
	"gullet/ingest"
	"gullet/store"
)

func ptr[T any](x T) *T { return &x }

// opened is the day the simulated shop opens, a Monday; it works from 6 to 22 o'clock
// on weekdays.
var opened = time.Date(2026, 1, 5, 0, 0, 0, 0, time.UTC)

// simulated is what is known of some days of the simulated shop at noon of the last.
// A shop is simulated once; each test gets an input of its own.
func simulated(t *testing.T, days int) *Input {
	t.Helper()
	if shops[days] == nil {
		shops[days] = simulate(t, days)
	}
	in := *shops[days]
	return &in
}

var shops = map[int]*Input{}

// simulatedConfig is the reference configuration.
func simulatedConfig(t testing.TB) *config.Config {
	t.Helper()
	path := filepath.Join(t.TempDir(), "gullet.toml")
	if err := os.WriteFile(path, []byte(config.Example), 0o600); err != nil {
		t.Fatal(err)
	}
	loaded, err := config.Load(config.Options{File: path, FileRequired: true})
	if err != nil {
		t.Fatal(err)
	}
	return &loaded.Config
}

func simulate(t *testing.T, days int) *Input {
	t.Helper()
	cfg := simulatedConfig(t)
	db, err := store.Open(t.Context(), store.Options{Path: filepath.Join(t.TempDir(), "gullet.db")})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = db.Close() })
	decoder := ingest.NewDecoder(ingest.Options{})
	shop := sim.New(sim.Options{Seed: 1, Start: opened, Days: days})
	var batch []analyze.Arrival
	for line, ok := shop.Next(); ok; line, ok = shop.Next() {
		a := decoder.Decode(line.Topic, line.Payload, line.Retain, line.At.Add(time.Second))
		a.Topic, a.Payload = line.Topic, line.Payload
		batch = append(batch, a)
	}
	if _, err := db.Append(t.Context(), batch); err != nil {
		t.Fatal(err)
	}
	now := opened.AddDate(0, 0, days-1).Add(12 * time.Hour)
	data, err := trend.Gather(t.Context(), db, cfg, "", now)
	if err != nil {
		t.Fatal(err)
	}
	return &Input{
		Now: now, Days: 7, Config: cfg, Calendar: shift.Default(time.UTC), Data: data,
		Costs:  Costs{SawHour: 120, Planned: 15, Unplanned: 45, Fitter: 2 * time.Hour, Scrap: 60, Service: 0.95, Lead: 7 * 24 * time.Hour},
		OnHand: map[string]int{"1-1/4 x 0.042 3/4 bimetal": 4},
	}
}

func bar(t *testing.T, text string) section.Section {
	t.Helper()
	s, err := section.Parse(text)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func TestPlanOfTheSimulatedShop(t *testing.T) {
	in := simulated(t, 61)
	in.Jobs = []Coming{
		{Job: "J-1", Saw: "s1", Grade: "A992", Section: bar(t, "W12x26"), Bars: 1, Pieces: 40},
		{Job: "J-2", Saw: "s1", Grade: "A992", Section: bar(t, "W12x26"), Mitre: 45, Bars: 1, Pieces: 200, Due: in.Now.Add(time.Hour)},
		{Job: "J-4", Saw: "s2", Grade: "A992", Section: bar(t, "W12x26"), Bars: 1, Pieces: 5},
		{Job: "J-3", Grade: "nobody cuts this", Section: bar(t, "RD4"), Bars: 1, Pieces: 3},
	}
	r := Build(in)
	if len(r.Saws) != 5 {
		t.Fatalf("%d saws, want 5", len(r.Saws))
	}
	if !slices.Equal(r.Loose, []string{"J-3"}) {
		t.Errorf("jobs not placed %v, want J-3", r.Loose)
	}
	for i := range r.Saws {
		checkSaw(t, in, &r.Saws[i])
	}
	s1 := r.Saws[0]
	if len(s1.Jobs) != 2 || s1.Jobs[0].Job != "J-2" || s1.Jobs[1].Job != "J-1" {
		t.Fatalf("jobs of s1 %+v, want J-2, which is due, before J-1", s1.Jobs)
	}
	// 200 faces at 45 degrees, 7.65 in² square by the published weight, take 200·√2 of
	// those, and A992 wears by its learned weight.
	face := bar(t, "W12x26").Area()
	if got, want := s1.Jobs[0].Area, 200*face*math.Sqrt2; math.Abs(got-want) > 1e-9*want {
		t.Errorf("J-2 takes %v in², want %v", got, want)
	}
	// W12x26 with 3/4 teeth an inch: 7.65 in² over the 12.2 in that s2 feeds through are
	// 0.63 in, 1.9 teeth at the coarse end; s1 crosses its 6.49 in, 3.5 teeth.
	if teeth := r.Saws[1].Jobs[0].Teeth; !strings.HasPrefix(teeth, "fewer than 3 teeth") || s1.Jobs[1].Teeth != "" {
		t.Errorf("teeth on s2 %q and on s1 %q, want a caution and none", teeth, s1.Jobs[1].Teeth)
	}
	if *s1.Jobs[1].Odds > *s1.Jobs[0].Odds {
		t.Errorf("odds to finish J-2 %v and after it J-1 %v: want them to fall", *s1.Jobs[0].Odds, *s1.Jobs[1].Odds)
	}
	checkShelf(t, r.Shelf)
}

func checkSaw(t *testing.T, in *Input, s *Saw) {
	t.Helper()
	if s.Window == nil || s.Advise == nil {
		t.Errorf("%s: window %v (%s), advice %v (%s): want both", s.Saw, s.Window, s.Why, s.Advise, s.WhyNone)
		return
	}
	w := s.Window
	if !(*w.Weighted.Q10 < *w.Weighted.Q50 && *w.Weighted.Q50 < *w.Weighted.Q90) || !w.Time.Q10.Before(*w.Time.Q50) || !w.Time.Q50.Before(*w.Time.Q90) {
		t.Errorf("%s: window %+v is out of order", s.Saw, w)
	}
	sum := 0.0
	for _, d := range s.Drivers {
		sum += d.Share
	}
	if math.Abs(sum-1) > 1e-9 {
		t.Errorf("%s: drivers %+v sum to %v", s.Saw, s.Drivers, sum)
	}
	a := s.Advise
	if a.CostThen > a.CostNow || a.CostThen > *a.CostLater {
		t.Errorf("%s: as advised %v, now %v, a shift later %v: want the advice to cost least", s.Saw, a.CostThen, a.CostNow, *a.CostLater)
	}
	if a.CostAfter != nil && (!a.Change || *a.CostAfter < a.CostThen) {
		t.Errorf("%s: a shift after the advised change %v, as advised %v: want no less, and none where it is run on", s.Saw, *a.CostAfter, a.CostThen)
	}
	if a.Change != (a.At != nil) || a.Change && (a.At.Before(in.Now) || a.At.After(in.Now.AddDate(0, 0, 8))) || !a.Change && (a.BeforeJob != nil || a.AfterJob != nil || a.Shift != nil) {
		t.Errorf("%s: advised %+v: want a moment within the plan, or that it be run on and none", s.Saw, a)
	}
	if a.Rate == nil || a.HabitRate == nil || *a.Rate > *a.RunToEnd {
		t.Errorf("%s: cost rates %v, %v, %v: want the best no dearer than running to the end", s.Saw, a.Rate, a.HabitRate, a.RunToEnd)
	}
}

func checkShelf(t *testing.T, shelf []Shelf) {
	t.Helper()
	if len(shelf) != 4 {
		t.Fatalf("%d types on the shelf, want the 4 that hang on the saws", len(shelf))
	}
	for _, s := range shelf {
		week, month := s.Needed["7d"], s.Needed["28d"]
		if s.Why != "" || !(week.Mean > 0 && month.Mean > 1.5*week.Mean && month.Mean < 5*week.Mean) || week.Safe < week.Q50 || *s.Reorder != week.Safe {
			t.Errorf("%s: %+v: want some times as many in four weeks, and the week's safe number as reorder point", s.Type, s)
		}
		if (s.OnHand == nil) != (s.OrderBy == nil) {
			t.Errorf("%s: %v on hand, order by %v: want both or neither", s.Type, s.OnHand, s.OrderBy)
		}
	}
}

func TestARiskTargetIsKept(t *testing.T) {
	in := simulated(t, 40)
	for _, risk := range []float64{0.02, 0.1, 0.3} {
		in.Costs.Risk = risk
		for _, s := range Build(in).Saws {
			if s.Advise != nil && s.Advise.Odds > risk {
				t.Errorf("%s: the blade is done before the change with %v, want %v at most", s.Saw, s.Advise.Odds, risk)
			}
		}
	}
}

func TestWhatIsNotConfiguredIsNotWeighed(t *testing.T) {
	in := simulated(t, 40)
	in.Costs.SawHour, in.Costs.Scrap = 0, 0
	for _, s := range Build(in).Saws {
		if s.Advise != nil || !strings.Contains(s.WhyNone, "plan.saw_hour") || s.Window == nil {
			t.Errorf("%s: advice %+v (%q): want none, but a window", s.Saw, s.Advise, s.WhyNone)
		}
	}
}

// The simulated shop works from 6 to 22 o'clock on weekdays, and nobody told so.
func TestShiftsAreSeen(t *testing.T) {
	in := simulated(t, 61)
	c := Seen(in.Calendar, in.Data, in.Now)
	monday := opened.AddDate(0, 0, 63)
	for _, s := range in.Data.Saws {
		if got := c.Worked(s.Name, monday, monday.AddDate(0, 0, 7)); got != 80*time.Hour {
			t.Errorf("%s works %v in a week, want 80 h", s.Name, got)
		}
	}
}

func TestJobsGoWhereTheyAreFreeFirst(t *testing.T) {
	in := simulated(t, 40)
	known := in.Data.Lives.Grade("A992")
	rate := func(grade string, _ float64) (float64, bool) { return 6, grade == known }
	saw := func(name string, hours float64) *sawPlan {
		return &sawPlan{name: name, hours: hours, cuts: map[string]bool{known: true}, pace: pace{usual: plan.Leg{Area: 60, Weighted: 80, Bends: 900, Hours: 1}, share: 0.5, rate: rate}}
	}
	busy, free := saw("busy", 50), saw("free", 0)
	jobs := []Coming{{Job: "any", Grade: "a 992", Section: bar(t, "RD4"), Bars: 1, Pieces: 10}, {Job: "busy's", Saw: "busy", Grade: "A992", Section: bar(t, "RD4"), Bars: 1, Pieces: 10}, {Job: "none", Grade: "X", Section: bar(t, "RD4"), Pieces: 1}}
	if loose := place(jobs, []*sawPlan{busy, free}, in.Data.Lives); !slices.Equal(loose, []string{"none"}) {
		t.Errorf("not placed: %v", loose)
	}
	if len(free.work.Jobs) != 1 || free.work.Jobs[0].Job != "any" || len(busy.work.Jobs) != 1 {
		t.Fatalf("free has %+v, busy %+v", free.work.Jobs, busy.work.Jobs)
	}
	// By hand: 10 rounds of 4 in are 125.66 in², at 6 in²/min in half of the time 0.698 h,
	// in which the band bends 125.66/6 min / 30 min of the 900 bends of an hour.
	l := free.work.Jobs[0]
	area := 10 * math.Pi * 4
	if math.Abs(l.Area-area) > 1e-9 || math.Abs(l.Hours-area/180) > 1e-9 || math.Abs(l.Bends-900*area/6/30) > 1e-9 {
		t.Errorf("leg %+v, want %v in², %v h, %v bends", l, area, area/180, 900*area/6/30)
	}
}

// shown is a report with every figure, and one with none.
func shown() *Report {
	now := time.Date(2026, 3, 4, 15, 30, 0, 0, time.UTC)
	at := func(hours int) *time.Time { return ptr(now.Add(time.Duration(hours) * time.Hour)) }
	return &Report{
		MadeAt: now, Days: 7, Zone: "UTC", Unit: "in2", Currency: "USD", Service: 0.95, Lead: 168, Loose: []string{"J-9"}, Doubts: []string{"no [[shift]] is configured"},
		Shifts: []Load{{"Wed 4 Mar, late", []string{"s1"}, 15, false}},
		Saws: []Saw{
			{
				Saw: "s1", Blade: "B-1", Type: "3/4 bimetal", Area: ptr(4321.0), Weighted: ptr(5612.0), Drivers: []Driver{{"deviation", 0.7}, {"stripped", 0.295}, {"broke-weld", 0.005}},
				Window:   &Windows{Window{ptr(900.0), ptr(1800.0), nil}, Window{ptr(700.0), ptr(1400.0), nil}, TimeWindow{at(5), at(20), nil}},
				Jobs:     []Job{{Job: "J-1", Area: 310, Hours: 2.25, Odds: ptr(0.995), Ends: at(3), Due: at(4), Teeth: "fewer than 3 teeth are in the average width and may strip: take a finer pitch"}, {Job: "J-2", Area: 900, Hours: 7, Odds: ptr(0.61), Ends: at(16), Due: at(9)}},
				Basis:    "12 blades of its type, 9 of them ended; its deviation, to the first trip, from 310 readings and those of 8 blades before it",
				Findings: []Finding{{"saw-alignment", at(-50), 0.97}},
				Advise:   &Advice{Change: true, At: at(3), BeforeJob: ptr("J-2"), Reason: "from here on going on costs more than the blades to come", Moved: ptr("moved from Thu 5 Mar, early, in which one fitter has time for 8 changes: 2.10 USD more"), Odds: 0.005, CostNow: 92, CostThen: 64.3, CostLater: ptr(71.0), CostAfter: ptr(66.5), OnHand: ptr(2), Rate: ptr(17.5), HabitRate: ptr(18.7), RunToEnd: ptr(20.9), ReplaceAge: ptr(9620.0)},
			},
			{
				Saw: "s3", Blade: "B-2", Type: "3/4 bimetal", Area: ptr(120.0), Weighted: ptr(150.0), Basis: "12 blades of its type, 9 of them ended",
				Drivers: []Driver{{"stripped", 1}}, Window: &Windows{Window{ptr(900.0), ptr(1800.0), ptr(5000.0)}, Window{ptr(700.0), ptr(1400.0), ptr(4100.0)}, TimeWindow{at(5), at(20), nil}},
				Advise: &Advice{Reason: "going on costs less than a new blade throughout the plan", Odds: 0.2, CostNow: 92, CostThen: 64.3, CostLater: ptr(91.0), OnHand: ptr(2), Rate: ptr(17.5), RunToEnd: ptr(17.5)},
			},
			{Saw: "s2", Why: "no blade is known to be on the saw", WhyNone: "no blade is known to be on the saw"},
		},
		Shelf: []Shelf{
			{Type: "3/4 bimetal", OnHand: ptr(2), Needed: map[string]Use{"7d": {2.1, 2, 4}, "14d": {4.2, 4, 6}, "28d": {8.3, 8, 11}}, Reorder: ptr(4), OrderBy: at(0)},
			{Type: "", Why: "saw s2: what its blade has left is unknown"},
		},
	}
}

// That nothing is to be changed must not be read where nothing is known.
func TestNoChange(t *testing.T) {
	runOn, unknown := Saw{Advise: &Advice{}}, Saw{}
	for want, saws := range map[string][]Saw{
		"No saw has sent a reading that could be stored":        nil,
		"Nothing can be advised of any saw":                     {unknown, unknown},
		"No change is advised within the plan, but of 1 of 2 s": {runOn, unknown},
		"No change is advised within the plan: all blades are ": {runOn, runOn},
	} {
		r := &Report{Saws: saws}
		if got := r.NoChange(); !strings.HasPrefix(got, want) {
			t.Errorf("of %d saws %q, want %q", len(saws), got, want)
		}
	}
}

// A blade that its own deviation ends is not told to be run to the end because others
// of its type are: its change lies beyond the plan.
func TestReasonToRunOn(t *testing.T) {
	in := &Input{}
	ends, helps := &plan.Replacement{}, &plan.Replacement{Helps: true}
	for _, c := range []struct {
		name string
		best *plan.Replacement
		cost []float64 // the first two within the plan
		want string
	}{
		{"to the end", ends, []float64{90, 80, 60, 40, 20}, "changing early does not help"},
		{"to where nothing is left", ends, []float64{90, 80, 60, 20, 20}, "changing early does not help"},
		{"to the end, saving more than the change costs", ends, []float64{90, 80, -100, -352, -352}, "changing early does not help"},
		{"changed beyond the plan", ends, []float64{90, 80, 60, 70, 75}, "going on costs less than a new blade throughout the plan"},
		{"changed beyond the plan, as others are", helps, []float64{90, 80, 60, 40, 20}, "going on costs less than a new blade throughout the plan"},
		{"past an early risk", helps, []float64{90, 95, 60, 70, 75}, "it pays beyond the plan"},
		{"within the plan", ends, []float64{90, 80, 85, 95, 99}, "from here on going on costs more"},
		{"now", ends, []float64{90, 95, 99, 99, 99}, "going on costs more than the blades to come"},
	} {
		tr := &plan.Transition{Cost: c.cost}
		for i, x := range c.cost {
			if x < c.cost[tr.Best] {
				tr.Best = i
			}
		}
		if _, got := in.pick(tr, c.best, 1); !strings.HasPrefix(got, c.want) {
			t.Errorf("%s: %q, want %q", c.name, got, c.want)
		}
	}
}

func TestWrite(t *testing.T) {
	for _, c := range []struct {
		golden string
		report *Report
		style  figures.Style
	}{
		{"plan-inch.txt", shown(), figures.Style{Zone: time.UTC}},
		{"plan-mm.txt", shown(), figures.Style{Zone: time.UTC, Metric: true}},
		{"plan-empty.txt", &Report{MadeAt: shown().MadeAt, Days: 7, Zone: "UTC"}, figures.Style{Zone: time.UTC}},
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
