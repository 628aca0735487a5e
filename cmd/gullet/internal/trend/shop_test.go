package trend

import (
	"errors"
	"fmt"
	"math"
	"testing"
	"time"

	"gullet/analyze"
	"gullet/cmd/gullet/internal/figures"
	"gullet/store"
)

// t0 is a Monday morning on which the tests' shop begins work.
var t0 = time.Date(2026, 3, 2, 6, 0, 0, 0, time.UTC)

func minute(n int) time.Time { return t0.Add(time.Duration(n) * time.Minute) }

func ptr[T any](x T) *T { return &x }

func reading(saw string, kind analyze.Kind, at int) *analyze.Reading {
	return &analyze.Reading{Saw: saw, Kind: kind, ID: fmt.Sprint(kind, at), At: minute(at), Received: minute(at).Add(time.Second)}
}

// cut is a cut of 10 in², 5 in high, that strayed so many thousandths.
func cut(saw string, at int, grade string, mils float64) *analyze.Reading {
	r := reading(saw, analyze.KindCut, at)
	r.Cut = &analyze.Cut{Seconds: ptr(60.0), Square: ptr(10.0), Height: ptr(5.0), Count: 1, Grade: grade, Deviation: ptr(mils / 1000)}
	return r
}

func trip(saw string, at int, mils float64) *analyze.Reading {
	r := cut(saw, at, "1018", mils)
	r.Kind = analyze.KindTrip
	r.Cut.Done, r.Cut.Limit = ptr(0.5), ptr(0.01)
	return r
}

func hang(saw string, at int, serial string) *analyze.Reading {
	r := reading(saw, analyze.KindBlade, at)
	r.Blade = &analyze.BladeChange{Action: analyze.ActionFit, Serial: serial, Type: "T"}
	r.Extra = []byte(`{"lot":"L-` + serial + `"}`)
	return r
}

func says(saw string, at int, state analyze.State) *analyze.Reading {
	r := reading(saw, analyze.KindState, at)
	r.State = &analyze.StateChange{State: state}
	return r
}

func keep(t *testing.T, db *store.Store, readings ...*analyze.Reading) {
	t.Helper()
	var batch []analyze.Arrival
	for _, r := range readings {
		batch = append(batch, analyze.Arrival{Reading: r})
	}
	outcomes, err := db.Append(t.Context(), batch)
	if err != nil {
		t.Fatal(err)
	}
	for i, o := range outcomes {
		if o != analyze.Stored {
			t.Fatalf("reading %d was %s", i+1, o)
		}
	}
}

func gather(t *testing.T, db *store.Store, at int) *Data {
	t.Helper()
	d, err := Gather(t.Context(), db, example(t), "", minute(at))
	if err != nil {
		t.Fatal(err)
	}
	return d
}

func near(t *testing.T, what string, got, want float64) {
	t.Helper()
	if math.Abs(got-want) > 1e-9*math.Max(1, math.Abs(want)) || math.IsNaN(got) != math.IsNaN(want) {
		t.Errorf("%s is %v, want %v", what, got, want)
	}
}

// A cut counts for its blade with all it cut before, on any saw, weighted by how
// its grade wears: A36 by 1.3 as configured.
func TestCutsStandOnTheirBladesClock(t *testing.T) {
	db := emptyStore(t)
	keep(t, db,
		hang("s1", 0, "A"), cut("s1", 5, "1018", 4), cut("s1", 6, "A36", -6), hang("s1", 10, "B"), cut("s1", 12, "1018", 1),
		hang("s2", 20, "A"), cut("s2", 25, "1018", 2), trip("s2", 30, 10))
	d := gather(t, db, 60)
	s1, s2 := d.Saws[0], d.Saws[1]
	if len(s1.Fittings) != 2 || len(s2.Fittings) != 1 || s1.Fittings[0].Blade != "A" || s2.Fittings[0].Lot != "L-A" {
		t.Fatalf("fittings %+v and %+v, want A and B on s1, A on s2", s1.Fittings, s2.Fittings)
	}
	a := s1.Fittings[0].Cuts
	near(t, "the first area", a[0].Area, 10)
	near(t, "the second, of a grade that wears faster", a[1].Area, 23)
	near(t, "its deviation over 5 in", a[1].Deviation, -0.0012)
	b := s2.Fittings[0].Cuts
	near(t, "where A went on", b[0].From, 23)
	near(t, "after its cut on s2", b[0].Area, 33)
	near(t, "after half a cut", b[1].Area, 38)
	near(t, "the limit a trip told, over the height", s2.Limit, 0.002)
	if !b[1].Tripped || b[0].Tripped {
		t.Errorf("tripped: %v and %v, want the second", b[0].Tripped, b[1].Tripped)
	}
}

// A saw that tells no limit has the configured one, a length, held against its
// tall cuts.
func TestTheConfiguredLimit(t *testing.T) {
	db := emptyStore(t)
	keep(t, db, hang("s1", 0, "A"), cut("s1", 5, "1018", 4))
	cfg := example(t)
	for i := range cfg.Saws {
		cfg.Saws[i].TripLimit = ptr(0.02)
	}
	d, err := Gather(t.Context(), db, cfg, "", minute(60))
	if err != nil {
		t.Fatal(err)
	}
	near(t, "the limit over 5 in", d.Saws[0].Limit, 0.004)
	if d.Saws[0].Note == "" {
		t.Error("nothing says that the limit is the configured one")
	}
}

