package store_test

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"gullet/analyze"
	"gullet/store"
)

// history is what History gives of s1.
func history(t testing.TB, s *store.Store, from, until time.Time) (list []store.HistoryRow) {
	t.Helper()
	err := s.History(t.Context(), "s1", from, until, func(h store.HistoryRow) error {
		list = append(list, h)
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return list
}

func TestHistoryRow(t *testing.T) {
	full := cut("s1", 5, "A")
	full.Cut.Deviation, full.Cut.Mitre, full.Cut.Count = ptr(-0.012), 60, 3
	bare := &analyze.Reading{
		Saw: "s1", Kind: analyze.KindCut, ID: "bare", At: minute(6), Received: minute(6),
		Cut: &analyze.Cut{Count: 1, Purpose: analyze.PurposePart},
	}
	trip := pass(analyze.KindTrip, "s1", 7, "")
	trip.Cut.Limit, trip.Cut.Deviation = ptr(0.1), ptr(0.14)
	untold := pass(analyze.KindBreak, "s1", 8, "")
	untold.Cut.Done, untold.Cut.Seconds = nil, ptr(20.0) // 6 in² at the pace of the first cut, 72 in² in 240 s

	s := open(t)
	put(t, s, full, bare, trip, untold)
	want := []store.HistoryRow{
		// 3 bars of 12 in² at 60° from square are 36 ÷ cos 60°.
		{At: minute(5), Kind: "cut", Area: ptr(72.0), Seconds: ptr(240.0), Deviation: ptr(-0.012), Height: ptr(4.0), Grade: "A36", Mitre: 60, Bars: 3},
		{At: minute(6), Kind: "cut", Bars: 1},
		{At: minute(7), Kind: "trip", Area: ptr(6.0), Seconds: ptr(240.0), Deviation: ptr(0.14), Limit: ptr(0.1), Height: ptr(4.0), Grade: "A36", Bars: 1},
		{At: minute(8), Kind: "break", Area: ptr(6.0), Seconds: ptr(20.0), Height: ptr(4.0), Grade: "A36", Bars: 1},
	}
	if diff := cmp.Diff(want, history(t, s, minute(0), minute(9)), nearly); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
	// A row that was kept is not written over by those after it.
	if list := history(t, s, minute(0), minute(9)); list[0].Area == list[2].Area || *list[0].Area < 71 {
		t.Errorf("kept rows share their numbers: %v", list)
	}
}

func TestHistoryOrder(t *testing.T) {
	at := func(minute int, seq int64, id string) *analyze.Reading {
		r := numbered(cut("s1", minute, ""), seq)
		r.ID, r.Cut.Grade = id, fmt.Sprint(minute, id)
		return r
	}
	s := open(t)
	put(t, s, at(7, 1, "a"), at(5, 3, "b"), at(5, 3, "a"), at(5, 2, "c"), at(4, 9, "a"), at(8, 1, "a"), at(6, 1, "a"),
		cut("s2", 6, ""), fit("s1", 6, "A"), state("s1", 6, analyze.StateIdle, ""))
	for name, tc := range map[string]struct {
		from, until time.Time
		want        string
	}{
		"by time, running number and id":        {minute(0), minute(99), "4a 5c 5a 5b 6a 7a 8a"},
		"after the first time":                  {minute(4), minute(99), "5c 5a 5b 6a 7a 8a"},
		"up to the second, that one too":        {minute(5), minute(7), "6a 7a"},
		"to the microsecond":                    {minute(5).Add(-time.Microsecond), minute(7).Add(-time.Microsecond), "5c 5a 5b 6a"},
		"from the zero time":                    {time.Time{}, minute(4), "4a"},
		"by the clock of another zone":          {minute(4).In(time.FixedZone("", -6*3600)), minute(5), "5c 5a 5b"},
		"nothing between a time and itself":     {minute(5), minute(5), ""},
		"nothing between a time and an earlier": {minute(6), minute(5), ""},
	} {
		t.Run(name, func(t *testing.T) {
			var got []string
			for _, h := range history(t, s, tc.from, tc.until) {
				got = append(got, h.Grade)
			}
			if got := strings.Join(got, " "); got != tc.want {
				t.Errorf("%s, want %s", got, tc.want)
			}
		})
	}
}

// TestHistoryIdle: the trip is at minute 10.
func TestHistoryIdle(t *testing.T) {
	again := func(seq int64, st analyze.State) *analyze.Reading {
		r := numbered(state("s1", 9, st, ""), seq)
		r.ID = fmt.Sprint(seq)
		return r
	}
	for name, tc := range map[string]struct {
		states []*analyze.Reading
		want   bool
	}{
		"no state readings":                    {nil, false},
		"cutting":                              {[]*analyze.Reading{state("s1", 9, "cutting", "")}, false},
		"idle":                                 {[]*analyze.Reading{state("s1", 9, "idle", "")}, true},
		"stopped":                              {[]*analyze.Reading{state("s1", 9, "stopped", "")}, true},
		"off":                                  {[]*analyze.Reading{state("s1", 9, "off", "")}, true},
		"idle, then cutting":                   {[]*analyze.Reading{state("s1", 7, "idle", ""), state("s1", 9, "cutting", "")}, false},
		"cutting, then idle":                   {[]*analyze.Reading{state("s1", 7, "cutting", ""), state("s1", 9, "idle", "")}, true},
		"stopped by the trip at that moment":   {[]*analyze.Reading{state("s1", 7, "cutting", ""), state("s1", 10, "stopped", "")}, false},
		"stopped after it":                     {[]*analyze.Reading{state("s1", 11, "stopped", "")}, false},
		"two at once, the second says idle":    {[]*analyze.Reading{again(2, "idle"), again(1, "cutting")}, true},
		"two at once, the second says cutting": {[]*analyze.Reading{again(2, "cutting"), again(1, "idle")}, false},
		"another saw is idle":                  {[]*analyze.Reading{state("s1", 8, "cutting", ""), state("s2", 9, "idle", "")}, false},
		"idle since before the first time":     {[]*analyze.Reading{state("s1", 1, "idle", "")}, true},
	} {
		t.Run(name, func(t *testing.T) {
			s := open(t)
			put(t, s, append(tc.states, pass(analyze.KindTrip, "s1", 10, ""), cut("s1", 12, ""), pass(analyze.KindBreak, "s1", 13, ""))...)
			list := history(t, s, minute(5), minute(20))
			if len(list) != 3 || list[0].Idle != tc.want {
				t.Errorf("%+v, want a trip with idle %t", list, tc.want)
			}
			if list[1].Idle || list[2].Idle {
				t.Error("a cut or a break is marked as idle")
			}
		})
	}
}

func TestHistoryEnds(t *testing.T) {
	s := open(t)
	put(t, s, cut("s1", 5, ""), cut("s1", 6, ""), cut("s1", 7, ""))
	enough, rows := errors.New("enough"), 0
	count := func(h store.HistoryRow) error {
		if rows++; h.At.Equal(minute(6)) {
			return enough
		}
		return nil
	}
	if err := s.History(t.Context(), "s1", t0, minute(9), count); !errors.Is(err, enough) || rows != 2 {
		t.Errorf("after the second row's error: %d rows, %v", rows, err)
	}
	rows = 0
	if err := s.History(t.Context(), "s9", t0, minute(9), count); err != nil || rows != 0 {
		t.Errorf("of a saw nobody knows: %d rows, %v", rows, err)
	}
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	if err := s.History(ctx, "s1", t0, minute(9), count); !errors.Is(err, context.Canceled) || rows != 0 {
		t.Errorf("cancelled: %d rows, %v", rows, err)
	}
}

// TestHistoryInView: what is written while the rows are read is not among them.
func TestHistoryInView(t *testing.T) {
	s := open(t)
	put(t, s, cut("s1", 5, ""), pass(analyze.KindTrip, "s1", 6, ""))
	rows := 0
	err := s.View(t.Context(), func(v *store.Store) error {
		return v.History(t.Context(), "s1", t0, minute(99), func(store.HistoryRow) error {
			rows++
			put(t, s, cut("s1", 10+rows, ""))
			return nil
		})
	})
	if err != nil || rows != 2 {
		t.Errorf("%d rows, %v; want 2", rows, err)
	}
}

// TestHistoryPlan: a saw's passes are found by their index and come out in its
// order, without a sort; so does the state before a trip.
func TestHistoryPlan(t *testing.T) {
	path := filepath.Join(t.TempDir(), "gullet.db")
	openAt(t, path)
	db, err := sql.Open("sqlite3", path)
	if err != nil {
		t.Fatal(err)
	}
	defer func() { _ = db.Close() }()
	rows, err := db.QueryContext(t.Context(), `EXPLAIN QUERY PLAN `+store.HistoryQuery, "s1", 0, 1)
	if err != nil {
		t.Fatal(err)
	}
	defer func() { _ = rows.Close() }()
	var plan strings.Builder
	for rows.Next() {
		var id, parent, unused int
		var step string
		if err := rows.Scan(&id, &parent, &unused, &step); err != nil {
			t.Fatal(err)
		}
		fmt.Fprintln(&plan, step)
	}
	if err := rows.Err(); err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{
		"SEARCH p USING INDEX sqlite_autoindex_pass_1 (saw_id=? AND at>? AND at<?)",
		"SEARCH e USING INDEX sqlite_autoindex_state_event_1 (saw_id=? AND at<?)",
	} {
		if !strings.Contains(plan.String(), want) {
			t.Errorf("%s is not in the plan:\n%s", want, plan.String())
		}
	}
	for _, bad := range []string{"SCAN", "TEMP B-TREE"} {
		if strings.Contains(plan.String(), bad) {
			t.Errorf("%s is in the plan:\n%s", bad, plan.String())
		}
	}
}

func TestPassBack(t *testing.T) {
	s := open(t)
	put(t, s, cut("s1", 5, "A"), cut("s1", 6, "A"), cut("s2", 7, "A"), cut("s1", 8, "A"), cut("s1", 9, "A"))
	for _, c := range []struct {
		saw      string
		until, n int
		want     int
		has      bool
	}{
		{"s1", 9, 2, 6, true},
		{"s1", 8, 2, 5, true},
		{"s1", 9, 4, 0, false},
		{"s9", 9, 1, 0, false},
	} {
		at, ok, err := s.PassBack(t.Context(), c.saw, minute(c.until), c.n)
		if err != nil || ok != c.has || ok && !at.Equal(minute(c.want)) {
			t.Errorf("before the last %d of %s: %v, %v, %v: want minute %d, %v", c.n, c.saw, at, ok, err, c.want, c.has)
		}
	}
}

// What a fitting had done by a time is what it would have been told to have done if it
// had ended then; by its end it is its totals.
func TestTotalsUpToATime(t *testing.T) {
	other := cut("s1", 7, "A")
	other.Cut.Grade, other.Cut.BandSpeed = "1018", nil
	s := open(t)
	put(t, s, fit("s1", 4, "A"), cut("s1", 5, "A"), cut("s2", 5, "B"), pass(analyze.KindTrip, "s1", 6, "A"), other, remove("s1", 8, "A", analyze.ReasonDull))
	totals := func(from, until int) []analyze.GradeTotal {
		list, err := s.Totals(t.Context(), "s1", minute(from), minute(until))
		if err != nil {
			t.Fatal(err)
		}
		return list
	}
	rows, err := s.Fittings(t.Context(), time.Time{})
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(rows[0].Totals, totals(4, 8), nearly); diff != "" {
		t.Errorf("by its end (-fitting +totals):\n%s", diff)
	}
	// 12 in² in 240 s at 250 ft/min is 1,000 ft of band; the trip half way is told as half
	// the area and all of the time.
	want := []analyze.GradeTotal{{Grade: "A36", Area: 18, Cuts: 2, Seconds: 480, Travel: 2000}}
	if diff := cmp.Diff(want, totals(4, 6), nearly); diff != "" {
		t.Errorf("by the trip (-want +got):\n%s", diff)
	}
	if list := totals(8, 9); len(list) != 0 {
		t.Errorf("after its end %+v, want nothing", list)
	}
}
