package vigil

import (
	"context"
	"errors"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"gullet/analyze"
	"gullet/analyze/alert"
)

// none marks a case in which there is no fact.
const none = -1

// TestQuick states the level and the words of each fact in each case.
func TestQuick(t *testing.T) {
	nan := math.NaN()
	blade := fit(0, "A")
	tenCuts := func(trips ...int) []*analyze.Reading {
		list := []*analyze.Reading{blade}
		for i := 1; i <= 12; i++ {
			if slices.Contains(trips, i) {
				list = append(list, trip(i))
				continue
			}
			list = append(list, cut(i, 10))
		}
		return list
	}
	skewed := func(n int, by time.Duration) (list []*analyze.Reading) {
		for i := range n {
			r := cut(i, 10)
			r.Received = r.At.Add(by)
			list = append(list, r)
		}
		return list
	}
	gap := func(minute int) []*analyze.Reading {
		return []*analyze.Reading{numbered(cut(minute-2, 10), 1), numbered(cut(minute, 10), 5)}
	}
	early := append(worn(9), fit(100, "A"), cut(101, 200), remove(102, "A", analyze.ReasonStripped))
	for _, c := range []struct {
		name     string
		kind     alert.Kind
		readings []*analyze.Reading
		now      time.Time
		level    float64
		what     string // part of it
		sure     string // part of it
		at       time.Time
	}{
		{"limit from the pass", alert.LimitReached, []*analyze.Reading{blade, limited(off(cut(1, 10), -0.03), 0.05)}, at(2), 0.6, "came to 60 % of the trip limit at 06:01 (-0.0300 in off, limit 0.0500 in)", "last 1 cut of this blade", at(1)},
		{"largest of the last three", alert.LimitReached, []*analyze.Reading{blade, limited(off(cut(1, 10), 0.05), 0.05), limited(off(cut(2, 10), 0.04), 0.05), limited(off(cut(3, 10), 0.01), 0.05), limited(off(cut(4, 10), 0.02), 0.05)}, at(5), 0.8, "at 06:02", "last 3 cuts", at(4)},
		{"a trip counts one", alert.LimitReached, []*analyze.Reading{blade, limited(off(trip(1), 0.04), 0.05)}, at(2), 1, "tripped on deviation at 06:01", "", at(1)},
		{"a trip beyond its limit", alert.LimitReached, []*analyze.Reading{blade, limited(off(trip(1), 0.06), 0.05)}, at(2), 1.2, "tripped on deviation", "", at(1)},
		{"of another blade", alert.LimitReached, []*analyze.Reading{blade, limited(off(trip(1), 0.06), 0.05), remove(2, "A", analyze.ReasonCrooked), fit(3, "B"), limited(off(cut(4, 10), 0.01), 0.05)}, at(5), 0.2, "20 %", "last 1 cut", at(4)},
		{"no deviation told", alert.LimitReached, []*analyze.Reading{blade, limited(cut(1, 10), 0.05)}, at(2), nan, "is not known", "none told a deviation", at(1)},
		{"no limit known", alert.LimitReached, []*analyze.Reading{on("s9", fit(0, "A")), on("s9", off(cut(1, 10), 0.05))}, at(2), nan, "is not known", "told a limit, and none is configured (saw.trip_limit)", at(1)},
		{"no cut on the blade", alert.LimitReached, []*analyze.Reading{blade}, at(2), none, "", "", time.Time{}},

		{"trips of the last ten", alert.RepeatedTrips, tenCuts(1, 4, 7, 8), at(13), 3, "3 of the last 10 cuts ended in a deviation trip, the last at 06:08", "n=10", at(12)},
		{"no trip", alert.RepeatedTrips, tenCuts(), at(13), none, "", "", time.Time{}},

		{"broke and bare", alert.BladeBreak, []*analyze.Reading{blade, cut(1, 10), broken(2, analyze.PlaceWeld)}, at(3), 1, "blade A broke at 06:02, and the saw has no other yet", "at the weld", at(2)},
		{"broke and another is on", alert.BladeBreak, []*analyze.Reading{blade, broken(2, analyze.PlaceWeld), fit(5, "B")}, at(6), none, "", "", time.Time{}},
		{"broke and cuts again", alert.BladeBreak, []*analyze.Reading{blade, broken(2, analyze.PlaceWeld), cut(9, 10)}, at(10), none, "", "", time.Time{}},
		{"broke long ago", alert.BladeBreak, []*analyze.Reading{blade, broken(2, analyze.PlaceWeld)}, at(2 + 24*60 + 1), none, "", "", time.Time{}},
		{"pulled crooked", alert.BladeBreak, []*analyze.Reading{blade, cut(1, 10), remove(2, "A", analyze.ReasonCrooked)}, at(3), none, "", "", time.Time{}},

		{"no other blade", alert.EarlyEnd, []*analyze.Reading{blade, cut(1, 10), broken(2, "")}, at(3), nan, "blade A ended (broke) after 15 weighted in²; whether that is early is not known", "no other blade of its type", at(2)},
		{"changed as planned", alert.EarlyEnd, []*analyze.Reading{blade, cut(1, 10), remove(2, "A", analyze.ReasonPlanned)}, at(3), none, "", "", time.Time{}},
		{"early by the day after", alert.EarlyEnd, early, at(102 + 24*60), 0.2032, "blade A ended (stripped) after 200 weighted in², 20 % of the 984 that nine in ten of its type reach", "n=9 other blades of T, 9 ended", at(102)},
		{"early, two days ago", alert.EarlyEnd, early, at(103 + 24*60), none, "", "", time.Time{}},

		{"stands for no cause", alert.UnexplainedStop, []*analyze.Reading{alive(0, true), cut(5, 10), said(5, analyze.StateStopped, "")}, at(40), 35, "the saw stands since 06:05, 35 min of its shifts, and nobody said why", "last heard of at 06:05", time.Time{}},
		{"stands for a cause", alert.UnexplainedStop, []*analyze.Reading{alive(0, true), cut(5, 10), said(5, analyze.StateStopped, "fault")}, at(40), none, "", "", time.Time{}},
		{"cuts", alert.UnexplainedStop, []*analyze.Reading{alive(0, true), said(1, analyze.StateStopped, ""), said(4, analyze.StateCutting, ""), cut(6, 10)}, at(7), none, "", "", time.Time{}},
		{"stands over the end of the shift", alert.UnexplainedStop, []*analyze.Reading{alive(0, true), cut(470, 10), said(470, analyze.StateStopped, "")}, at(600), 10, "10 min of its shifts", "", time.Time{}},
		{"stood when it was heard last", alert.UnexplainedStop, []*analyze.Reading{cut(5, 10), said(5, analyze.StateStopped, "")}, at(730), nan, "not known", "last heard of at 06:05", time.Time{}},

		{"out of stock", alert.OutOfStock, []*analyze.Reading{alive(0, true), cut(5, 10), said(5, analyze.StateStopped, "out-of-stock")}, at(25), 20, "for want of material (out-of-stock)", "", time.Time{}},
		{"waits for material", alert.OutOfStock, []*analyze.Reading{alive(0, true), cut(5, 10), said(5, analyze.StateIdle, "waiting-material")}, at(25), 20, "(waiting-material)", "", time.Time{}},

		{"silent", alert.Silent, []*analyze.Reading{cut(5, 10)}, at(25), 20, "no reading since 06:05, 20 min of its shifts", "newest reading", time.Time{}},
		{"its last will came", alert.Silent, []*analyze.Reading{cut(5, 10), alive(7, false)}, at(25), 20, "no reading since 06:05", "the broker lost it at 06:07", time.Time{}},
		{"switched off", alert.Silent, []*analyze.Reading{cut(5, 10), said(6, analyze.StateOff, ""), alive(7, false)}, at(25), none, "", "", time.Time{}},
		{"on again after it was off", alert.Silent, []*analyze.Reading{said(6, analyze.StateOff, ""), cut(9, 10)}, at(29), 20, "since 06:09", "", time.Time{}},
		{"outside of its shifts", alert.Silent, []*analyze.Reading{cut(5, 10)}, at(481), none, "", "", time.Time{}},
		{"over the night", alert.Silent, []*analyze.Reading{cut(475, 10)}, at(24*60 + 7), 12, "no reading since Mon 13:55, 12 min of its shifts", "", time.Time{}},
		{"for a week", alert.Silent, []*analyze.Reading{cut(5, 10)}, at(7*24*60 + 6), none, "", "", time.Time{}},

		{"clock behind", alert.ClockSkew, skewed(6, time.Minute), at(7), 60, "its clock is 60 s behind", "n=6 minutes", at(6)},
		{"clock ahead", alert.ClockSkew, skewed(6, -time.Minute), at(7), 60, "its clock is 60 s ahead", "n=6 minutes", at(4)},
		{"clock not known yet", alert.ClockSkew, skewed(4, time.Minute), at(5), nan, "not known", "too few minutes", at(3)},

		{"gap", alert.Missing, gap(3), at(9), 3, "3 readings are missing from its numbering in the last 24 h, the first after 06:01", "counted", at(3)},
		{"gap that may be filled yet", alert.Missing, gap(3), at(7), none, "", "", time.Time{}},
		{"gap of the day before", alert.Missing, gap(3), at(24*60 + 4), none, "", "", time.Time{}},
	} {
		t.Run(string(c.kind)+"/"+c.name, func(t *testing.T) {
			l := looker(t, c.readings...)
			saw := c.readings[len(c.readings)-1].Saw
			f := factOf(t, l.quick(t, c.now), c.kind, saw)
			if f == nil || c.level == none {
				if f != nil || c.level != none {
					t.Fatalf("fact %+v, want level %v", f, c.level)
				}
				return
			}
			if !(math.Abs(f.Level-c.level) < 1e-4*math.Max(1, c.level)) && !(math.IsNaN(f.Level) && math.IsNaN(c.level)) {
				t.Errorf("level %v, want %v", f.Level, c.level)
			}
			if !strings.Contains(f.Words.What, c.what) || !strings.Contains(f.Words.Sure, c.sure) {
				t.Errorf("says %q, sure %q; want %q, %q", f.Words.What, f.Words.Sure, c.what, c.sure)
			}
			if f.At.Sub(c.at).Abs() > 2*time.Second {
				t.Errorf("rests on a reading of %s, want %s", f.At, c.at)
			}
		})
	}
}

