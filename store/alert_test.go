package store_test

import (
	"context"
	"errors"
	"fmt"
	"math"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
	"pgregory.net/rapid"

	"gullet/analyze"
	"gullet/analyze/alert"
	"gullet/store"
)

// raised is a condition that was raised at a minute.
func raised(id int64, saw string, at int) alert.Condition {
	return alert.Condition{
		ID: id, Key: alert.Key{Kind: alert.LimitReached, Saw: saw, Of: "A"}, Severity: alert.Warning,
		Since: minute(at - 1), First: minute(at - 1), Raised: minute(at), Level: 1.25, Mark: "m", Version: 1, Changed: minute(at),
		Words: alert.Words{What: "deviation 0.025 in", Check: []string{"guides", "coolant"}, Risky: true}, Reason: "at the limit",
		Told: map[string]alert.Told{"fitters": {Version: 1, At: minute(at)}},
	}
}

func message(channel, key string, at int) alert.Message {
	return alert.Message{
		Channel: channel, Key: key, Thread: "t", At: minute(at), Expires: minute(at + 60), Severity: alert.Warning,
		Items:    []alert.Item{{Condition: 1, Version: 1, Phase: alert.PhaseRaised, Level: 1.25, Unit: "share of the limit", Raised: minute(at)}},
		Standing: map[string]int{"warning": 1},
	}
}

func became(id int64, what alert.Phase, at int) alert.Change {
	return alert.Change{ID: id, What: what, At: minute(at), Level: 1.25, Reason: fmt.Sprintf("reason %d", at)}
}

func decide(t testing.TB, s *store.Store, d store.Decision) {
	t.Helper()
	if err := s.Decide(context.Background(), d); err != nil {
		t.Fatal(err)
	}
}

func note(condition int64, action alert.NoteAction, at, until int) alert.Note {
	n := alert.Note{Condition: condition, Action: action, Who: "Foreman", Why: "seen", At: minute(at)}
	if action == alert.Snooze {
		n.Until = minute(until)
	}
	return n
}

func noteAlert(t testing.TB, s *store.Store, n alert.Note) alert.Note {
	t.Helper()
	id, err := s.NoteAlert(context.Background(), n)
	if err != nil {
		t.Fatal(err)
	}
	n.ID = id
	return n
}

func alertState(t testing.TB, s *store.Store) store.AlertState {
	t.Helper()
	state, err := s.AlertState(context.Background())
	if err != nil {
		t.Fatal(err)
	}
	return state
}

func wantState(t testing.TB, s *store.Store, want store.AlertState) {
	t.Helper()
	if diff := cmp.Diff(want, alertState(t, s), cmpopts.EquateEmpty()); diff != "" {
		t.Errorf("state, -want +got:\n%s", diff)
	}
}

func TestWhatWasDecidedIsWhereItGoesOn(t *testing.T) {
	path := filepath.Join(t.TempDir(), "gullet.db")
	s := openAt(t, path)
	wantState(t, s, store.AlertState{})
	one, two, waiting := raised(1, "s1", 10), raised(2, "", 11), raised(3, "never-heard", 12)
	waiting.Raised, waiting.Told = time.Time{}, nil
	decide(t, s, store.Decision{Conditions: []alert.Condition{one, two, waiting}, Changes: []alert.Change{became(1, alert.PhaseRaised, 10)}})
	wantState(t, s, store.AlertState{Conditions: []alert.Condition{one, two, waiting}, Last: 3})

	// A condition that is over stays until nobody needs to be told any more.
	first, second := noteAlert(t, s, note(1, alert.Acknowledge, 13, 0)), noteAlert(t, s, note(2, alert.Snooze, 14, 30))
	one.Cleared, one.Version, one.Acknowledged = minute(20), 2, &first
	decide(t, s, store.Decision{Conditions: []alert.Condition{one}, Closed: []int64{3}, Notes: 2})
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	s = openAt(t, path)
	wantState(t, s, store.AlertState{Conditions: []alert.Condition{one, two}, Last: 3, Notes: []alert.Note{first, second}, Newest: 2})
	decide(t, s, store.Decision{Closed: []int64{1, 2}, Notes: 2})
	wantState(t, s, store.AlertState{Last: 3, Newest: 2})
}

