package backtest

import (
	"bytes"
	"encoding/json"
	"errors"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"gullet/analyze"
	"gullet/cmd/gullet/internal/figures"
	"gullet/cmd/gullet/internal/golden"
	"gullet/store"
)

// invented is a shop of two types with a price and one without.
func invented(t *testing.T, blades int) *Input {
	m := clean(8, blades)
	m.types = []string{"1 x 0.035 4/6", "1-1/4 x 0.042 3/4", "gift"}
	in := m.input(t)
	in.Config.Shop.Zone, in.Config.Shop.Currency = "UTC", "USD"
	in.Config.BladeTypes[len(in.Config.BladeTypes)-1].Price = nil
	return in
}

// wandering is that shop with blades that wander off.
func wandering(t *testing.T, blades int) *Input {
	in := invented(t, blades)
	crooked(in, 3, 60, 7000)
	return in
}

// newest is that shop with only its newest blades followed.
func newest(t *testing.T) *Input {
	in := wandering(t, 120)
	in.Most = 40
	return in
}

func TestWords(t *testing.T) {
	early := invented(t, 30)
	early.Fittings = early.Fittings[:6]
	early.Now = early.Fittings[5].End
	noCosts := invented(t, 60)
	noCosts.Costs.SawHour, noCosts.Costs.Scrap = 0, 0
	for _, c := range []struct {
		golden string
		in     *Input
		metric bool
	}{
		{"backtest-inch.txt", invented(t, 240), false},
		{"backtest-mm.txt", invented(t, 240), true},
		{"backtest-deviation.txt", wandering(t, 120), false},
		{"backtest-newest.txt", newest(t), false},
		{"backtest-no-costs.txt", noCosts, false},
		{"backtest-nothing-known.txt", early, false},
		{"backtest-no-blades.txt", &Input{Now: opened, Config: early.Config}, false},
	} {
		t.Run(c.golden, func(t *testing.T) {
			var b bytes.Buffer
			if err := build(t, c.in).Write(&b, figures.Style{Zone: time.UTC, Metric: c.metric}); err != nil {
				t.Fatal(err)
			}
			golden.Check(t, c.golden, b.String())
		})
	}
}

// Lists are empty and not null, unknown figures null.
func TestJSON(t *testing.T) {
	for name, in := range map[string]*Input{"backtest.json": invented(t, 240), "backtest-newest.json": newest(t), "backtest-no-blades.json": {Now: opened, Config: invented(t, 3).Config}} {
		text, err := json.MarshalIndent(rounded(t, build(t, in)), "", "  ")
		if err != nil {
			t.Fatal(err)
		}
		golden.Check(t, name, string(text)+"\n")
	}
}

// rounded is a report as a program reads it, its numbers to six digits.
func rounded(t *testing.T, r *Report) any {
	t.Helper()
	text, err := json.Marshal(r)
	if err != nil {
		t.Fatal(err)
	}
	var v any
	if err := json.Unmarshal(text, &v); err != nil {
		t.Fatal(err)
	}
	var round func(any) any
	round = func(v any) any {
		switch v := v.(type) {
		case float64:
			if v == 0 {
				return v
			}
			unit := math.Pow(10, math.Floor(math.Log10(math.Abs(v)))-5)
			return math.Round(v/unit) * unit
		case []any:
			for i := range v {
				v[i] = round(v[i])
			}
		case map[string]any:
			for k := range v {
				v[k] = round(v[k])
			}
		}
		return v
	}
	return round(v)
}

// A type without a price is named and left out; its windows are held all the same.
func TestNoPrice(t *testing.T) {
	in := invented(t, 120)
	r := build(t, in)
	if len(r.LeftOut) != 1 || !strings.HasPrefix(r.LeftOut[0], "gift: the price of blade type") {
		t.Errorf("left out %q, want the gift", r.LeftOut)
	}
	var names []string
	weighed := 0
	for i := range r.Types {
		names = append(names, r.Types[i].Type)
		if r.Types[i].Type != AllTypes {
			weighed += r.Types[i].Blades
		}
	}
	if want := []string{"1 x 0.035 4/6", "1-1/4 x 0.042 3/4", AllTypes}; !slices.Equal(names, want) {
		t.Errorf("types %q, want %q", names, want)
	}
	if r.Windows[0].Blades != r.Told || weighed >= r.Told || r.Types[2].Blades != weighed {
		t.Errorf("%d foretold, %d weighed, windows of %d, all types %d", r.Told, weighed, r.Windows[0].Blades, r.Types[2].Blades)
	}
}

// All types together cost what each costs for the work its blades really did.
func TestAllTypesAreWeighedByTheirWork(t *testing.T) {
	in := invented(t, 120)
	r := build(t, in)
	work := map[string]float64{}
	list, _, _, err := in.blades()
	if err != nil {
		t.Fatal(err)
	}
	if _, err := in.decide(list); err != nil {
		t.Fatal(err)
	}
	for _, b := range list {
		if b.told != nil {
			work[b.kind] += b.life
		}
	}
	a, b := &r.Types[0], &r.Types[1]
	for i := range a.Policies {
		want := (work[a.Type]*a.Policies[i].Cost.Value + work[b.Type]*b.Policies[i].Cost.Value) / (work[a.Type] + work[b.Type])
		near(t, a.Policies[i].Policy, r.Types[2].Policies[i].Cost.Value, want)
	}
}

