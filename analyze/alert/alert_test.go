package alert

import (
	"fmt"
	"math"
	"strings"
	"testing"
	"time"
)

var noon = time.Date(2026, 3, 3, 12, 0, 0, 0, time.UTC)

// shop is a book with its rules and channels on a clock of its own, and all that was
// said.
type shop struct {
	t        *testing.T
	book     *Book
	rules    Rules
	channels []Channel
	now      time.Time
	kept     map[int64]Condition
	last     int64
	said     []string
}

func newShop(t *testing.T, channels ...Channel) *shop {
	s := &shop{t: t, now: noon, kept: map[int64]Condition{}, channels: channels}
	s.restart()
	return s
}

// office is a channel that is told everything at once.
func office() Channel {
	return Channel{Name: "office", Flood: 4, Cap: 8, Per: 10 * time.Minute, Keep: 12 * time.Hour, Digest: true}
}

// restart opens the book anew from what was kept.
func (s *shop) restart() {
	var list []Condition
	for _, c := range s.kept {
		list = append(list, c)
	}
	var sent map[string][]time.Time
	if s.book != nil {
		sent = s.book.sent
	}
	s.book = Open(list, s.last, sent)
}

// look lets time pass, takes a look at the kinds and keeps what came of it.
func (s *shop) look(after time.Duration, kinds []Kind, facts ...Fact) {
	s.now = s.now.Add(after)
	for _, c := range s.book.Step(&s.rules, &Look{Kinds: kinds, Facts: facts}, s.now) {
		s.say("%s %d", c.What, c.ID)
	}
	s.post()
}

func (s *shop) post() {
	for _, m := range s.book.Post(s.channels, s.now) {
		s.say("%s", told(&m))
	}
	list, closed := s.book.Unsaved(s.now)
	for i := range list {
		s.kept[list[i].ID] = list[i]
		s.last = max(s.last, list[i].ID)
	}
	for _, id := range closed {
		delete(s.kept, id)
	}
}

// told is a message in short: "office: raised 1, cleared 2".
func told(m *Message) string {
	var items []string
	for i := range m.Items {
		item := fmt.Sprintf("%s %d", m.Items[i].Phase, m.Items[i].Condition)
		if m.Items[i].Escalated {
			item = "nobody sees to it: " + item
		}
		items = append(items, item)
	}
	return m.Channel + ": " + strings.Join(items, ", ")
}

func (s *shop) say(format string, args ...any) { s.said = append(s.said, fmt.Sprintf(format, args...)) }

// want holds what was said since it was called last.
func (s *shop) want(lines ...string) {
	s.t.Helper()
	if got, want := strings.Join(s.said, "\n"), strings.Join(lines, "\n"); got != want {
		s.t.Errorf("at %s said\n%s\nwant\n%s", s.now.Format("15:04:05"), got, want)
	}
	s.said = nil
}

// trip is the chance that blade B-1 on a saw trips.
func trip(saw string, chance float64) Fact {
	return Fact{Key: Key{TripLikely, saw, "B-1"}, Level: chance, Words: Words{What: "it may trip"}}
}

var trips = []Kind{TripLikely}

func TestAConditionIsRaisedOnceAndClosedOnce(t *testing.T) {
	s := newShop(t, office())
	s.look(0, trips, trip("s2", 0.19))
	s.want()
	s.look(time.Minute, trips, trip("s2", 0.2))
	s.want() // it has not held for a minute
	s.look(time.Minute, trips, trip("s2", 0.21))
	s.want("raised 1", "office: raised 1")
	for range 100 {
		s.look(time.Minute, trips, trip("s2", 0.9))
	}
	s.want()
	s.look(time.Minute, trips, trip("s2", 0.15))
	s.want() // between both thresholds
	s.look(time.Minute, trips, trip("s2", 0.09))
	s.want("cleared 1", "office: cleared 1")
	s.look(time.Minute, trips, trip("s2", 0.09))
	s.want()
	if len(s.kept) != 0 || len(s.book.byID) != 0 {
		t.Error("what is over and told stays in the book")
	}
}

