package store_test

import (
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"gullet/analyze/alert"
	"gullet/store"
)

// wantDue compares what is due, "channel key" a message.
func wantDue(t testing.TB, s *store.Store, now time.Time, limit int, want ...string) []store.OutboxRow {
	t.Helper()
	list, err := s.Due(t.Context(), now, limit)
	if err != nil {
		t.Fatal(err)
	}
	var got []string
	for _, row := range list {
		got = append(got, row.Channel+" "+row.Key)
	}
	if strings.Join(got, ", ") != strings.Join(want, ", ") {
		t.Errorf("due at %s: %v, want %v", clock(now), got, want)
	}
	return list
}

func settle(t testing.TB, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}

func TestAMessageWaitsUntilItIsSentOrDropped(t *testing.T) {
	s := open(t)
	made := []alert.Message{message("office", "b", 1), message("fitters", "x", 2), message("office", "a", 3), message("office", "c", 5)}
	decide(t, s, store.Decision{Messages: made})
	wantDue(t, s, minute(0), 10)
	list := wantDue(t, s, minute(3), 10, "fitters x", "office b", "office a")
	wantDue(t, s, minute(9), 2, "fitters x", "office b", "office a") // of each channel so many
	want := store.OutboxRow{Message: made[1], NextTry: minute(2)}
	want.ID = 2
	if diff := cmp.Diff(want, list[0]); diff != "" {
		t.Errorf("-want +got:\n%s", diff)
	}

	settle(t, s.Failed(t.Context(), 1, minute(4), minute(6), "server said 503"))
	settle(t, s.Sent(t.Context(), 2, minute(4)))
	settle(t, s.Drop(t.Context(), 3, minute(4), "expired"))
	wantDue(t, s, minute(5), 10) // c is not to overtake b
	settle(t, s.Failed(t.Context(), 1, minute(6), minute(8), "server said 502"))
	again := wantDue(t, s, minute(9), 10, "office b", "office c")[0]
	if again.Tries != 2 || again.LastError != "server said 502" || !again.NextTry.Equal(minute(8)) {
		t.Errorf("%+v", again)
	}

	// What was told is not told again, whatever is decided.
	changed := message("fitters", "x", 7)
	decide(t, s, store.Decision{Messages: append(made, changed)})
	wantDue(t, s, minute(9), 10, "office b", "office c")

	var out strings.Builder
	settle(t, s.Export(t.Context(), "messages", &out))
	lines := strings.Split(strings.TrimSuffix(out.String(), "\n"), "\n")[1:]
	for i, want := range []string{
		`1,office,b,2026-03-02T06:01:00.000000Z,2026-03-02T07:01:00.000000Z,warning,0,2,2026-03-02T06:06:00.000000Z,server said 502,,,,"{`,
		`2,fitters,x,2026-03-02T06:02:00.000000Z,2026-03-02T07:02:00.000000Z,warning,0,0,,,2026-03-02T06:04:00.000000Z,,,"{`,
		`3,office,a,2026-03-02T06:03:00.000000Z,2026-03-02T07:03:00.000000Z,warning,0,0,,,,2026-03-02T06:04:00.000000Z,expired,"{`,
	} {
		if !strings.HasPrefix(lines[i], want) {
			t.Errorf("exported\n%s\nwant\n%s", lines[i], want)
		}
	}
}

func TestOnlyAMessageThatWaitsIsSettled(t *testing.T) {
	s := open(t)
	decide(t, s, store.Decision{Messages: []alert.Message{message("office", "a", 1), message("office", "b", 1)}})
	settle(t, s.Sent(t.Context(), 1, minute(2)))
	settle(t, s.Drop(t.Context(), 2, minute(2), "too old"))
	for id, what := range map[int64]string{1: "sent already", 2: "dropped already", 3: "of no message"} {
		for word, err := range map[string]error{
			"sent": s.Sent(t.Context(), id, minute(3)), "dropped": s.Drop(t.Context(), id, minute(3), ""), "failed": s.Failed(t.Context(), id, minute(3), minute(4), "no"),
		} {
			want := "record message " + string(rune('0'+id)) + " as " + word + ": no such message waits"
			if err == nil || err.Error() != want {
				t.Errorf("%s: %v, want %s", what, err, want)
			}
		}
	}
}

func TestOutboxSumsUpEachChannel(t *testing.T) {
	s := open(t)
	if list, err := s.Outbox(t.Context(), t0); len(list) != 0 || err != nil {
		t.Fatal(list, err)
	}
	var all []alert.Message
	for i, key := range []string{"a", "b", "c", "d", "e"} {
		all = append(all, message("office", key, i))
	}
	decide(t, s, store.Decision{Messages: append(all, message("fitters", "a", 7))})
	settle(t, s.Failed(t.Context(), 1, minute(5), minute(6), "first"))
	settle(t, s.Sent(t.Context(), 1, minute(6)))
	settle(t, s.Sent(t.Context(), 2, minute(20)))
	settle(t, s.Drop(t.Context(), 3, minute(21), "expired"))
	settle(t, s.Failed(t.Context(), 5, minute(22), minute(30), "second"))
	settle(t, s.Failed(t.Context(), 4, minute(23), minute(30), "third"))
	settle(t, s.Failed(t.Context(), 5, minute(30), minute(40), "fourth"))
	want := []store.OutboxState{
		{Channel: "fitters", Waiting: 1, Oldest: minute(7)},
		{
			Channel: "office", Waiting: 2, Oldest: minute(3), Sent: 1, Dropped: 1, LastSent: minute(20),
			Failed: 3, LastTried: minute(30), LastError: "fourth",
		},
	}
	for since, change := range map[int]func(*store.OutboxState){
		20: func(*store.OutboxState) {},
		0:  func(o *store.OutboxState) { o.Sent = 2 },
		22: func(o *store.OutboxState) { o.Sent, o.Dropped = 0, 0 },
	} {
		got, err := s.Outbox(t.Context(), minute(since))
		if err != nil {
			t.Fatal(err)
		}
		wanted := append([]store.OutboxState(nil), want...)
		change(&wanted[1])
		if diff := cmp.Diff(wanted, got); diff != "" {
			t.Errorf("since minute %d, -want +got:\n%s", since, diff)
		}
	}

	// A success ends the count.
	settle(t, s.Sent(t.Context(), 5, minute(41)))
	if got, err := s.Outbox(t.Context(), t0); err != nil || got[1].Failed != 0 || got[1].LastError != "fourth" {
		t.Errorf("%+v, %v", got, err)
	}
}

func TestRecentMessagesAreCountedByWhenTheyWereMade(t *testing.T) {
	s := open(t)
	test := message("office", "try", 6)
	test.Test = true
	decide(t, s, store.Decision{Messages: []alert.Message{
		message("office", "c", 8), message("office", "a", 4), message("office", "b", 5), test, message("fitters", "a", 5), message("night", "a", 1),
	}})
	settle(t, s.Sent(t.Context(), 1, minute(9)))
	got, err := s.RecentMessages(t.Context(), minute(5))
	if err != nil {
		t.Fatal(err)
	}
	want := map[string][]time.Time{"office": {minute(5), minute(8)}, "fitters": {minute(5)}}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("-want +got:\n%s", diff)
	}
}
