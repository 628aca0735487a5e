package alert

import (
	"fmt"
	"runtime"
	"slices"
	"testing"
	"time"

	"pgregory.net/rapid"
)

// TestWhatAChannelIsToldIsAStory lets a shop go on in any way, with restarts, notes,
// quiet hours and caps: each channel is told raised, then updates, then cleared, each once;
// never more than its cap; and in the end of all that stands and of all that is over.
func TestWhatAChannelIsToldIsAStory(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		quiet := &Quiet{From: 13 * 60, To: 15 * 60, Zone: time.UTC}
		channels := []Channel{
			{Name: "office", Flood: 3, Cap: 4, Per: 10 * time.Minute, Wait: time.Minute, Keep: time.Hour},
			{Name: "boss", Flood: 3, Cap: 9, Per: 10 * time.Minute, Keep: time.Hour, After: 10 * time.Minute, Quiet: quiet},
		}
		book, now := Open(nil, 0, nil), noon
		kept := map[int64]Condition{}
		keep := func() {
			list, closed := book.Unsaved(now)
			for i := range list {
				kept[list[i].ID] = list[i]
			}
			for _, id := range closed {
				delete(kept, id)
			}
		}
		story := map[string]Phase{} // by channel and condition
		sent := map[string][]time.Time{}
		last := int64(0)
		hear := func() {
			for _, m := range book.Post(channels, now) {
				sent[m.Channel] = append(sent[m.Channel], now)
				for _, item := range m.Items {
					key := fmt.Sprint(m.Channel, item.Condition)
					before, after := story[key], item.Phase
					if ok := after == PhaseRaised && before == "" || after != PhaseRaised && (before == PhaseRaised || before == PhaseUpdated); !ok {
						t.Fatalf("%s: %q after %q", key, after, before)
					}
					story[key] = after
				}
			}
			keep()
		}
		kinds := []Kind{TripLikely, BladeBreak, OutOfStock}
		step := func(facts []Fact) {
			for _, c := range book.Step(&Rules{}, &Look{Kinds: kinds, Facts: facts}, now) {
				last = max(last, c.ID)
			}
			hear()
		}
		mark := rapid.SampledFrom([]string{"a", "b"})
		for range rapid.IntRange(1, 60).Draw(t, "looks") {
			now = now.Add(time.Duration(rapid.IntRange(1, 1800).Draw(t, "seconds")) * time.Second)
			var facts []Fact
			for _, k := range kinds {
				for _, saw := range []string{"s1", "s2"} {
					worst := SpecOf(k).Rule.Raise * 2
					level := rapid.SampledFrom([]float64{0, worst, worst, SpecOf(k).Rule.Raise}).Draw(t, "level")
					facts = append(facts, Fact{Key: Key{k, saw, ""}, Level: level, Mark: mark.Draw(t, "mark")})
				}
			}
			step(facts)
			if rapid.IntRange(0, 9).Draw(t, "restart") == 0 {
				var list []Condition
				for _, c := range kept {
					list = append(list, c)
				}
				book = Open(list, last, sent)
			}
			if rapid.IntRange(0, 5).Draw(t, "note") == 0 {
				action := rapid.SampledFrom([]NoteAction{Acknowledge, Snooze}).Draw(t, "action")
				book.Note(&Note{ID: now.Unix(), Condition: rapid.Int64Range(1, 10).Draw(t, "id"), Action: action, Until: now.Add(time.Hour), At: now})
				keep()
			}
		}
		for range 20 { // it calms down
			now = now.Add(time.Hour)
			step(nil)
		}
		for key, phase := range story {
			if phase != PhaseCleared {
				t.Errorf("%s: never told that it is over", key)
			}
		}
		if len(kept) != 0 {
			t.Errorf("%d conditions never leave the book", len(kept))
		}
		for _, c := range channels {
			for i, at := range sent[c.Name] {
				end, _ := slices.BinarySearchFunc(sent[c.Name], at.Add(c.Per), time.Time.Compare)
				if end-i > c.Cap {
					t.Errorf("%s: %d messages in %s", c.Name, end-i, c.Per)
				}
			}
		}
	})
}

// busy is the facts of so many saws, all well.
func busy(saws int) *Look {
	look := &Look{}
	for _, s := range Specs() {
		if !s.Saw {
			continue
		}
		look.Kinds = append(look.Kinds, s.Kind)
		level := s.Rule.Clear - 1
		if s.Falls {
			level = s.Rule.Clear + 1
		}
		for i := range saws {
			look.Facts = append(look.Facts, Fact{Key: Key{s.Kind, fmt.Sprintf("s%d", i), "B-0417"}, Level: level})
		}
	}
	return look
}

// BenchmarkStep is the rules for 200 saws after one reading, beside the limit of 1 ms.
func BenchmarkStep(b *testing.B) {
	look, book := busy(200), Open(nil, 0, nil)
	channels := []Channel{{Name: "office", Flood: 4, Cap: 8, Per: time.Minute}, {Name: "boss", Flood: 4, Cap: 8, Per: time.Minute, After: time.Hour}}
	look.Facts[40].Level = 0.9 * look.Facts[40].Level // one stands, or is near it
	b.ReportAllocs()
	for i := 0; b.Loop(); i++ {
		now := noon.Add(time.Duration(i) * time.Second)
		book.Step(&Rules{}, look, now)
		book.Post(channels, now)
		book.Unsaved(now)
	}
	b.ReportMetric(float64(b.Elapsed().Microseconds())/float64(b.N)/1000, "of-1ms")
}

// BenchmarkOpen is the memory of 10,000 conditions that stand, beside the limit of 50 MB.
func BenchmarkOpen(b *testing.B) {
	for b.Loop() {
		b.StopTimer()
		before := heap()
		b.StartTimer()
		book := Open(nil, 0, nil)
		look := &Look{Kinds: []Kind{UnexplainedStop}}
		for i := range 10_000 {
			saw := fmt.Sprintf("plant-%d/saws/s%d", i%7, i)
			look.Facts = append(look.Facts, Fact{Key: Key{UnexplainedStop, saw, ""}, Level: 40, Words: Words{
				What: saw + " has stood for 40 min, and nobody said why", Sure: "by its own state of 14:05, heard 12 s ago", Path: "saw/" + saw,
				Check: []string{"ask at the saw what it waits for", "explain the stop: gullet downtime explain"},
			}})
		}
		book.Step(&Rules{}, look, noon)
		book.Post([]Channel{{Name: "office", Flood: 4, Cap: 8, Per: time.Minute}}, noon)
		look = nil
		book.Unsaved(noon)
		b.StopTimer()
		b.ReportMetric(float64(heap()-before)/50e6, "of-50MB")
		if len(book.Standing()) != 10_000 {
			b.Fatal("not all stand")
		}
		b.StartTimer()
	}
}

func heap() uint64 {
	var m runtime.MemStats
	runtime.GC()
	runtime.ReadMemStats(&m)
	return m.HeapAlloc
}