func TestRejectedAreOfTheLastHour(t *testing.T) {
	l := looker(t)
	var asked time.Time
	l.RejectedSince = func(_ context.Context, since time.Time) (int64, error) { asked = since; return 7, nil }
	f := factOf(t, l.quick(t, at(90)), alert.Rejected, "")
	if f == nil || f.Level != 7 || !asked.Equal(at(30)) || f.Words.What != "7 messages were rejected in the last hour" {
		t.Errorf("fact %+v of those since %s, want 7 since %s", f, asked, at(30))
	}
	l.RejectedSince = func(context.Context, time.Time) (int64, error) { return 0, nil }
	if f := factOf(t, l.quick(t, at(90)), alert.Rejected, ""); f != nil {
		t.Errorf("fact %+v, want none where none was rejected", f)
	}
	failed := errors.New("no such table")
	l.RejectedSince = func(context.Context, time.Time) (int64, error) { return 0, failed }
	if _, err := l.Quick(t.Context(), l.floor(t, at(90)), at(90)); !errors.Is(err, failed) {
		t.Errorf("error %v, want %v", err, failed)
	}
}

// TestHistoryIsOld has the readings of a bad morning replayed a month later: every fact
// that rests on them has their time, and of what a saw does now nothing is known until
// its history is through.
func TestHistoryIsOld(t *testing.T) {
	const month = 30 * 24 * time.Hour
	morning := func() []*analyze.Reading {
		return []*analyze.Reading{
			alive(0, true), fit(0, "A"), limited(off(cut(1, 10), 0.05), 0.05), trip(2), trip(3), trip(4), cut(5, 10), said(6, analyze.StateStopped, ""),
			on("s2", fit(0, "B")), on("s2", cut(1, 10)), on("s2", broken(2, "")),
		}
	}
	for _, c := range []struct {
		name string
		came func(r *analyze.Reading) time.Time
	}{
		{"in a burst", func(*analyze.Reading) time.Time { return at(10).Add(month) }},
		{"as fast as it happened", func(r *analyze.Reading) time.Time { return r.At.Add(month) }},
	} {
		t.Run(c.name, func(t *testing.T) {
			list := morning()
			for _, r := range list {
				r.Received = c.came(r)
			}
			l := looker(t, list...)
			for _, minute := range []int{10, 20} {
				look := l.quick(t, at(minute).Add(month))
				for _, kind := range []alert.Kind{alert.LimitReached, alert.RepeatedTrips, alert.UnexplainedStop} {
					if factOf(t, look, kind, "s1") == nil {
						t.Errorf("no fact of %s", kind)
					}
				}
				for i := range look.Facts {
					if f := &look.Facts[i]; f.At.IsZero() || f.At.After(at(10)) {
						t.Errorf("%s (%s) is of %s, want the time of the history", f.Key, f.Words.What, f.At)
					}
				}
			}
		})
	}
}