func TestATripOfAStandingSawIsIdle(t *testing.T) {
	db := emptyStore(t)
	keep(t, db, hang("s1", 0, "A"), says("s1", 1, analyze.StateCutting), trip("s1", 5, 10), says("s1", 6, analyze.StateIdle), trip("s1", 7, 10), trip("s1", 8, -10))
	d := gather(t, db, 60)
	cuts := d.Saws[0].Fittings[0].Cuts
	if cuts[0].Idle || !cuts[1].Idle || !cuts[2].Idle {
		t.Errorf("idle: %v, %v, %v, want the last two", cuts[0].Idle, cuts[1].Idle, cuts[2].Idle)
	}
	found := Study(d, figures.Style{Zone: time.UTC}).Saws[0].Findings
	if len(found) != 1 || found[0].Kind != "sensor" || found[0].Evidence[0] != "2 trips while the saw said it was not cutting" {
		t.Errorf("found %+v, want a sensor that trips while idle", found)
	}
}

func TestADismissedChangeIsTheSameBlade(t *testing.T) {
	db := emptyStore(t)
	keep(t, db, hang("s1", 0, "A"), cut("s1", 5, "1018", 4), cut("s1", 15, "1018", 4))
	if _, err := db.Correct(t.Context(), store.Correction{Action: store.CorrectSame, Saw: "s1", At: minute(10), Who: "Kim", Why: "asked the night shift", Recorded: minute(20)}); err != nil {
		t.Fatal(err)
	}
	if d := gather(t, db, 60); !d.Saws[0].Fittings[0].Same {
		t.Error("the fitting may have been changed, want it to be the same blade")
	}
}

func TestWhatIsKnownAtATime(t *testing.T) {
	db := emptyStore(t)
	keep(t, db, hang("s1", 0, "A"), cut("s1", 5, "1018", 4), cut("s1", 15, "1018", 4), hang("s1", 20, "B"), cut("s1", 25, "1018", 4))
	s := gather(t, db, 10).Saws[0]
	if len(s.Fittings) != 1 || len(s.Fittings[0].Cuts) != 1 {
		t.Errorf("at minute 10 %+v, want blade A with one cut", s.Fittings)
	}
}

func TestShiftsAreThoseWithWork(t *testing.T) {
	db := emptyStore(t)
	keep(t, db, hang("s1", 0, "A"), cut("s1", 5, "1018", 4), cut("s1", 6, "1018", 4), cut("s1", 8*60+1, "A36", 4))
	// Of the two shifts that cut, one 20 in² and one 10 of a grade that weighs 1.3.
	s := gather(t, db, 24*60).Saws[0]
	near(t, "the work of a shift", s.Shift, 33.0/2)
	near(t, "the clock per in²", s.PerUnit, 33.0/30)
}

// The shop of the example works from 06:00 to 22:00 on weekdays: what is cut at
// other times is a turn of its own day, however often.
func TestCutsOutsideEveryShiftAreATurnOfTheirDay(t *testing.T) {
	const hour = 60
	for _, c := range []struct {
		name  string
		hours []int // of the cuts, after Monday 06:00
		turns float64
	}{
		{"in two shifts", []int{1, 7, 8, 15}, 2},
		{"in a night between shifts", []int{1, 17}, 2},
		{"in a night over two dates", []int{17, 20}, 2},
		{"before and after the shifts of a date", []int{21, 41}, 1},
		{"on a Saturday", []int{5*24 + 1, 5*24 + 9, 5*24 + 16}, 1},
		{"on a Saturday and a Sunday", []int{5*24 + 1, 6*24 + 1}, 2},
		{"in the same shift of two weeks", []int{1, 7*24 + 1}, 2},
	} {
		t.Run(c.name, func(t *testing.T) {
			db := emptyStore(t)
			keep(t, db, hang("s1", 0, "A"))
			for _, h := range c.hours {
				keep(t, db, cut("s1", h*hour, "1018", 4))
			}
			near(t, "the work of a turn", gather(t, db, 10*24*hour).Saws[0].Shift, 10*float64(len(c.hours))/c.turns)
		})
	}
}

// Without shifts the shop works around the clock, in three of them.
func TestShiftsNobodyConfigured(t *testing.T) {
	db := emptyStore(t)
	keep(t, db, hang("s1", 0, "A"), cut("s1", 5, "1018", 4), cut("s1", 17*60, "1018", 4), cut("s1", 20*60, "1018", 4))
	cfg := example(t)
	cfg.Shifts = nil
	d, err := Gather(t.Context(), db, cfg, "", minute(24*60))
	if err != nil {
		t.Fatal(err)
	}
	near(t, "the work of a shift", d.Saws[0].Shift, 30.0/2)
}

func TestASawThatIsNotThere(t *testing.T) {
	db := emptyStore(t)
	keep(t, db, cut("s1", 5, "1018", 4), cut("s2", 5, "1018", 4))
	_, err := Gather(t.Context(), db, example(t), "s9", minute(60))
	if !errors.Is(err, ErrNoSaw) || err.Error() != `there is no such saw: "s9", allowed is s1, s2` {
		t.Errorf("error %v", err)
	}
}