func TestLevelsAroundTheThresholdsNeverFlap(t *testing.T) {
	s := newShop(t, office())
	for i := range 1000 {
		s.look(time.Minute, trips, trip("s2", []float64{0.11, 0.25, 0.19, 0.3}[i%4]))
	}
	s.want() // it never holds for a minute
	s.look(time.Minute, trips, trip("s2", 0.3))
	s.look(time.Minute, trips, trip("s2", 0.3))
	s.want("raised 1", "office: raised 1")
	for i := range 1000 {
		s.look(time.Minute, trips, trip("s2", []float64{0.11, 0.25, 0.19, 0.3}[i%4]))
	}
	s.want()
}

func TestWhatIsNotFoundIsOver(t *testing.T) {
	stop := Fact{Key: Key{UnexplainedStop, "s1", ""}, Level: 31}
	for _, c := range []struct {
		name string
		look Look
		over bool
	}{
		{"looked for everywhere", Look{Kinds: []Kind{UnexplainedStop}}, true},
		{"looked for on its saw", Look{Kinds: []Kind{UnexplainedStop}, Saws: []string{"s1"}}, true},
		{"looked for on another saw", Look{Kinds: []Kind{UnexplainedStop}, Saws: []string{"s2"}}, false},
		{"another kind was looked for", Look{Kinds: []Kind{OutOfStock}}, false},
		{"not known", Look{Kinds: []Kind{UnexplainedStop}, Facts: []Fact{{Key: stop.Key, Level: math.NaN()}}}, false},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := newShop(t, office())
			s.look(0, []Kind{UnexplainedStop}, stop)
			s.want("raised 1", "office: raised 1")
			if over := len(s.book.Step(&s.rules, &c.look, s.now)) == 1; over != c.over {
				t.Errorf("over is %v", over)
			}
		})
	}
}

func TestClosingWaitsForItsRest(t *testing.T) {
	finding := Fact{Key: Key{SawFinding, "s1", "guides"}, Level: 0.95}
	kinds := []Kind{SawFinding}
	s := newShop(t, office())
	s.look(0, kinds, finding)
	s.look(10*time.Minute, kinds, finding)
	s.want("raised 1", "office: raised 1")
	s.look(time.Minute, kinds)
	s.look(50*time.Minute, kinds)
	s.look(time.Minute, kinds, finding) // it is there again
	s.look(time.Minute, kinds)
	s.look(59*time.Minute, kinds)
	s.want()
	s.look(time.Minute, kinds)
	s.want("cleared 1", "office: cleared 1")
}

func TestHistoryRaisesNothing(t *testing.T) {
	broke := Fact{Key: Key{BladeBreak, "s1", "B-1"}, Level: 1}
	kinds := []Kind{BladeBreak}
	for _, c := range []struct {
		name      string
		at, since time.Duration // before now
		raised    bool
	}{
		{"just now", time.Minute, time.Minute, true},
		{"a reading that came two hours late", 2 * time.Hour, 2 * time.Hour, false},
		{"known anew, but it lasted its day", time.Minute, 25 * time.Hour, false},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := newShop(t, office())
			f := broke
			f.At, f.Since = noon.Add(-c.at), noon.Add(-c.since)
			s.look(0, kinds, f)
			if (len(s.said) > 0) != c.raised {
				t.Errorf("said %q", s.said)
			}
		})
	}
}

func TestABreakIsToldNoLongerAfterADay(t *testing.T) {
	broke := Fact{Key: Key{BladeBreak, "s1", "B-1"}, Level: 1, Since: noon}
	kinds := []Kind{BladeBreak}
	s := newShop(t, office())
	s.look(0, kinds, broke)
	s.look(23*time.Hour, kinds, broke)
	s.want("raised 1", "office: raised 1")
	s.look(time.Hour, kinds, broke)
	s.want("cleared 1", "office: cleared 1")
	s.look(time.Hour, kinds, broke)
	s.want()
}

func TestAnUpdateIsToldWhenItsMarkChangesAndNotTooOften(t *testing.T) {
	window := func(job string) Fact {
		return Fact{Key: Key{ChangeWindow, "s1", "B-1"}, Level: 4, Mark: job}
	}
	kinds := []Kind{ChangeWindow}
	s := newShop(t, office())
	s.look(0, kinds, window("5512"))
	s.want("raised 1", "office: raised 1")
	s.look(time.Hour, kinds, window("5513"))
	s.want() // four hours are between two messages
	s.look(3*time.Hour, kinds, window("5513"))
	s.want("updated 1", "office: updated 1")
	s.look(24*time.Hour, kinds, window("5513"))
	s.want()
}

