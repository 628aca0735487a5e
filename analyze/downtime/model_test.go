package downtime

import (
	"encoding/json"
	"math"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"
)

// The worked shift of the shop's notes (domain notes, section 6, computed there apart
// from this program): PBT 440, ADOT 30, ADET 45, AUST 55, 96 pieces of 2.9 min, 94 of
// them good. Uptime is (440 − 30 − 45)/440 by hand.
func TestWorkedShift(t *testing.T) {
	m := NewModel(Minutes{Production: 310, Setup: 55, Delay: 45, Down: 30, PlannedDown: 40, Unscheduled: 960},
		Output{Pieces: 96, Good: 94, Standard: 96 * 2.9})
	if m.PlannedOperation != 480 || m.PlannedBusy != 440 || m.Busy != 410 || m.Processing != 365 {
		t.Errorf("POT %v, PBT %v, AUBT %v, AUPT %v", m.PlannedOperation, m.PlannedBusy, m.Busy, m.Processing)
	}
	want := map[string]struct {
		value float64
		base  string
	}{
		"availability (A)":              {.7045, "planned busy time, 440 min"},
		"allocation efficiency (AE)":    {.9318, "planned busy time, 440 min"},
		"utilisation efficiency (UE)":   {.7561, "busy time, 410 min"},
		"technical efficiency (TE)":     {.8732, "time in production and delay, 355 min"},
		"setup ratio":                   {.1507, "time in production and setup, 365 min"},
		"effectiveness (E)":             {.8981, "production time, 310 min"},
		"quality ratio (Q)":             {.9792, "96 pieces finished; good are those without a trip or a break, as saws tell no scrap"},
		"OEE":                           {.6195, "planned busy time, 440 min"},
		"NEE":                           {.7295, "planned busy time, 440 min"},
		"uptime (production and setup)": {.8295, "planned busy time, 440 min"},
	}
	for _, f := range m.Figures() {
		w, ok := want[f.Name]
		if !ok || f.Value == nil || math.Abs(*f.Value-w.value) > .00005 || f.Base != w.base || f.Why != "" {
			t.Errorf("%s is %s, want %+v", f.Name, figureText(f.Figure), w)
			continue
		}
		if *f.Low != *f.Value || *f.High != *f.Value {
			t.Errorf("%s is %s with nothing unknown", f.Name, figureText(f.Figure))
		}
		delete(want, f.Name)
	}
	if len(want) > 0 {
		t.Errorf("not listed: %v", want)
	}
}

// figureText is a figure as JSON, so that a failed test tells what its pointers hold.
func figureText(f Figure) string {
	b, _ := json.Marshal(f)
	return string(b)
}

// limits is where all unknown time must have been for a figure to be at its least and
// at its most. Effectiveness and quality do not depend on it.
var limits = map[string][2]Element{
	"availability (A)":              {Down, Production},
	"allocation efficiency (AE)":    {Down, Production},
	"utilisation efficiency (UE)":   {Delay, Production},
	"technical efficiency (TE)":     {Delay, Production},
	"setup ratio":                   {Production, Setup},
	"OEE":                           {Down, Production},
	"NEE":                           {Down, Setup},
	"uptime (production and setup)": {Delay, Setup},
}

// used is the time with the unknown part of it used as told, and the output that would
// have come of it: pieces as fast and as good as those known.
func used(m Minutes, o Output, how map[Element]float64) Model {
	was := m.Production
	for e, minutes := range how {
		*m.Of(e) += minutes
	}
	m.Unknown = 0
	if was > 0 {
		o.Standard *= m.Production / was
	}
	return NewModel(m, o)
}

// anyTime draws minutes, many of them none, with a known part of every whole.
func anyTime(t *rapid.T) (Minutes, Output) {
	minutes := func(name string) float64 {
		return rapid.OneOf(rapid.Just(0.0), rapid.Float64Range(0.001, 10_000)).Draw(t, name)
	}
	m := Minutes{}
	for _, e := range Elements() {
		*m.Of(e) = minutes(string(e))
	}
	o := Output{Pieces: rapid.IntRange(0, 500).Draw(t, "pieces"), Standard: minutes("standard")}
	o.Good = rapid.IntRange(0, o.Pieces).Draw(t, "good")
	o.StandardUnknown = rapid.SampledFrom([]int{0, 0, o.Pieces / 3}).Draw(t, "without standard")
	return m, o
}

