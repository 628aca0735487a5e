package backtest

import (
	"math/rand/v2"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
	"pgregory.net/rapid"

	"gullet/analyze"
	"gullet/store"
)

// otherwise is a history that was the same up to a time and went another way after:
// blades that were on ended otherwise and later, and those hung after are others.
func otherwise(in *Input, t time.Time, seed uint64) *Input {
	random := rand.New(rand.NewPCG(seed, 9))
	out := *in
	out.Fittings = nil
	for _, f := range in.Fittings {
		if f.Start.After(t) {
			if random.IntN(2) == 0 {
				continue
			}
			f.Type, f.Totals = "T2", []analyze.GradeTotal{{Grade: "304", Area: 9000 * random.Float64(), Cuts: 10, Seconds: 1, Travel: 1}}
		}
		if f.End.After(t) {
			f.Reason = analyze.EndReasons()[random.IntN(len(analyze.EndReasons()))]
			f.End = f.End.Add(time.Duration(random.IntN(100)) * time.Hour)
			f.LastPass = f.End
			f.LastGrade = "304"
			f.Trips = 99
			if f.Start.Before(t) {
				f.Totals = append([]analyze.GradeTotal{{Grade: "A36", Area: 50_000, Cuts: 9}}, f.Totals...)
			}
		}
		out.Fittings = append(out.Fittings, f)
	}
	out.Now = in.Now.AddDate(0, 2, 0)
	// What had been done by t stays as it was.
	out.Totals = func(saw string, from, until time.Time) ([]analyze.GradeTotal, error) {
		if until.After(t) {
			return evenly(&out)(saw, from, until)
		}
		return in.Totals(saw, from, until)
	}
	return &out
}

// What was foretold at a time rests on what was known then: whatever comes after makes
// no difference to it. (Sums over materials come in no order, which moves the last digits.)
func TestNothingIsSeenAhead(t *testing.T) {
	m := clean(4, 70)
	m.types, m.grades = []string{"T1", "T2"}, []string{"1018", "A36", "304"}
	in := m.input(t)
	rapid.Check(t, func(rt *rapid.T) {
		when := in.Fittings[rapid.IntRange(40, 66).Draw(rt, "blade")].Start
		other := otherwise(in, when, rapid.Uint64().Draw(rt, "seed"))
		was, is := learnedAt(rt, in, when), learnedAt(rt, other, when)
		for _, kind := range m.types {
			told := was.foretell(kind, "s1")
			if told == nil {
				rt.Fatalf("nothing is foretold on %s: this tries nothing", when)
			}
			if diff := cmp.Diff(told, is.foretell(kind, "s1"), exported, cmpopts.EquateApprox(1e-6, 0)); diff != "" {
				rt.Errorf("%s on %s was foretold otherwise with another future:\n%s", kind, when, diff)
			}
		}
	})
}

var exported = cmp.Options{cmp.AllowUnexported(told{}), cmpopts.IgnoreFields(told{}, "weigher")}

func learnedAt(t *rapid.T, in *Input, when time.Time) *moment {
	m, err := in.learn(when)
	if err != nil {
		t.Fatal(err)
	}
	return m
}

// Nor does it make a difference to when what was known is learned anew: of carbon steel
// only, where an area is one in any measure, blades hung by a time are told the same.
func TestDecisionsDoNotChangeAfterwards(t *testing.T) {
	in := clean(5, 200).input(t)
	when := in.Fittings[120].Start
	short := *in
	short.Now, short.Fittings = when, nil
	for _, f := range in.Fittings {
		if !f.Start.After(when) {
			short.Fittings = append(short.Fittings, f)
		}
	}
	long, cut := toldOf(t, in), toldOf(t, &short)
	if len(cut) < 80 {
		t.Fatalf("%d blades were foretold: this tries nothing", len(cut))
	}
	for serial, was := range cut {
		if diff := cmp.Diff(was, long[serial], exported, cmpopts.EquateApprox(1e-9, 0)); diff != "" {
			t.Errorf("%s was foretold otherwise once more was known:\n%s", serial, diff)
		}
	}
}

func toldOf(t *testing.T, in *Input) map[string]*told {
	t.Helper()
	list, _, _, err := in.blades()
	if err != nil {
		t.Fatal(err)
	}
	if _, err := in.decide(list); err != nil {
		t.Fatal(err)
	}
	out := map[string]*told{}
	for _, b := range list {
		if b.told != nil {
			out[b.serial] = b.told
		}
	}
	return out
}

// A blade that was on a saw then is known as on, with what it had cut; of one hung
// later nothing is.
func TestAsItWasKnownThen(t *testing.T) {
	in := clean(6, 12).input(t)
	f := &in.Fittings[5]
	half := f.Start.Add(f.LastPass.Sub(f.Start) / 2)
	again := in.Fittings[0] // comes back much later
	again.ID, again.Start, again.End = 99, in.Now, in.Now.AddDate(0, 0, 1)
	in.Fittings = append(in.Fittings, again)
	rows, err := in.at(half, time.Time{})
	if err != nil {
		t.Fatal(err)
	}
	var was *store.FittingRow
	for i := range rows {
		if rows[i].Start.After(half) {
			t.Errorf("%s was hung after %s", rows[i].Serial, half)
		}
		if rows[i].ID == f.ID {
			was = &rows[i]
		}
	}
	if was == nil || !was.Open() || was.Reason != "" || was.LastGrade != "" {
		t.Fatalf("the blade that was on is %+v", was)
	}
	if got := was.Area / f.Area; !(got > 0.499 && got < 0.501) {
		t.Errorf("it had cut %v of what it cut in all, want half", got)
	}
}
