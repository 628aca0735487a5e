package store_test

import (
	"bytes"
	"context"
	"encoding/csv"
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

func export(t testing.TB, s *store.Store, what string) [][]string {
	t.Helper()
	var b bytes.Buffer
	if err := s.Export(context.Background(), what, &b); err != nil {
		t.Fatal(err)
	}
	rows, err := csv.NewReader(&b).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	return rows
}

func TestRepeatsChangeNothing(t *testing.T) {
	s := open(t)
	day := []*analyze.Reading{
		numbered(fit("s1", 0, "A"), 0), numbered(cut("s1", 5, "A"), 1), numbered(state("s1", 6, "stopped", "chips"), 2),
		{Saw: "s1", Kind: analyze.KindAlive, Seq: ptr(int64(3)), At: minute(7), Received: minute(7), Alive: &analyze.Alive{Online: true}},
		numbered(pass(analyze.KindTrip, "s1", 8, "A"), 4),
	}
	day[1].Extra = []byte(`{"operator_note":"x"}`)
	for i, o := range put(t, s, day...) {
		if o != analyze.Stored {
			t.Errorf("reading %d: %s", i, o)
		}
	}
	before, cursor := derived(t, s, ""), must(s.Cursor(t.Context()))
	for _, r := range day {
		r.Received = r.Received.Add(time.Hour)
	}
	for i, o := range put(t, s, day...) {
		if o != analyze.Duplicate {
			t.Errorf("reading %d again: %s", i, o)
		}
	}
	if diff := cmp.Diff(before, derived(t, s, "")); diff != "" {
		t.Error(diff)
	}
	if now := must(s.Cursor(t.Context())); now != cursor {
		t.Errorf("cursor %d, then %d: nothing was stored", cursor, now)
	}
}

func must[T any](x T, err error) T {
	if err != nil {
		panic(err)
	}
	return x
}

func TestSameIdentityOtherContent(t *testing.T) {
	s := open(t)
	put(t, s, fit("s1", 0, "A"), cut("s1", 5, "A"), state("s1", 6, "stopped", "chips"))
	other := cut("s1", 5, "A")
	other.Cut.Deviation = ptr(0.01)
	more := cut("s1", 5, "A")
	more.Extra = []byte(`{"x":1}`)
	trip := pass(analyze.KindTrip, "s1", 5, "A")
	trip.ID = other.ID
	fitB := fit("s1", 0, "B")
	fitB.ID = "fit-0-A"
	for name, r := range map[string]*analyze.Reading{
		"cut": other, "extra": more, "trip for cut": trip, "state": state("s1", 6, "stopped", "coolant"), "blade": fitB,
	} {
		if o := put(t, s, r)[0]; o != analyze.Rejected {
			t.Errorf("%s: %s", name, o)
		}
	}
	if got := ledger(t, s); !cmp.Equal(got, []string{"s1 A 0-on message cuts=1 area=12"}) {
		t.Error(got)
	}
	list := must(s.Rejected(t.Context(), store.RejectedFilter{Code: analyze.RejectReused}))
	if len(list) == 0 {
		t.Error("nothing was kept")
	}
}

func TestRetainedEvents(t *testing.T) {
	retained := func(r *analyze.Reading) analyze.Arrival {
		r.Retained = true
		return analyze.Arrival{Reading: r, Topic: "saws/s1/" + string(r.Kind), Payload: []byte(r.ID)}
	}
	s := open(t)
	put(t, s, fit("s1", 0, "A"), cut("s1", 5, "A"))
	out := must(s.Append(t.Context(), []analyze.Arrival{
		retained(cut("s1", 5, "A")), retained(cut("s1", 9, "A")), retained(state("s1", 9, "idle", "")), retained(fit("s1", 9, "B")),
	}))
	want := []analyze.Outcome{analyze.Duplicate, analyze.Rejected, analyze.Stored, analyze.Rejected}
	if diff := cmp.Diff(want, out); diff != "" {
		t.Error(diff)
	}
	decode := func(topic string, payload []byte, retained bool, received time.Time) analyze.Arrival {
		if topic == "saws/s1/cut" && string(payload) == "cut-9" && !retained {
			r := cut("s1", 9, "A")
			r.Received = received
			return analyze.Arrival{Reading: r}
		}
		return analyze.Arrival{Rejection: &analyze.Rejection{Topic: topic}}
	}
	for _, c := range []struct {
		name          string
		filter        store.RejectedFilter
		tried, stored int
	}{
		{"a sweep leaves them alone", store.RejectedFilter{}, 0, 0},
		{"named, the readable one is stored", store.RejectedFilter{Code: analyze.RejectRetained}, 2, 1},
		{"a second retry finds only the other one", store.RejectedFilter{Code: analyze.RejectRetained}, 1, 0},
	} {
		tried, stored, err := s.RetryRejected(t.Context(), c.filter, decode, minute(30))
		if err != nil || tried != c.tried || stored != c.stored {
			t.Errorf("%s: tried %d, stored %d, %v; want %d and %d", c.name, tried, stored, err, c.tried, c.stored)
		}
	}
	if got := ledger(t, s); !cmp.Equal(got, []string{"s1 A 0-on message cuts=2 area=24"}) {
		t.Error(got)
	}
	all := must(s.Rejected(t.Context(), store.RejectedFilter{All: true}))
	if len(all) != 2 || !all[0].Retried.Equal(minute(30)) || !all[1].Retried.IsZero() {
		t.Errorf("%+v", all)
	}
}

func TestRejectedAreCountedNotPiledUp(t *testing.T) {
	s := open(t)
	bad := func(payload string, size int, at int) analyze.Arrival {
		return analyze.Arrival{Rejection: &analyze.Rejection{
			Topic: "saws/s1/cut", Payload: []byte(payload), Size: size, Received: minute(at), Code: analyze.RejectJSON, Reason: "no object",
		}}
	}
	for i, a := range []analyze.Arrival{bad("{", 1, 0), bad("{", 1, 5), bad("[", 1, 6), bad("{", 900, 7)} {
		if o := must(s.Append(t.Context(), []analyze.Arrival{a})); o[0] != analyze.Rejected {
			t.Errorf("%d: %s", i, o)
		}
	}
	list := must(s.Rejected(t.Context(), store.RejectedFilter{}))
	if len(list) != 3 || list[0].Times != 2 || !list[0].Received.Equal(minute(0)) || !list[0].Last.Equal(minute(5)) || !list[2].Truncated() {
		t.Errorf("%+v", list)
	}
	tried, stored, err := s.RetryRejected(t.Context(), store.RejectedFilter{}, func(string, []byte, bool, time.Time) analyze.Arrival {
		return analyze.Arrival{Reading: cut("s1", 1, "")}
	}, minute(9))
	if err != nil || tried != 2 || stored != 2 {
		t.Errorf("tried %d, stored %d, %v: the head of a message is not the message", tried, stored, err)
	}
}

// TestAllOrNothing: what fails at its last statement leaves nothing, not even
// in memory, and succeeds when it is tried again.
func TestAllOrNothing(t *testing.T) {
	s := open(t)
	put(t, s, fit("s1", 0, "A"), cut("s1", 1, ""))
	before := derived(t, s, "")
	if err := s.FailNextCommit(); err != nil {
		t.Fatal(err)
	}
	batch := arrivals(cut("s1", 2, ""), fit("s1", 3, "B"), cut("s1", 4, ""), cut("s2", 4, "Z"))
	if _, err := s.Append(t.Context(), batch); err == nil {
		t.Fatal("no error")
	}
	if diff := cmp.Diff(before, derived(t, s, "")); diff != "" {
		t.Error(diff)
	}
	if err := s.Mend(); err != nil {
		t.Fatal(err)
	}
	for _, o := range must(s.Append(t.Context(), batch)) {
		if o != analyze.Stored {
			t.Error(o)
		}
	}
	want := []string{
		"s1 A 0-3 unknown message cuts=2 area=24", "s1 B 3-on message cuts=1 area=12", "s2 Z <4-on cut cuts=1 area=12",
	}
	if diff := cmp.Diff(want, ledger(t, s)); diff != "" {
		t.Error(diff)
	}
	if _, err := s.Append(t.Context(), []analyze.Arrival{{}}); err == nil {
		t.Error("an arrival of nothing was taken")
	}
}

// TestReopenedStoreGoesOn: nothing that matters lives only in memory.
func TestReopenedStoreGoesOn(t *testing.T) {
	path := filepath.Join(t.TempDir(), "gullet.db")
	whole := open(t)
	for i := range 12 {
		r := numbered(cut("s1", i, fmt.Sprint("B", i/5)), int64(i+i/6))
		put(t, whole, r)
		s := openAt(t, path)
		put(t, s, r)
		if err := s.Close(); err != nil {
			t.Fatal(err)
		}
	}
	if diff := cmp.Diff(derived(t, whole, ""), derived(t, openAt(t, path), "")); diff != "" {
		t.Error(diff)
	}
}

func TestReadingWhileWriting(t *testing.T) {
	s := open(t)
	put(t, s, fit("s1", 0, "A"))
	done := make(chan error, 1)
	go func() {
		for i := range 50 {
			if _, err := s.Append(context.Background(), arrivals(cut("s1", i+1, "A"))); err != nil {
				done <- err
				return
			}
		}
		done <- nil
	}()
	for last := int64(0); ; {
		saws := must(s.Saws(t.Context()))
		f := saws[0].Fitting
		if f.Cuts < last || f.Area != float64(f.Cuts)*12 {
			t.Fatalf("%d cuts of %g in² after %d cuts", f.Cuts, f.Area, last)
		}
		last = f.Cuts
		select {
		case err := <-done:
			if err != nil {
				t.Fatal(err)
			}
			if n := must(s.Saws(t.Context()))[0].Fitting.Cuts; n != 50 {
				t.Errorf("%d cuts", n)
			}
			return
		default:
		}
	}
}

func TestSawRow(t *testing.T) {
	s := open(t)
	late := func(r *analyze.Reading, by time.Duration) *analyze.Reading {
		r.Received = r.At.Add(by)
		return r
	}
	will := &analyze.Reading{Saw: "s1", Kind: analyze.KindAlive, ID: "will", At: minute(0), Received: minute(40), Alive: &analyze.Alive{}}
	put(t, s,
		numbered(fit("s1", 0, "A"), 10), late(numbered(cut("s1", 5, "A"), 11), 3*time.Second),
		late(numbered(pass(analyze.KindTrip, "s1", 9, "A"), 14), 5*time.Second),
		late(state("s1", 8, "stopped", "chips"), 70*time.Second), // a backlog: its minute counts once, by the freshest
		will)
	row := must(s.Saws(t.Context()))[0]
	row.Fitting = nil
	want := store.SawRow{
		Name: "s1", State: analyze.StateChange{State: "stopped", Cause: "chips"}, StateSince: minute(8),
		Online: ptr(false), OnlineSince: minute(40), LastAt: minute(9), LastReceived: minute(40),
		Stop: &store.Stop{At: minute(9), Cause: "deviation-trip"}, Skew: 3 * time.Second, SkewMinutes: 3, Missing: 2,
		Counts: map[analyze.Kind]int64{"blade": 1, "cut": 1, "trip": 1, "state": 1, "alive": 1},
	}
	if diff := cmp.Diff(want, row); diff != "" {
		t.Error(diff)
	}
	pace := must(s.Pace(t.Context(), "s1", minute(5)))
	if pace.Area != 6 || pace.Passes != 1 || !pace.First.Equal(minute(9)) {
		t.Errorf("%+v", pace)
	}
	gaps := must(s.Gaps(t.Context()))
	wantGap := []store.SawGap{{Saw: "s1", SeqGap: analyze.SeqGap{First: 12, Last: 13, After: minute(5), Before: minute(9)}}}
	if diff := cmp.Diff(wantGap, gaps); diff != "" {
		t.Error(diff)
	}
}

func TestExports(t *testing.T) {
	s := open(t)
	put(t, s, fit("s1", 0, "A"), cut("s1", 5, "A"), pass("trip", "s1", 6, "A"), pass("break", "s1", 7, "A"),
		state("s1", 8, "stopped", "chips"), state("s1", 9, "cutting", ""), numbered(cut("s2", 1, ""), 1), numbered(cut("s2", 2, ""), 4))
	put(t, s, func() *analyze.Reading { r := cut("s1", 5, "A"); r.Cut.Mitre = 30; return r }())
	for what, rows := range map[string]int{
		"cuts": 3, "trips": 1, "breaks": 1, "fittings": 2, "stops": 1, "rejected": 1, "blades": 1, "gaps": 1, "corrections": 0, "explanations": 0, "alerts": 0, "messages": 0,
	} {
		got := export(t, s, what)
		if len(got) != rows+1 {
			t.Errorf("%s: %d rows, want %d", what, len(got)-1, rows)
		}
	}
	first := map[string]string{}
	cuts := export(t, s, "cuts")
	for i, name := range cuts[0] {
		first[name] = cuts[1][i]
	}
	for name, want := range map[string]string{
		"saw": "s1", "happened_at": "2026-03-02T06:05:00.000000Z", "area_in2": "12", "seq": "", "feed_in_min": "", "blade": "A",
	} {
		if first[name] != want {
			t.Errorf("%s is %q, want %q", name, first[name], want)
		}
	}
	if err := s.Export(t.Context(), "secrets", &bytes.Buffer{}); err == nil || !strings.Contains(err.Error(), "cuts, explanations, fittings") {
		t.Errorf("%v", err)
	}
}

// TestExportPages: no row is lost or doubled where one page ends.
func TestExportPages(t *testing.T) {
	s := open(t)
	var many []*analyze.Reading
	for i := range 4001 {
		many = append(many, cut("s1", i, ""))
	}
	put(t, s, many...)
	rows := export(t, s, "cuts")
	seen := map[string]bool{}
	for _, r := range rows[1:] {
		seen[r[0]] = true
	}
	if len(rows) != 4002 || len(seen) != 4001 {
		t.Errorf("%d rows, %d different", len(rows)-1, len(seen))
	}
}

// TestViewStandsStill: figures read one after the other agree, though readings
// come in between.
func TestViewStandsStill(t *testing.T) {
	s := open(t)
	put(t, s, fit("s1", 0, "A"), cut("s1", 5, "A"))
	err := s.View(t.Context(), func(v *store.Store) error {
		before := ledger(t, v)
		put(t, s, cut("s1", 9, "A"))
		if after := ledger(t, v); !cmp.Equal(before, after) {
			t.Errorf("the view moved from %q to %q", before, after)
		}
		if _, err := v.Append(t.Context(), nil); !errors.Is(err, store.ErrReadOnly) {
			t.Errorf("a view writes: %v", err)
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	if got := ledger(t, s); !cmp.Equal(got, []string{"s1 A 0-on message cuts=2 area=24"}) {
		t.Error(got)
	}
}

// TestLastWillIsNoReading: it says when the saw went, not that it spoke.
func TestLastWillIsNoReading(t *testing.T) {
	s := open(t)
	alive := func(saw string, at int, online bool) *analyze.Reading {
		return &analyze.Reading{Saw: saw, Kind: analyze.KindAlive, ID: fmt.Sprint("alive-", at), At: minute(at),
			Received: minute(at).Add(time.Second), Alive: &analyze.Alive{Online: online}}
	}
	put(t, s, alive("s1", 0, true), cut("s1", 5, ""), alive("s1", 60, false), alive("s2", 60, false))
	rows := must(s.Saws(t.Context()))
	for i, last := range []time.Time{minute(5), {}} {
		if r := rows[i]; !r.LastAt.Equal(last) || r.Online == nil || *r.Online || !r.OnlineSince.Equal(minute(60).Add(time.Second)) {
			t.Errorf("%s: last reading %s, online %v since %s", r.Name, r.LastAt, r.Online, r.OnlineSince)
		}
	}
}