// TestADecisionWakesNobody: a reader that decides on what is new would decide on its
// own decisions, and what is summed up of the days does not depend on them.
func TestADecisionWakesNobody(t *testing.T) {
	s := open(t)
	put(t, s, fit("s1", 0, "A"))
	before, err := s.Cursor(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	decide(t, s, store.Decision{
		Conditions: []alert.Condition{raised(1, "s1", 1)}, Changes: []alert.Change{became(1, alert.PhaseRaised, 1)},
		Messages: []alert.Message{message("fitters", "1/1", 1), message("fitters", "1/2", 1)},
	})
	noteAlert(t, s, note(1, alert.Acknowledge, 2, 0))
	for _, err := range []error{
		s.Failed(t.Context(), 1, minute(3), minute(4), "no"), s.Sent(t.Context(), 1, minute(4)), s.Drop(t.Context(), 2, minute(4), "no"),
	} {
		if err != nil {
			t.Fatal(err)
		}
	}
	if after, _ := s.Cursor(t.Context()); after != before {
		t.Errorf("the cursor moved from %v to %v", before, after)
	}
}

// TestANoteThatCameBetweenIsNotOverlooked: whoever noted something after the decision
// was begun is heard before it is written.
func TestANoteThatCameBetweenIsNotOverlooked(t *testing.T) {
	s := open(t)
	decide(t, s, store.Decision{Conditions: []alert.Condition{raised(1, "s1", 1)}})
	noteAlert(t, s, note(1, alert.Acknowledge, 2, 0))
	before := alertState(t, s)
	late := store.Decision{
		Conditions: []alert.Condition{raised(1, "s1", 1), raised(2, "s1", 5)}, Changes: []alert.Change{became(1, alert.PhaseUpdated, 5)},
		Messages: []alert.Message{message("fitters", "1/2", 5)}, Closed: []int64{1},
	}
	if err := s.Decide(t.Context(), late); !errors.Is(err, store.ErrStale) {
		t.Errorf("error %v, want that it is stale", err)
	}
	wantState(t, s, before)
	wantDue(t, s, minute(100), 10)
	late.Notes = before.Newest
	decide(t, s, late)
	wantDue(t, s, minute(100), 10, "fitters 1/2")
}

// TestADecisionIsWrittenWholeOrNotAtAll: wherever in a decision the write fails,
// nothing of it is there, and it can be written once what was wrong is mended.
func TestADecisionIsWrittenWholeOrNotAtAll(t *testing.T) {
	s := open(t)
	last := int64(0)
	rapid.Check(t, func(t *rapid.T) {
		d := store.Decision{}
		for range rapid.IntRange(1, 4).Draw(t, "conditions") {
			last++
			d.Conditions = append(d.Conditions, raised(last, "s1", int(last)))
			d.Changes = append(d.Changes, became(last, alert.PhaseRaised, int(last)))
			d.Messages = append(d.Messages, message("fitters", fmt.Sprintf("%d/1", last), int(last)))
		}
		if first := d.Conditions[0].ID; first > 1 {
			d.Closed = []int64{first - 1}
		}
		before := everything(t, s)
		i := rapid.IntRange(0, len(d.Conditions)-1).Draw(t, "where")
		bad := d
		fails := []string{"condition", "change", "message"}
		if len(d.Closed) > 0 {
			fails = append(fails, "closed")
		}
		switch rapid.SampledFrom(fails).Draw(t, "what fails") {
		case "condition":
			bad.Conditions = append([]alert.Condition(nil), d.Conditions...)
			bad.Conditions[i].Level = math.NaN()
		case "change":
			bad.Changes = append([]alert.Change(nil), d.Changes...)
			bad.Changes[i].ID = 1 << 40 // of no condition
		case "message":
			bad.Messages = append([]alert.Message(nil), d.Messages...)
			bad.Messages[i].Items = []alert.Item{{Level: math.Inf(1)}}
		case "closed":
			if err := s.FailNextClose(); err != nil {
				t.Fatal(err)
			}
		}
		if err := s.Decide(context.Background(), bad); err == nil {
			t.Fatal("written")
		}
		if diff := cmp.Diff(before, everything(t, s)); diff != "" {
			t.Fatalf("something of a failed decision is there:\n%s", diff)
		}
		_ = s.Mend()
		if err := s.Decide(context.Background(), d); err != nil {
			t.Fatal(err)
		}
		after := everything(t, s)
		if err := s.Decide(context.Background(), store.Decision{Messages: d.Messages}); err != nil {
			t.Fatal(err)
		}
		if diff := cmp.Diff(after, everything(t, s)); diff != "" || cmp.Equal(before, after) {
			t.Fatalf("decided twice, told twice, or not told at all:\n%s", diff)
		}
	})
}

// everything is all that decisions write.
func everything(t *rapid.T, s *store.Store) map[string]any {
	rows, err := s.Alerts(context.Background(), store.AlertFilter{})
	state, err2 := s.AlertState(context.Background())
	due, err3 := s.Due(context.Background(), minute(1e6), 1e6)
	if err := errors.Join(err, err2, err3); err != nil {
		t.Fatal(err)
	}
	return map[string]any{"alerts": rows, "state": state, "due": due}
}

func TestAlertsAreListed(t *testing.T) {
	s := open(t)
	over, waiting := raised(2, "s2", 11), raised(4, "s1", 13)
	over.Cleared, waiting.Raised = minute(20), time.Time{}
	decide(t, s, store.Decision{
		Conditions: []alert.Condition{raised(1, "s1", 10), over, raised(3, "", 12), waiting},
		Changes:    []alert.Change{became(2, alert.PhaseRaised, 11), became(1, alert.PhaseRaised, 10), became(2, alert.PhaseCleared, 20)},
		Closed:     []int64{2},
	})
	seen := noteAlert(t, s, note(1, alert.Acknowledge, 14, 0))
	for name, c := range map[string]struct {
		filter store.AlertFilter
		want   []int64
	}{
		"all that were raised, the newest first": {store.AlertFilter{}, []int64{3, 2, 1}},
		"those that stand":                       {store.AlertFilter{Open: true}, []int64{3, 1}},
		"of a saw":                               {store.AlertFilter{Saw: "s2"}, []int64{2}},
		"that stood at a time":                   {store.AlertFilter{Since: minute(20)}, []int64{3, 2, 1}},
		"that stood after it was over":           {store.AlertFilter{Since: minute(21)}, []int64{3, 1}},
		"that stand, since":                      {store.AlertFilter{Since: minute(1), Open: true}, []int64{3, 1}},
		"the newest two":                         {store.AlertFilter{Limit: 2}, []int64{3, 2}},
		"one":                                    {store.AlertFilter{ID: 1}, []int64{1}},
		"one that waits":                         {store.AlertFilter{ID: 4}, nil},
	} {
		t.Run(name, func(t *testing.T) {
			list, err := s.Alerts(t.Context(), c.filter)
			if err != nil {
				t.Fatal(err)
			}
			var got []int64
			for _, row := range list {
				got = append(got, row.ID)
			}
			if diff := cmp.Diff(c.want, got); diff != "" {
				t.Errorf("-want +got:\n%s", diff)
			}
		})
	}
	list, err := s.Alerts(t.Context(), store.AlertFilter{})
	if err != nil {
		t.Fatal(err)
	}
	want := []store.AlertRow{
		{Condition: raised(3, "", 12)},
		{Condition: over, Changes: []alert.Change{became(2, alert.PhaseRaised, 11), became(2, alert.PhaseCleared, 20)}},
		{Condition: raised(1, "s1", 10), Changes: []alert.Change{became(1, alert.PhaseRaised, 10)}, Notes: []alert.Note{seen}},
	}
	if diff := cmp.Diff(want, list); diff != "" {
		t.Errorf("-want +got:\n%s", diff)
	}
	var out strings.Builder
	if err := s.Export(t.Context(), "alerts", &out); err != nil {
		t.Fatal(err)
	}
	lines := strings.Split(out.String(), "\n")
	if want := "2,limit-reached,s2,A,warning,2026-03-02T06:11:00.000000Z,2026-03-02T06:20:00.000000Z,\"{\"\"id\"\":2,"; len(lines) != 5 || !strings.HasPrefix(lines[2], want) {
		t.Errorf("exported\n%s", out.String())
	}
}

func TestNotesAreRecordsInTheirOrder(t *testing.T) {
	s := open(t)
	decide(t, s, store.Decision{Conditions: []alert.Condition{raised(1, "s1", 1), raised(2, "s1", 1)}})
	month := 30 * 24 * 60
	want := []alert.Note{
		noteAlert(t, s, note(2, alert.Snooze, 5, 5+month)), noteAlert(t, s, note(1, alert.Acknowledge, 4, 0)), noteAlert(t, s, note(1, alert.Acknowledge, 6, 0)),
	}
	for after := range 4 {
		got, err := s.AlertNotes(t.Context(), int64(after))
		if err != nil {
			t.Fatal(err)
		}
		if diff := cmp.Diff(want[after:], got, cmpopts.EquateEmpty()); diff != "" {
			t.Errorf("after %d, -want +got:\n%s", after, diff)
		}
	}
}

func TestNotesRefused(t *testing.T) {
	s := open(t)
	over, waiting := raised(2, "s1", 1), raised(3, "s1", 1)
	over.Cleared, waiting.Raised = minute(3), time.Time{}
	decide(t, s, store.Decision{Conditions: []alert.Condition{raised(1, "s1", 1), over, waiting}})
	for name, c := range map[string]struct {
		change func(*alert.Note)
		want   string
	}{
		"nobody":            {func(n *alert.Note) { n.Who = " " }, "snooze alert 1: who says so and why are needed"},
		"for no reason":     {func(n *alert.Note) { n.Why = "" }, "snooze alert 1: who says so and why are needed"},
		"an endless reason": {func(n *alert.Note) { n.Why = strings.Repeat("x", 1001) }, "snooze alert 1: a text of 1001 bytes, at most 1000 are allowed"},
		"another action":    {func(n *alert.Note) { n.Action = "forget" }, "forget alert 1: it is none of acknowledge, snooze"},
		"no time":           {func(n *alert.Note) { n.At = time.Time{} }, "snooze alert 1: the time is missing"},
		"no end":            {func(n *alert.Note) { n.Until = n.At }, "snooze alert 1: until 2026-03-02T06:05:00Z, allowed is a time after 2026-03-02T06:05:00Z"},
		"for ever":          {func(n *alert.Note) { n.Until = n.At.Add(30*24*time.Hour + 1) }, "snooze alert 1: until 2026-04-01T06:05:00Z, allowed are up to 30 days"},
		"seen for a time":   {func(n *alert.Note) { n.Action = alert.Acknowledge }, "acknowledge alert 1: only a snooze has an end"},
		"unknown":           {func(n *alert.Note) { n.Condition = 9 }, "snooze alert 9: there is no such alert"},
		"that waits":        {func(n *alert.Note) { n.Condition = 3 }, "snooze alert 3: there is no such alert"},
		"that is over":      {func(n *alert.Note) { n.Condition = 2 }, "snooze alert 2: it is over since 2026-03-02T06:03:00Z"},
	} {
		t.Run(name, func(t *testing.T) {
			n := note(1, alert.Snooze, 5, 10)
			c.change(&n)
			if _, err := s.NoteAlert(t.Context(), n); err == nil || err.Error() != c.want {
				t.Errorf("error %v, want %s", err, c.want)
			}
		})
	}
	if got := alertState(t, s); got.Newest != 0 {
		t.Errorf("a refused note is kept: %+v", got.Notes)
	}
}

func TestRejectedSince(t *testing.T) {
	s := open(t)
	reject := func(topic string, at int) {
		t.Helper()
		_, err := s.Append(t.Context(), []analyze.Arrival{{Rejection: &analyze.Rejection{
			Topic: topic, Payload: []byte(topic), Code: analyze.RejectJSON, Reason: "no", Received: minute(at), Size: len(topic),
		}}})
		if err != nil {
			t.Fatal(err)
		}
	}
	for _, at := range []int{1, 2, 3, 9} {
		reject("often", at)
	}
	for range 5 {
		reject("new", 6)
	}
	reject("old", 4)
	for since, want := range map[int]int64{0: 10, 1: 10, 2: 7, 5: 6, 7: 1, 10: 0} {
		if got, err := s.RejectedSince(t.Context(), minute(since)); err != nil || got != want {
			t.Errorf("since minute %d: %d, %v, want %d", since, got, err, want)
		}
	}
	decode := func(topic string, _ []byte, _ bool, received time.Time) analyze.Arrival {
		if topic != "new" {
			return analyze.Arrival{Rejection: &analyze.Rejection{}}
		}
		return analyze.Arrival{Reading: fit("s1", 6, "A")}
	}
	if _, n, err := s.RetryRejected(t.Context(), store.RejectedFilter{}, decode, minute(20)); n != 1 || err != nil {
		t.Fatal(n, err)
	}
	if got, err := s.RejectedSince(t.Context(), minute(5)); err != nil || got != 1 {
		t.Errorf("stored by a retry and counted: %d, %v", got, err)
	}
}