func TestRulesOfASawAndSwitchedOff(t *testing.T) {
	s := newShop(t, office())
	own := SpecOf(TripLikely).Rule
	own.Raise, own.Clear, own.Hold, own.Severity = 0.5, 0.3, 0, Severe
	s.rules.Saws = map[Kind]map[string]Rule{TripLikely: {"s2": own}}
	s.look(0, trips, trip("s1", 0.4), trip("s2", 0.4))
	s.look(time.Minute, trips, trip("s1", 0.4), trip("s2", 0.5))
	s.want("raised 1", "raised 2", "office: raised 2", "office: raised 1")
	if got := s.book.Standing(); len(got) != 2 || got[0].Saw != "s2" || got[0].Severity != Severe {
		t.Errorf("stands %+v", got)
	}
	s.rules.Shop = map[Kind]Rule{TripLikely: {Off: true}}
	s.look(time.Minute, trips, trip("s1", 0.4), trip("s2", 0.5))
	s.want("cleared 1", "office: cleared 1")
}

func TestWaitingConditionsBecomeOneMessage(t *testing.T) {
	c := office()
	c.Wait = 30 * time.Second
	s := newShop(t, c)
	s.rules.Shop = map[Kind]Rule{TripLikely: {Raise: 0.2, Clear: 0.1, Severity: Warning, Fresh: fresh}}
	var facts []Fact
	for i := range 5 {
		facts = append(facts, trip(fmt.Sprintf("s%d", i+1), 0.3))
		s.look(5*time.Second, trips, facts...)
	}
	s.want("raised 1", "raised 2", "raised 3", "raised 4", "raised 5")
	s.look(10*time.Second, trips, facts...)
	s.want("office: raised 1, raised 2, raised 3, raised 4, raised 5")
}

func TestAtMostTheCapIsSentAndNothingIsLost(t *testing.T) {
	c := office()
	c.Cap, c.Flood = 3, 100
	s := newShop(t, c)
	s.rules.Shop = map[Kind]Rule{TripLikely: {Raise: 0.2, Clear: 0.1, Severity: Warning, Fresh: fresh}}
	var facts []Fact
	for i := range 6 {
		facts = append(facts, trip(fmt.Sprintf("s%d", i+1), 0.3))
		s.look(time.Second, trips, facts...)
	}
	broke := Fact{Key: Key{BladeBreak, "s1", "B-1"}, Level: 1}
	s.want("raised 1", "office: raised 1", "raised 2", "office: raised 2", "raised 3", "raised 4", "raised 5", "raised 6")
	s.look(time.Second, []Kind{BladeBreak}, broke)
	s.want("raised 7", "office: raised 7") // the last of the cap is for the severe
	s.look(9*time.Minute, trips, facts...)
	s.want()
	s.look(time.Minute, trips, facts...)
	s.want("office: raised 3, raised 4, raised 5, raised 6")
}

func TestQuietHoursHoldBackAllButTheSevere(t *testing.T) {
	c := office()
	c.Quiet = &Quiet{From: 13 * 60, To: 6 * 60, Zone: time.UTC}
	s := newShop(t, c)
	s.now = noon.Add(time.Hour) // 13:00
	broke := Fact{Key: Key{BladeBreak, "s1", "B-1"}, Level: 1}
	s.look(0, trips, trip("s1", 0.3), trip("s2", 0.3), trip("s3", 0.3))
	s.look(time.Minute, trips, trip("s1", 0.3), trip("s2", 0.3), trip("s3", 0.3))
	s.want("raised 1", "raised 2", "raised 3")
	s.look(time.Minute, []Kind{BladeBreak}, broke)
	s.want("raised 4", "office: raised 4")
	s.look(time.Minute, trips, trip("s1", 0.3), trip("s3", 0.3))
	s.want("cleared 2") // of what was never told, nobody hears
	s.look(time.Minute, []Kind{BladeBreak})
	s.want("cleared 4")
	s.look(17*time.Hour-5*time.Minute, nil)
	s.want() // 05:59
	s.look(time.Minute, nil)
	s.want("office: raised 1", "office: raised 3", "office: cleared 4")
	d := &Digest{Shift: "late", Start: s.now, End: s.now.Add(8 * time.Hour)}
	if n := len(PostDigest(s.channels, d, s.now)); n != 1 {
		t.Errorf("%d digests in the morning", n)
	}
	if n := len(PostDigest(s.channels, d, s.now.Add(8*time.Hour))); n != 0 {
		t.Errorf("%d digests in quiet hours", n)
	}
}

