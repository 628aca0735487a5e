package judge_test

import (
	"context"
	"errors"
	"log/slog"
	"path/filepath"
	"testing"
	"time"

	"gullet/analyze/alert"
	"gullet/cmd/gullet/internal/judge"
	"gullet/store"
)

var noon = time.Date(2026, 3, 3, 12, 0, 0, 0, time.UTC)

// flaky is a store that fails when told to.
type flaky struct {
	*store.Store
	err    error
	before func() // runs before a decision is kept
}

func (f *flaky) Decide(ctx context.Context, d store.Decision) error {
	if f.before != nil {
		before := f.before
		f.before = nil
		before()
	}
	if f.err != nil {
		return f.err
	}
	return f.Store.Decide(ctx, d)
}

func newJudge(t *testing.T, channels ...alert.Channel) (*judge.Judge, *flaky) {
	t.Helper()
	db, err := store.Open(t.Context(), store.Options{Path: filepath.Join(t.TempDir(), "gullet.db")})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = db.Close() })
	f := &flaky{Store: db}
	return &judge.Judge{Store: f, Rules: &alert.Rules{}, Channels: channels, Log: slog.New(slog.DiscardHandler)}, f
}

func stands(minutes float64) []alert.Look {
	look := alert.Look{Kinds: []alert.Kind{alert.UnexplainedStop}}
	if minutes > 0 {
		look.Facts = []alert.Fact{{Key: alert.Key{Kind: alert.UnexplainedStop, Saw: "s1"}, Level: minutes}}
	}
	return []alert.Look{look}
}

func (f *flaky) waits(t *testing.T) int {
	t.Helper()
	rows, err := f.Due(t.Context(), noon.AddDate(1, 0, 0), 100)
	if err != nil {
		t.Fatal(err)
	}
	return len(rows)
}

func decide(t *testing.T, j *judge.Judge, looks []alert.Look, now time.Time) {
	t.Helper()
	if err := j.Decide(t.Context(), looks, nil, now); err != nil {
		t.Fatal(err)
	}
}

func TestWhatCannotBeKeptIsDecidedAgain(t *testing.T) {
	j, f := newJudge(t, office)
	f.err = errors.New("the disk is full")
	if err := j.Decide(t.Context(), stands(40), nil, noon); !errors.Is(err, f.err) {
		t.Fatalf("error %v", err)
	}
	if f.waits(t) != 0 || len(j.Standing()) != 0 {
		t.Error("it counts all the same")
	}
	f.err = nil
	decide(t, j, stands(40), noon.Add(time.Second))
	if f.waits(t) != 1 || len(j.Standing()) != 1 {
		t.Errorf("%d messages, %d conditions", f.waits(t), len(j.Standing()))
	}
}

func TestANoteMadeMeanwhileCounts(t *testing.T) {
	j, f := newJudge(t, office)
	decide(t, j, stands(40), noon)
	id := j.Standing()[0].ID
	f.before = func() { // between the look at notes and the transaction
		_, err := f.NoteAlert(t.Context(), alert.Note{Condition: id, Action: alert.Acknowledge, Who: "kim", Why: "on it", At: noon.Add(time.Second)})
		if err != nil {
			t.Error(err)
		}
	}
	later := stands(50)
	later[0].Facts[0].Mark = "changed"
	decide(t, j, later, noon.Add(2*time.Hour))
	if got := j.Standing()[0].Acknowledged; got == nil || got.Who != "kim" {
		t.Errorf("seen to by %+v", got)
	}
	if n := f.waits(t); n != 1 {
		t.Errorf("%d messages: an update was told of what somebody sees to", n)
	}
}

func TestARestartTellsNothingTwice(t *testing.T) {
	j, f := newJudge(t, office)
	decide(t, j, stands(40), noon)
	again := &judge.Judge{Store: f, Rules: j.Rules, Channels: j.Channels, Log: j.Log}
	decide(t, again, stands(41), noon.Add(time.Minute))
	if n := f.waits(t); n != 1 {
		t.Errorf("%d messages", n)
	}
	decide(t, again, stands(0), noon.Add(2*time.Minute))
	if n := f.waits(t); n != 2 || len(again.Standing()) != 0 {
		t.Errorf("%d messages, %d conditions stand", n, len(again.Standing()))
	}
}

func TestADigestIsToldOncePerShift(t *testing.T) {
	c := office
	c.Digest = true
	j, f := newJudge(t, c)
	d := &alert.Digest{Shift: "late", Start: noon, End: noon.Add(8 * time.Hour)}
	for i := range 3 {
		if err := j.Decide(t.Context(), stands(0), d, noon.Add(time.Duration(i)*time.Minute)); err != nil {
			t.Fatal(err)
		}
	}
	if n := f.waits(t); n != 1 {
		t.Errorf("%d digests", n)
	}
}

func TestWhatWasGivenUpIsToldAnew(t *testing.T) {
	j, f := newJudge(t, office)
	decide(t, j, stands(40), noon)
	rows, err := f.Due(t.Context(), noon, 1)
	if err != nil || len(rows) != 1 {
		t.Fatal(rows, err)
	}
	if err := f.Drop(t.Context(), rows[0].ID, noon.Add(time.Hour), "too old to matter"); err != nil {
		t.Fatal(err)
	}
	j.GivenUp(rows[0].Message)
	decide(t, j, stands(100), noon.Add(time.Hour))
	if n := f.waits(t); n != 1 {
		t.Errorf("%d messages wait", n)
	}
}