// A backlog of an hour comes in: the saw may stand or cut by now.
func TestWhileHistoryComesInNobodyKnows(t *testing.T) {
	l := looker(t, shifted(0, time.Hour, alive(0, true), cut(5, 10), said(5, analyze.StateStopped, ""))...)
	look := l.quick(t, at(65))
	for _, kind := range []alert.Kind{alert.Silent, alert.UnexplainedStop, alert.OutOfStock} {
		if f := factOf(t, look, kind, "s1"); f == nil || !math.IsNaN(f.Level) {
			t.Errorf("%s: %+v, want a level that is not known", kind, f)
		}
	}
	l.tell(t, said(66, analyze.StateCutting, ""), cut(67, 10))
	look = l.quick(t, at(68))
	if f := factOf(t, look, alert.Silent, "s1"); f == nil || math.Abs(f.Level-1) > 0.1 || !f.At.IsZero() {
		t.Errorf("once it is live: %+v, want 1 min, of now", f)
	}
	if f := factOf(t, look, alert.UnexplainedStop, "s1"); f != nil {
		t.Errorf("once it is live it cuts: %+v", f)
	}
}

// In a shop that configured no shifts nobody knows in which a saw works, before the first
// plan has looked.
func TestWithoutShiftsASilenceIsNotKnown(t *testing.T) {
	l := looker(t, cut(5, 10))
	l.Config.Shifts = nil
	if f := factOf(t, l.quick(t, at(60)), alert.Silent, "s1"); f == nil || !math.IsNaN(f.Level) {
		t.Errorf("%+v, want a level that is not known", f)
	}
	l.shifts.Store(shopConfig(t).Calendar())
	if f := factOf(t, l.quick(t, at(60)), alert.Silent, "s1"); f == nil || f.Level != 55 {
		t.Errorf("by the shifts of the plan: %+v, want 55 min", f)
	}
}