func TestSnooze(t *testing.T) {
	s := newShop(t, office())
	stop := func(minutes float64, mark string) Fact {
		return Fact{Key: Key{UnexplainedStop, "s1", ""}, Level: minutes, Mark: mark}
	}
	kinds := []Kind{UnexplainedStop}
	s.look(0, kinds, stop(30, "a"))
	s.want("raised 1", "office: raised 1")
	if _, ok := s.book.Note(&Note{ID: 1, Condition: 1, Action: Snooze, Until: s.now.Add(3 * time.Hour), Who: "kim", Why: "inventory", At: s.now}); !ok {
		t.Fatal("the note was not taken")
	}
	s.restart2(t)
	s.look(2*time.Hour, kinds, stop(150, "b"))
	s.want("updated 1")
	s.look(time.Hour, kinds, stop(210, "b"))
	s.want("office: updated 1")
	s.look(time.Hour, kinds)
	s.want("cleared 1", "office: cleared 1")
}

// restart2 keeps what is to be kept, and starts from it.
func (s *shop) restart2(t *testing.T) {
	t.Helper()
	s.post()
	s.restart()
	s.want()
}

func TestEscalation(t *testing.T) {
	for _, c := range []struct {
		name string
		ack  bool
		want string
	}{
		{"nobody sees to it", false, "boss: nobody sees to it: raised 1"},
		{"somebody does", true, ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			boss := office()
			boss.Name, boss.After, boss.Severity = "boss", 20*time.Minute, Severe
			s := newShop(t, office(), boss)
			broke := Fact{Key: Key{BladeBreak, "s1", "B-1"}, Level: 1}
			kinds := []Kind{BladeBreak, TripLikely}
			s.look(0, kinds, broke, trip("s2", 0.3))
			s.look(time.Minute, kinds, broke, trip("s2", 0.3))
			s.want("raised 1", "office: raised 1", "raised 2", "office: raised 2")
			if c.ack {
				s.book.Note(&Note{ID: 1, Condition: 1, Action: Acknowledge, Who: "kim", Why: "on it", At: s.now})
			}
			s.restart2(t)
			s.look(18*time.Minute, kinds, broke, trip("s2", 0.3))
			s.want()
			s.look(time.Minute, kinds, broke, trip("s2", 0.3))
			if got := strings.Join(s.said, "\n"); got != c.want {
				t.Errorf("said %q, want %q", got, c.want)
			}
			s.said = nil
			s.look(time.Minute, []Kind{BladeBreak})
			want := []string{"cleared 1", "office: cleared 1"}
			if !c.ack {
				want = append(want, "boss: cleared 1")
			}
			s.want(want...)
		})
	}
}

func TestANoteOnWhatDoesNotStandIsRefused(t *testing.T) {
	s := newShop(t, office())
	stop := Fact{Key: Key{UnexplainedStop, "s1", ""}, Level: 30}
	s.look(0, []Kind{UnexplainedStop}, stop)
	n := Note{ID: 1, Condition: 1, Action: Acknowledge, At: s.now}
	if _, ok := s.book.Note(&n); !ok {
		t.Error("refused")
	}
	if _, ok := s.book.Note(&n); ok {
		t.Error("taken twice")
	}
	s.look(time.Minute, []Kind{UnexplainedStop})
	for _, id := range []int64{1, 7} {
		if _, ok := s.book.Note(&Note{ID: 2, Condition: id, Action: Acknowledge, At: s.now}); ok {
			t.Errorf("taken on condition %d, which does not stand", id)
		}
	}
}