// A way that runs most of its blades further than anybody did cannot be told, nor what
// others cost beside it: here no blade is let run further than 3,000 in².
func TestWaysThatNobodyRanAreUnknown(t *testing.T) {
	told := &told{plan: 9000, fixed: 2000}
	var list []*blade
	for i := range 30 {
		list = append(list, &blade{life: 2900 + float64(i), off: true, told: told})
	}
	for i := range 12 {
		list = append(list, &blade{life: 100 * float64(i+1), off: true, ended: true, told: told})
	}
	p := judge("T", policies, newCrowd(list), 70, 190, 0).answer().Policies
	for i, known := range []bool{false, false, true, false, true} {
		if (p[i].Cost != nil) != known || p[i].More != nil || (p[i].Why == "") != known {
			t.Errorf("%s: %+v, want it known %v and nothing beside the plan", p[i].Policy, p[i], known)
		}
	}
}

// A blade that was moved did not end: its fittings add up to one life, and one that was
// taken off to be hung again is not off.
func TestMovedBladesAreOne(t *testing.T) {
	day := func(n int) time.Time { return opened.AddDate(0, 0, n) }
	row := func(saw, serial string, from, to int, reason analyze.EndReason, area float64) store.FittingRow {
		return store.FittingRow{
			Fitting: analyze.Fitting{Saw: saw, Serial: serial, Type: "T", Start: day(from), End: day(to), Reason: reason},
			Totals:  []analyze.GradeTotal{{Grade: "1018", Area: area, Cuts: 5}}, Area: area, Cuts: 5, LastPass: day(to), LastGrade: "1018",
		}
	}
	in := clean(1, 0).input(t)
	in.Now = day(30)
	in.Fittings = []store.FittingRow{
		row("s1", "A", 0, 2, analyze.ReasonMoved, 300), row("s2", "A", 3, 5, analyze.ReasonDull, 500),
		row("s1", "B", 3, 4, analyze.ReasonMoved, 200), row("s1", "C", 5, 6, analyze.ReasonPlanned, 100),
		row("s1", "", 7, 8, analyze.ReasonDull, 100), row("s1", "D", 9, 10, analyze.ReasonDull, 0), row("s1", "E", 11, 12, analyze.ReasonUnknown, 70),
	}
	list, _, doubts, err := in.blades()
	if err != nil {
		t.Fatal(err)
	}
	type seen struct {
		Serial, Saw string
		Life        float64
		Ended, Off  bool
	}
	var got []seen
	for _, b := range list {
		got = append(got, seen{b.serial, b.saw, b.life, b.ended, b.off})
	}
	want := []seen{{"A", "s1", 800, true, true}, {"B", "s1", 200, false, false}, {"C", "s1", 100, false, true}, {"E", "s1", 70, false, true}}
	if !slices.Equal(got, want) {
		t.Errorf("blades %+v, want %+v", got, want)
	}
	if all := strings.Join(doubts, "\n"); len(doubts) != 3 || !strings.Contains(all, "1 fitting of a blade that nobody named") ||
		!strings.Contains(all, "1 blade that ended with nothing counted") || !strings.Contains(all, "1 blade left a saw for a reason nobody told") {
		t.Errorf("doubts %q", doubts)
	}
}

// From a day on only blades hung since are judged; those before are learned from, and
// what is told of the others is the same.
func TestFrom(t *testing.T) {
	in := clean(9, 120).input(t)
	in.From = in.Fittings[60].Start
	earlier := 0
	for i := range in.Fittings {
		if in.Fittings[i].Start.Before(in.From) {
			earlier++
		}
	}
	r := build(t, in)
	if rest := 120 - earlier; r.Earlier != earlier || r.Blades != rest || r.Told != rest || !r.From.Equal(in.From) || r.Windows[0].Blades != rest {
		t.Errorf("%d learned from, %d judged, %d foretold from %s, windows of %d", r.Earlier, r.Blades, r.Told, r.From, r.Windows[0].Blades)
	}
}

// With a target risk the plan changes a new blade where it has ended with that chance.
func TestTargetRisk(t *testing.T) {
	in := clean(9, 120).input(t)
	in.Costs.Risk = 0.1
	list, _, _, err := in.blades()
	if err != nil {
		t.Fatal(err)
	}
	if _, err := in.decide(list); err != nil {
		t.Fatal(err)
	}
	last := list[len(list)-1].told
	near(t, "age", last.plan, last.new.Q10)
}

func TestHistoryThatCannotBeRead(t *testing.T) {
	in := clean(9, 60).input(t)
	broken := errors.New("disk on fire")
	in.Totals = func(string, time.Time, time.Time) ([]analyze.GradeTotal, error) { return nil, broken }
	if _, err := Build(in); !errors.Is(err, broken) || !strings.Contains(err.Error(), "blade B") {
		t.Errorf("error %v, want what was read and why not", err)
	}
}
