package foretell

import (
	"context"
	"encoding/json"
	"errors"
	"log/slog"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"gullet/analyze/shift"
	"gullet/cmd/gullet/internal/planning"
	"gullet/config"
)

// monday is a day on which s1 works from 06:00 to 10:00 and from 10:00 to 14:00, s2
// from 08:00 to 12:00; on Tuesdays nobody works, and on Wednesday s1 is closed at 10.
var monday = time.Date(2026, 3, 2, 0, 0, 0, 0, time.UTC)

func at(hours, minutes int) time.Time {
	return monday.Add(time.Duration(hours)*time.Hour + time.Duration(minutes)*time.Minute)
}

func calendar() *shift.Calendar {
	days := [7]bool{time.Monday: true, time.Wednesday: true}
	rule := func(name string, from, to int, saw string) shift.Rule {
		return shift.Rule{Name: name, Start: shift.Clock(from * 60), End: shift.Clock(to * 60), Days: days, Saws: []string{saw}}
	}
	return &shift.Calendar{Zone: time.UTC, Rules: []shift.Rule{rule("early", 6, 10, "s1"), rule("late", 10, 14, "s1"), rule("day", 8, 12, "s2")},
		Closed: []shift.Closure{{Saw: "s1", From: at(58, 0), To: at(62, 0)}}}
}

// shop is a teller on a clock of its own, and when it made plans.
type shop struct {
	Teller
	now    time.Time
	away   bool
	failed error
	made   []time.Time
	kept   []time.Time
}

func newShop(saws ...string) *shop {
	s := &shop{}
	r := &planning.Report{}
	for _, name := range saws {
		r.Saws = append(r.Saws, planning.Saw{Saw: name})
	}
	s.Teller = Teller{
		Now: func() time.Time { return s.now }, Ready: func() bool { return !s.away }, Log: slog.New(slog.DiscardHandler),
		Plan: func(_ context.Context, now time.Time) (*planning.Report, *shift.Calendar, error) {
			s.made = append(s.made, now)
			return r, calendar(), s.failed
		},
		Use: []func(context.Context, *planning.Report) error{func(context.Context, *planning.Report) error {
			s.kept = append(s.kept, s.now)
			return nil
		}},
	}
	return s
}

// pass lets the clock go from one time to another, with a look each half minute.
func (s *shop) pass(t *testing.T, from, to time.Time) {
	for s.now = from; s.now.Before(to); s.now = s.now.Add(30 * time.Second) {
		s.look(t.Context())
	}
}

func TestAPlanIsMadeWhenAShiftBegins(t *testing.T) {
	s := newShop("s1", "s2")
	s.pass(t, at(7, 10), at(61, 0)) // to Wednesday 13:00
	want := []time.Time{at(7, 11), at(8, 0), at(10, 0), at(54, 0), at(56, 0)}
	if diff := cmp.Diff(want, s.made); diff != "" {
		t.Errorf("plans made (-want +got):\n%s", diff)
	}
	if diff := cmp.Diff(want, s.kept); diff != "" {
		t.Errorf("plans kept (-want +got):\n%s", diff)
	}
}

func TestWithoutReadingsThereIsNoPlan(t *testing.T) {
	s := newShop("s1")
	s.pass(t, at(6, 30), at(9, 0))
	s.away = true
	s.pass(t, at(9, 0), at(11, 0))
	s.away = false
	s.pass(t, at(11, 0), at(14, 0))
	if diff := cmp.Diff([]time.Time{at(6, 31), at(11, 1)}, s.made); diff != "" {
		t.Errorf("plans made (-want +got):\n%s", diff)
	}
}

func TestAPlanThatFailsIsMadeAgain(t *testing.T) {
	s := newShop("s1")
	s.failed = errors.New("the disk is full")
	s.pass(t, at(6, 0), at(6, 8))
	s.failed = nil
	s.pass(t, at(6, 8), at(9, 0))
	if diff := cmp.Diff([]time.Time{at(6, 1), at(6, 6), at(6, 11)}, s.made); diff != "" {
		t.Errorf("plans made (-want +got):\n%s", diff)
	}
	if diff := cmp.Diff([]time.Time{at(6, 11)}, s.kept); diff != "" {
		t.Errorf("plans kept (-want +got):\n%s", diff)
	}
}

// A shop without a saw, or whose saws rest for a month, is looked at again.
func TestNoShiftIsNear(t *testing.T) {
	for _, s := range []*shop{newShop(), newShop("s9")} {
		s.pass(t, at(6, 0), at(6, 8))
		if diff := cmp.Diff([]time.Time{at(6, 1), at(6, 6)}, s.made); diff != "" {
			t.Errorf("plans made (-want +got):\n%s", diff)
		}
	}
}

func TestRunEndsWithItsContext(t *testing.T) {
	s := newShop("s1")
	ctx, cancel := context.WithCancel(t.Context())
	done := make(chan struct{})
	go func() { s.Run(ctx); close(done) }()
	cancel()
	<-done
}