// A restart in any state says nothing twice and forgets nothing.
func TestRestartInEachState(t *testing.T) {
	for _, when := range []string{"waiting", "raised", "better", "over"} {
		t.Run(when, func(t *testing.T) {
			c := office()
			c.Quiet = &Quiet{From: 13 * 60, To: 14 * 60, Zone: time.UTC}
			s := newShop(t, c)
			finding := Fact{Key: Key{SawFinding, "s1", "guides"}, Level: 0.95}
			kinds := []Kind{SawFinding}
			restart := func(now string) {
				if now == when {
					s.restart()
				}
			}
			s.look(0, kinds, finding)
			restart("waiting")
			s.look(5*time.Minute, kinds, finding)
			s.look(6*time.Minute, kinds, finding)
			s.look(6*time.Minute, kinds, finding)
			s.want("raised 1", "office: raised 1")
			restart("raised")
			s.look(time.Minute, kinds, finding)
			s.look(time.Minute, kinds)
			restart("better")
			s.want()
			s.look(time.Hour, kinds) // 13:19: quiet
			s.want("cleared 1")
			restart("over")
			s.look(time.Minute, kinds)
			s.want()
			s.look(time.Hour, kinds)
			s.want("office: cleared 1")
		})
	}
}

func TestAMessageGivenUpIsMadeAnewIfItStillStands(t *testing.T) {
	s := newShop(t, office())
	stop := Fact{Key: Key{UnexplainedStop, "s1", ""}, Level: 30}
	s.book.Step(&s.rules, &Look{Kinds: []Kind{UnexplainedStop}, Facts: []Fact{stop}}, s.now)
	first := s.book.Post(s.channels, s.now)
	if len(first) != 1 {
		t.Fatalf("%d messages", len(first))
	}
	s.now = first[0].Expires
	s.book.Untell(&first[0])
	again := s.book.Post(s.channels, s.now)
	if len(again) != 1 || again[0].Key == first[0].Key || again[0].Items[0].Phase != PhaseRaised {
		t.Errorf("made anew: %+v", again)
	}
	s.book.Untell(&first[0]) // an older one is about what was told before
	if list := s.book.Post(s.channels, s.now); len(list) != 0 {
		t.Errorf("made again: %+v", list)
	}
	s.book.Step(&s.rules, &Look{Kinds: []Kind{UnexplainedStop}}, s.now)
	s.book.Post(s.channels, s.now)
	s.book.Untell(&again[0])
	if list := s.book.Post(s.channels, s.now); len(list) != 0 {
		t.Errorf("told of what is over: %+v", list)
	}
}

func TestAChannelIsToldOfWhatItTakes(t *testing.T) {
	facts := []Fact{
		{Key: Key{BladeBreak, "s1", "B-1"}, Level: 1},
		{Key: Key{UnexplainedStop, "s2", ""}, Level: 40},
		{Key: Key{BrokerLost, "", ""}, Level: 3},
		{Key: Key{DeliveryFailing, "", "office"}, Level: 30},
	}
	kinds := []Kind{BladeBreak, UnexplainedStop, BrokerLost, DeliveryFailing}
	for _, c := range []struct {
		name string
		set  func(*Channel)
		want []Kind
	}{
		{"all but its own trouble", func(*Channel) {}, []Kind{BladeBreak, UnexplainedStop, BrokerLost}},
		{"the severe", func(c *Channel) { c.Severity = Severe }, []Kind{BladeBreak, BrokerLost}},
		{"a kind", func(c *Channel) { c.Kinds = []Kind{UnexplainedStop} }, []Kind{UnexplainedStop}},
		{"a saw, and what is of none", func(c *Channel) { c.Saws = []string{"s2"} }, []Kind{UnexplainedStop, BrokerLost}},
		{"none of another channel's trouble is its own", func(c *Channel) { c.Name = "yard" }, kinds},
	} {
		t.Run(c.name, func(t *testing.T) {
			channel := office()
			channel.Flood = 100
			c.set(&channel)
			s := newShop(t, channel)
			s.book.Step(&s.rules, &Look{Kinds: kinds, Facts: facts}, s.now)
			got := map[Kind]bool{}
			for _, m := range s.book.Post(s.channels, s.now) {
				for _, item := range m.Items {
					got[item.Key.Kind] = true
				}
			}
			for _, k := range kinds {
				want := false
				for _, w := range c.want {
					want = want || w == k
				}
				if got[k] != want {
					t.Errorf("%s: told is %v", k, got[k])
				}
			}
		})
	}
}