// rounding is what limits may be off by, as a part of a figure.
const rounding = 1e-12

// However unknown time was really used, no figure leaves its limits.
func TestUnknownTimeStaysWithinTheLimits(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m, o := anyTime(t)
		known := NewModel(m, o)
		how, left := map[Element]float64{}, m.Unknown
		for _, e := range []Element{Production, Setup, Delay, Down} {
			how[e] = left * rapid.OneOf(rapid.SampledFrom([]float64{0, 1}), rapid.Float64Range(0, 1)).Draw(t, "part to "+string(e))
			left -= how[e]
		}
		how[PlannedDown] = left
		really := used(m, o, how)
		for i, f := range known.Figures() {
			got := really.Figures()[i].Value
			if f.Value == nil {
				continue
			}
			if got == nil || *got < *f.Low*(1-rounding) || *got > *f.High*(1+rounding) {
				t.Errorf("%s %s is really %s", f.Name, figureText(f.Figure), figureText(really.Figures()[i].Figure))
			}
		}
	})
}

// The limits are no wider than they must be: a use of the unknown time reaches each.
func TestLimitsAreReached(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m, o := anyTime(t)
		known := NewModel(m, o)
		for i, f := range known.Figures() {
			if f.Value == nil {
				continue
			}
			for end, limit := range []*float64{f.Low, f.High} {
				element, ok := limits[f.Name]
				want := f.Value
				if ok {
					all := used(m, o, map[Element]float64{element[end]: m.Unknown})
					want = all.Figures()[i].Value
				}
				if want == nil || math.Abs(*limit-*want) > rounding*max(1, *want) {
					t.Errorf("%s %s: limit %d, want %v", f.Name, figureText(f.Figure), end, want)
				}
			}
		}
	})
}

// What holds between the figures whatever the times, by their definitions in the
// standard: A = AE × UE, OEE = A × E × Q and NEE = AUPT/PBT × E × Q; and all time is in
// one element or another.
func TestIdentities(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m, o := anyTime(t)
		r := NewModel(m, o)
		same := func(what string, got, want *float64) {
			if (got == nil) != (want == nil) || got != nil && math.Abs(*got-*want) > rounding*max(1, *want) {
				t.Errorf("%s: %v, want %v", what, got, want)
			}
		}
		if r.Busy > 0 {
			same("A", r.Availability.Value, times(r.AllocationEfficiency.Value, r.UtilisationEfficiency.Value))
		}
		same("OEE", r.OEE.Value, times(r.Availability.Value, r.Effectiveness.Value, r.QualityRatio.Value))
		same("NEE", r.NEE.Value, times(r.Uptime.Value, r.Effectiveness.Value, r.QualityRatio.Value))
		all := r.PlannedOperation + m.Unscheduled + m.Unknown
		calendar := m.Calendar()
		same("calendar", &calendar, &all)
		for _, f := range r.Figures() {
			if f.Value == nil && f.Why == "" || f.Value != nil && (f.Why != "" || *f.Low > *f.Value || *f.Value > *f.High) {
				t.Errorf("%s is %s", f.Name, figureText(f.Figure))
			}
			if f.Value != nil && m.Unknown == 0 && (*f.Low != *f.Value || *f.High != *f.Value) {
				t.Errorf("%s is %s with nothing unknown", f.Name, figureText(f.Figure))
			}
		}
	})
}

// Unknown and unscheduled time change no value; unscheduled time no limit either.
func TestOnlyKnownTimeIsDividedBy(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m, o := anyTime(t)
		all := NewModel(m, o)
		m.Unscheduled = 0
		scheduled := NewModel(m, o)
		m.Unknown = 0
		known := NewModel(m, o)
		for i, f := range all.Figures() {
			if diff := cmp.Diff(f, scheduled.Figures()[i]); diff != "" {
				t.Errorf("unscheduled time changes it:\n%s", diff)
			}
			if diff := cmp.Diff(f.Value, known.Figures()[i].Value); diff != "" {
				t.Errorf("%s: unknown time changes its value:\n%s", f.Name, diff)
			}
		}
	})
}