func TestTopic(t *testing.T) {
	for saw, want := range map[string]string{
		"s3":              "gullet/shop/s3/forecast",
		"plant-2/saws/s3": "gullet/plant-2%2Fsaws/s3/forecast",
		"shop/s3":         "gullet/%73hop/s3/forecast",
		"a/b+c#d/s 3":     "gullet/a%2Fb%2Bc%23d/s%203/forecast",
		"50%/säge":        "gullet/50%25/säge/forecast",
	} {
		if got := Topic(saw); got != want {
			t.Errorf("%s: %s, want %s", saw, got, want)
		}
	}
}

// name is what a saw may be called, with what a topic may not hold.
var name = rapid.StringMatching(`[as+#%/ é\x{1}]{0,3}(saws|shop|gullet|forecast|/)?/?[as+#% ]{1,3}`)

// Two saws never share a topic, and none breaks one.
func TestTopicsAreSoundAndApart(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a, b := name.Draw(t, "a"), name.Draw(t, "b")
		topic := Topic(a)
		if levels := strings.Split(topic, "/"); len(levels) != 4 || strings.ContainsAny(topic, "+# \x01") || levels[1] == "saws" {
			t.Fatalf("%q: %q is no topic of four plain levels", a, topic)
		}
		if a != b && topic == Topic(b) && !strings.HasPrefix(a, "/") && !strings.HasPrefix(b, "/") {
			t.Fatalf("%q and %q share %q", a, b, topic)
		}
	})
}

// matches is MQTT's own rule, by MQTT 3.1.1 section 4.7.1.
func matches(filter, topic string) bool {
	f, t := strings.Split(filter, "/"), strings.Split(topic, "/")
	for i := range f {
		if f[i] == "#" {
			return true
		}
		if i >= len(t) || f[i] != "+" && f[i] != t[i] {
			return false
		}
	}
	return len(f) == len(t)
}

// filters are all of one to four of these levels, as they are and with all below.
func filters() []string {
	list := []string{"#", "+/+/+/+/+", "gullet/+/+/forecast/+", "gullet/+/+/forecast/cut"}
	of := []string{""}
	for range 4 {
		var longer []string
		for _, start := range of {
			for _, level := range []string{"+", "saws", "gullet", "a", "forecast"} {
				longer = append(longer, start+level+"/")
				list = append(list, start+level, start+level+"/#")
			}
		}
		of = longer
	}
	return list
}

// What a shop may configure never has the daemon read its own forecasts, and only
// what would is refused.
func TestTheDaemonNeverTakesItsForecasts(t *testing.T) {
	saws := []string{"a", "a/a", "saws", "a/saws", "gullet/a", "gullet/saws", "gullet", "gullet/gullet", "forecast", "a/forecast", "a/gullet", "forecast/a", "forecast/gullet", "forecast/saws", "forecast/forecast", "gullet/forecast"}
	refused := 0
	for _, filter := range filters() {
		options := config.Options{File: "none.toml", Env: []string{"GULLET_MQTT_TOPICS=" + filter}}
		if _, err := config.Load(options); err != nil {
			continue // no filter of readings
		}
		options.Env = append(options.Env, "GULLET_MQTT_PUBLISH_FORECASTS=true")
		_, err := config.Load(options)
		taken := slices.ContainsFunc(saws, func(saw string) bool { return matches(filter, Topic(saw)) })
		if taken != (err != nil) {
			t.Errorf("%s: it takes a forecast is %v, refused with %v", filter, taken, err)
		}
		if err != nil {
			refused++
		}
	}
	if refused == 0 {
		t.Error("nothing was refused: the test tells nothing")
	}
}

// What is published says when it was made, in which unit, and to be careful.
func TestPayload(t *testing.T) {
	odds := 0.25
	r := &planning.Report{MadeAt: at(6, 0), Zone: "UTC", Unit: "in2", Currency: "USD", Saws: []planning.Saw{
		{Saw: "s1", Blade: "B-1", Next: &planning.NextShift{Shift: "early", Start: at(6, 0), End: at(10, 0), Odds: &odds}, Why: "no life is known"},
	}}
	b, err := Payload(r, &r.Saws[0], "Advice only.\nLock out.")
	if err != nil {
		t.Fatal(err)
	}
	var got map[string]any
	if err := json.Unmarshal(b, &got); err != nil {
		t.Fatal(err)
	}
	next, _ := got["next_shift"].(map[string]any)
	for what, pair := range map[string][2]any{
		"made_at": {got["made_at"], "2026-03-02T06:00:00Z"}, "unit": {got["unit"], "in2"}, "currency": {got["currency"], "USD"},
		"saw": {got["saw"], "s1"}, "blade": {got["blade"], "B-1"}, "window": {got["window"], nil}, "window_why": {got["window_why"], "no life is known"},
		"odds": {next["odds_done"], 0.25}, "caution": {got["caution"], "Advice only. Lock out."},
	} {
		if pair[0] != pair[1] {
			t.Errorf("%s is %v, want %v", what, pair[0], pair[1])
		}
	}
}