func TestQuiet(t *testing.T) {
	zone, err := time.LoadLocation("America/Chicago")
	if err != nil {
		t.Fatal(err)
	}
	night := &Quiet{From: 22 * 60, To: 6 * 60, Zone: zone}
	weekend := &Quiet{Zone: zone, Days: [7]bool{time.Saturday: true, time.Sunday: true}}
	for _, c := range []struct {
		name  string
		quiet *Quiet
		at    string
		want  bool
	}{
		{"none", nil, "2026-03-03T23:00:00-06:00", false},
		{"before", night, "2026-03-03T21:59:59-06:00", false},
		{"begins", night, "2026-03-03T22:00:00-06:00", true},
		{"after midnight", night, "2026-03-04T05:59:59-06:00", true},
		{"ends", night, "2026-03-04T06:00:00-06:00", false},
		{"the night on which the clock is changed", night, "2026-03-08T05:59:59-05:00", true},
		{"and its morning", night, "2026-03-08T06:00:00-05:00", false},
		{"Friday", weekend, "2026-03-06T23:59:59-06:00", false},
		{"Saturday", weekend, "2026-03-07T00:00:00-06:00", true},
		{"Sunday night", weekend, "2026-03-08T23:59:59-05:00", true},
		{"Monday", weekend, "2026-03-09T00:00:00-05:00", false},
	} {
		t.Run(c.name, func(t *testing.T) {
			at, err := time.Parse(time.RFC3339, c.at)
			if err != nil {
				t.Fatal(err)
			}
			if got := c.quiet.Holds(at); got != c.want {
				t.Errorf("it holds: %v", got)
			}
		})
	}
}

func TestWhatIsNotKnownOrLateChangesNothingOfWhatStands(t *testing.T) {
	for _, c := range []struct {
		name string
		fact func(Fact) Fact
	}{
		{"not known", func(f Fact) Fact { f.Level = math.NaN(); return f }},
		{"a reading that came late", func(f Fact) Fact { f.At, f.Level = noon, 0.9; return f }},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := newShop(t, office())
			s.look(0, trips, trip("s2", 0.3))
			s.look(time.Second, trips, c.fact(trip("s2", 0.3)))
			s.look(time.Minute, trips, trip("s2", 0.3))
			s.want("raised 1", "office: raised 1") // it held all the while
			f := c.fact(trip("s2", 0.3))
			f.Mark, f.Words.What = "other", "other words"
			s.look(3*time.Hour, trips, f)
			s.want()
			if got := s.book.Standing()[0]; got.Level != 0.3 || got.Words.What != "it may trip" {
				t.Errorf("stands with %+v", got)
			}
		})
	}
}

// Every kind goes its way by its own rule: at its level it is raised when that has held,
// told anew when its mark changes, closed when it is better for long enough, and a restart
// in between says nothing twice.
func TestEveryKindIsRaisedHeldUpdatedAndClosed(t *testing.T) {
	for _, spec := range Specs() {
		t.Run(string(spec.Kind), func(t *testing.T) {
			rule := spec.Rule
			s := newShop(t, office())
			kinds := []Kind{spec.Kind}
			worse, good := rule.Raise+1, rule.Clear-0.001
			if spec.Falls {
				worse, good = rule.Raise-0.001, rule.Clear+1
			}
			fact := func(level float64, mark string) Fact {
				return Fact{Key: Key{spec.Kind, "", "x"}, Level: level, Mark: mark, Since: noon}
			}
			s.look(0, kinds, fact(good, "a"))
			s.want()
			s.look(time.Minute, kinds, fact(rule.Raise, "a"))
			if rule.Hold > 0 {
				s.want()
				s.look(rule.Hold-time.Second, kinds, fact(rule.Raise, "a"))
				s.want()
				s.look(time.Second, kinds, fact(rule.Raise, "a"))
			}
			s.want("raised 1", "office: raised 1")
			s.restart()
			s.look(rule.Again-time.Second, kinds, fact(worse, "b"))
			s.want()
			s.look(time.Second, kinds, fact(worse, "b"))
			s.want("updated 1", "office: updated 1")
			s.restart()
			s.look(time.Minute, kinds, fact(worse, "b"))
			s.want()
			s.look(time.Minute, kinds, fact(good, "b"))
			if rule.Rest > 0 {
				s.want()
				s.restart()
				s.look(rule.Rest-time.Second, kinds, fact(good, "b"))
				s.want()
				s.look(time.Second, kinds, fact(good, "b"))
			}
			s.want("cleared 1", "office: cleared 1")
			s.restart()
			s.look(time.Minute, kinds, fact(good, "b"))
			s.want()
		})
	}
}