// A person's word on a stop is seen without a new reading.
func TestAnExplainedStopIsOver(t *testing.T) {
	l := looker(t, alive(0, true), cut(5, 10), said(5, analyze.StateStopped, ""))
	if f := factOf(t, l.quick(t, at(40)), alert.UnexplainedStop, "s1"); f == nil {
		t.Fatal("no unexplained stop")
	}
	explain(t, l, at(10), "waiting-crane", at(40))
	if f := factOf(t, l.quick(t, at(42)), alert.UnexplainedStop, "s1"); f != nil {
		t.Errorf("explained, and yet %+v", f)
	}
}

// The end of a blade is judged once, and anew when the ledger changes.
func TestAnEndIsJudgedOnce(t *testing.T) {
	list := append(worn(9), fit(100, "A"), cut(101, 200), remove(103, "A", analyze.ReasonStripped))
	l := looker(t, list...)
	f := l.floor(t, at(104))
	for range 2 {
		if _, err := l.Quick(t.Context(), f, at(104)); err != nil {
			t.Fatal(err)
		}
	}
	judged := l.ends
	if len(judged) != 10 {
		t.Fatalf("%d ends judged, want 10", len(judged))
	}
	l.tell(t, cut(102, 300)) // came late
	if e := factOf(t, l.quick(t, at(105)), alert.EarlyEnd, "s1"); e == nil || !strings.Contains(e.Words.What, "after 500 weighted") {
		t.Errorf("%+v, want the late cut in it", e)
	}
}

// A clock that is ten minutes ahead dates a stop into the future: it is seen at once all
// the same, and is as old as it is.
func TestAStopIsSeenByTheSawsClock(t *testing.T) {
	list := []*analyze.Reading{alive(10, true)}
	for i := range 6 {
		list = append(list, cut(10+i, 10))
	}
	list = append(list, said(16, analyze.StateStopped, ""))
	l := looker(t, shifted(0, -10*time.Minute, list...)...)
	f := factOf(t, l.quick(t, at(8)), alert.UnexplainedStop, "s1")
	if f == nil || math.Abs(f.Level-2) > 0.01 || !f.Since.Equal(at(6)) {
		t.Errorf("fact %+v, want a stop of 2 min since 06:06", f)
	}
}

// In a shop that configured no shifts nobody says that a saw which is off should run.
func TestASawThatIsOffMayBeOff(t *testing.T) {
	for state, want := range map[analyze.State]float64{analyze.StateOff: 0, analyze.StateStopped: 35} {
		l := looker(t, alive(0, true), cut(5, 10), said(5, state, ""))
		l.Config.Shifts = nil
		l.shifts.Store(shopConfig(t).Calendar())
		if f := factOf(t, l.quick(t, at(40)), alert.UnexplainedStop, "s1"); f == nil || f.Level != want {
			t.Errorf("%s: fact %+v, want %v min", state, f, want)
		}
	}
}