func TestFiguresThatAreNotKnown(t *testing.T) {
	half, third, two, three := 0.5, 1./3, 240./600, 360./600
	for name, tc := range map[string]struct {
		minutes Minutes
		output  Output
		figure  func(Model) Figure
		want    Figure
	}{
		"no shift": {
			Minutes{Unscheduled: 480}, Output{}, func(m Model) Figure { return m.Availability },
			Figure{Base: "planned busy time, 0 min", Why: "there was no planned busy time"},
		},
		"nothing heard all shift": {
			Minutes{Unknown: 480}, Output{}, func(m Model) Figure { return m.OEE },
			Figure{Base: "planned busy time, 0 min known", Why: "no planned busy time is known, and 480 min are unknown"},
		},
		"a shift of maintenance": {
			Minutes{PlannedDown: 480}, Output{}, func(m Model) Figure { return m.Uptime },
			Figure{Base: "planned busy time, 0 min", Why: "there was no planned busy time"},
		},
		"a shift without a cut": {
			Minutes{Down: 480}, Output{}, func(m Model) Figure { return m.TechnicalEfficiency },
			Figure{Base: "time in production and delay, 0 min", Why: "there was no time in production and delay"},
		},
		"no piece finished": {
			Minutes{Production: 7.46}, Output{}, func(m Model) Figure { return m.OEE },
			Figure{Base: "planned busy time, 7.5 min", Why: "no piece is known to be finished"},
		},
		"a piece without a standard": {
			Minutes{Production: 240, Down: 240, Unknown: 120}, Output{Pieces: 3, Good: 3, Standard: 120, StandardUnknown: 1},
			func(m Model) Figure { return m.Effectiveness },
			Figure{Low: &half, Base: "production time, 240 min known", Why: "no standard rate is known for 1 of 3 pieces"},
		},
		"and what is made of it": {
			Minutes{Production: 240, Down: 240, Unknown: 120}, Output{Pieces: 1, Good: 1, Standard: 200, StandardUnknown: 1},
			func(m Model) Figure { return m.OEE },
			Figure{Low: &third, Base: "planned busy time, 480 min known", Why: "no standard rate is known for 1 of 1 piece"},
		},
		"some of it unknown": {
			Minutes{Production: 240, Down: 240, Unknown: 120}, Output{}, func(m Model) Figure { return m.Availability },
			Figure{Value: &half, Low: &two, High: &three, Base: "planned busy time, 480 min known"},
		},
	} {
		t.Run(name, func(t *testing.T) {
			near := cmp.Comparer(func(a, b float64) bool { return math.Abs(a-b) < rounding })
			if diff := cmp.Diff(tc.want, tc.figure(NewModel(tc.minutes, tc.output)), near); diff != "" {
				t.Errorf("(-want +got):\n%s", diff)
			}
		})
	}
}

// Every element has minutes of its own, which add up to the calendar.
func TestMinutes(t *testing.T) {
	var m Minutes
	for i, e := range Elements() {
		*m.Of(e) += float64(int(1) << i)
	}
	want := Minutes{Production: 1, Setup: 2, Delay: 4, Down: 8, PlannedDown: 16, Unscheduled: 32, Unknown: 64}
	if m != want || m.Calendar() != 127 {
		t.Errorf("%+v of %v", m, m.Calendar())
	}
	*m.Of("no element") += 1
	m.Add(want)
	if m.Unknown != 129 || m.Setup != 4 || m.Calendar() != 255 {
		t.Errorf("%+v of %v", m, m.Calendar())
	}
	got, err := json.Marshal(want)
	if names := `{"production":1,"setup":2,"delay":4,"down":8,"planned_down":16,"unscheduled":32,"unknown":64}`; err != nil || string(got) != names {
		t.Errorf("%s, %v", got, err)
	}
}
