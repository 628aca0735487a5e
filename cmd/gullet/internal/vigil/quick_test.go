package vigil_test

import (
	"errors"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"gullet/analyze"
	"gullet/analyze/alert"
	"gullet/cmd/gullet/internal/floor"
	"gullet/cmd/gullet/internal/vigil"
	"gullet/config"
	"gullet/ingest"
	"gullet/store"
)

// noon is in a shift: without [[shift]] the saws are taken to work around the clock once
// a plan has looked; here one shift is configured.
var noon = time.Date(2026, 3, 3, 12, 0, 0, 0, time.UTC)

const oneShift = `
[[shift]]
name = "day"
start = "06:00"
end = "18:00"
days = ["mon", "tue", "wed", "thu", "fri"]
[[saw]]
name = "s1"
trip_limit = 0.012
`

// bench is a shop into which a test puts what the saws say.
type bench struct {
	t      *testing.T
	db     *store.Store
	cfg    *config.Config
	looker *vigil.Looker
	burst  time.Time // when everything arrives, zero for at once
}

func newBench(t *testing.T) *bench {
	t.Helper()
	file := filepath.Join(t.TempDir(), "gullet.toml")
	write(t, file, oneShift)
	loaded, err := config.Load(config.Options{File: file})
	if err != nil {
		t.Fatal(err)
	}
	db, err := store.Open(t.Context(), store.Options{Path: filepath.Join(t.TempDir(), "gullet.db")})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = db.Close() })
	return &bench{t: t, db: db, cfg: &loaded.Config, looker: &vigil.Looker{Store: db, Config: &loaded.Config, RejectedSince: db.RejectedSince}}
}

// say is a message of s1 so many minutes before noon.
func (b *bench) say(before float64, kind, body string) {
	b.t.Helper()
	at := noon.Add(-time.Duration(before * float64(time.Minute)))
	payload := fmt.Sprintf(`{"id":"%s-%g","at":%q%s}`, kind, before, at.Format(time.RFC3339Nano), body)
	received := at.Add(200 * time.Millisecond)
	if !b.burst.IsZero() {
		received = b.burst
	}
	a := ingest.NewDecoder(ingest.Options{}).Decode("saws/s1/"+kind, []byte(payload), false, received)
	if _, err := b.db.Append(b.t.Context(), []analyze.Arrival{a}); err != nil {
		b.t.Fatal(err)
	}
}

// look is a quick look at noon, by kind.
func (b *bench) look(deaf bool, now time.Time) map[alert.Kind]alert.Fact {
	b.t.Helper()
	f, err := floor.Build(b.t.Context(), b.db, b.cfg, now)
	if err != nil {
		b.t.Fatal(err)
	}
	look, err := b.looker.Quick(b.t.Context(), f, deaf, now)
	if err != nil {
		b.t.Fatal(err)
	}
	facts := map[alert.Kind]alert.Fact{}
	for _, fact := range look.Facts {
		facts[fact.Kind] = fact
	}
	return facts
}

const (
	fitted = `,"action":"fit","blade":"B-1","type":"wide"`
	cut    = `,"seconds":60,"section":"RD6","grade":"1018","blade":"B-1","deviation":%g,"limit":0.012`
)

func passes(b *bench, kind string, n int, from, deviation float64) {
	for i := range n {
		b.say(from-float64(i)*2, kind, fmt.Sprintf(cut, deviation))
	}
}

func TestWhatAQuickLookFinds(t *testing.T) {
	for _, c := range []struct {
		name  string
		say   func(*bench)
		kind  alert.Kind
		level float64 // NaN is not known
		none  bool
		words string
	}{
		{"well", func(b *bench) { passes(b, "cut", 5, 30, 0.003) }, alert.LimitReached, 0.25, false, "limit"},
		{"reaches its limit", func(b *bench) { passes(b, "cut", 5, 30, 0.003); passes(b, "cut", 1, 3, -0.015) }, alert.LimitReached, 1.25, false, "B-1"},
		{"four cuts ago", func(b *bench) { passes(b, "cut", 1, 30, -0.015); passes(b, "cut", 4, 10, 0.003) }, alert.LimitReached, 0.25, false, ""},
		{"trips again and again", func(b *bench) { passes(b, "cut", 9, 60, 0.003); passes(b, "trip", 3, 10, 0.012) }, alert.RepeatedTrips, 3, false, "3 of the last 10 cuts"},
		{"broke", func(b *bench) {
			passes(b, "cut", 3, 30, 0.003)
			b.say(5, "break", `,"seconds":20,"section":"RD6","where":"weld","blade":"B-1"`)
		}, alert.BladeBreak, 1, false, "B-1"},
		{"broke and has another", func(b *bench) {
			b.say(9, "break", `,"seconds":20,"section":"RD6","where":"weld","blade":"B-1"`)
			b.say(5, "blade", strings.ReplaceAll(fitted, "B-1", "B-2"))
		}, alert.BladeBreak, 0, true, ""},
		{"ended early, and no life is known", func(b *bench) { b.say(5, "blade", `,"action":"remove","blade":"B-1","reason":"stripped"`) }, alert.EarlyEnd, math.NaN(), false, ""},
		{"for want of material", func(b *bench) { b.say(40, "state", `,"state":"stopped","cause":"out-of-stock"`) }, alert.OutOfStock, 40, false, "out-of-stock"},
		{"and nobody said why", func(b *bench) { b.say(35, "state", `,"state":"stopped"`) }, alert.UnexplainedStop, 35, false, "nobody said why"},
		{"silent", func(b *bench) { passes(b, "cut", 1, 25, 0) }, alert.Silent, 25, false, "no reading since"},
		{"stands and said so", func(b *bench) {
			b.say(41, "alive", `,"online":true`)
			b.say(40, "state", `,"state":"stopped","cause":"out-of-stock"`)
		}, alert.Silent, 0, true, ""},
		{"numbers are missing", func(b *bench) {
			b.say(30, "cut", `,"seq":1,"seconds":60,"section":"RD6"`)
			b.say(20, "cut", `,"seq":5,"seconds":60,"section":"RD6"`)
		}, alert.Missing, 3, false, "3 readings are missing"},
		{"rejected", func(b *bench) { b.say(20, "cut", `,"seconds":"many"`); b.say(21, "cut", `,"mitre":90`) }, alert.Rejected, 2, false, "2 messages were rejected"},
	} {
		t.Run(c.name, func(t *testing.T) {
			b := newBench(t)
			b.say(120, "blade", fitted)
			c.say(b)
			f, ok := b.look(false, noon)[c.kind]
			if ok == c.none {
				t.Fatalf("found: %v, %+v", ok, f)
			}
			if c.none {
				return
			}
			if math.Abs(f.Level-c.level) > 0.5 && c.level > 20 || c.level <= 20 && math.Abs(f.Level-c.level) > 1e-9 || math.IsNaN(f.Level) != math.IsNaN(c.level) {
				t.Errorf("level %g, want %g", f.Level, c.level)
			}
			if !strings.Contains(f.Words.What, c.words) && f.Words.Blade != c.words {
				t.Errorf("it says %q", f.Words.What)
			}
		})
	}
}

// A history that comes at once, hours after it happened, raises nothing, whatever it tells.
func TestAHistoryReplayedRaisesNothing(t *testing.T) {
	b := newBench(t)
	b.say(1600, "blade", fitted)
	passes(b, "cut", 60, 1500, 0.003) // live, the day before: its clock is known to be right
	b.burst = noon.Add(5 * time.Hour)
	passes(b, "cut", 9, 90, 0.003)
	passes(b, "trip", 4, 20, 0.013)
	b.say(5, "break", `,"seconds":20,"section":"RD6","where":"weld","blade":"B-1"`)
	b.say(4, "state", `,"state":"stopped","cause":"out-of-stock"`)
	now := b.burst.Add(3 * time.Second)
	f, err := floor.Build(t.Context(), b.db, b.cfg, now)
	if err != nil {
		t.Fatal(err)
	}
	book := alert.Open(nil, 0, nil)
	for i := range 60 {
		at := now.Add(time.Duration(i) * 5 * time.Second)
		look, err := b.looker.Quick(t.Context(), f, false, at)
		if err != nil {
			t.Fatal(err)
		}
		if changes := book.Step(b.cfg.AlertRules(), &look, at); len(changes) > 0 {
			t.Fatalf("raised: %+v", book.Standing())
		}
	}
}

// While no saw is heard nothing is said of silence and standing still.
func TestADeafLookKnowsNothingOfSilence(t *testing.T) {
	b := newBench(t)
	b.say(60, "cut", fmt.Sprintf(cut, 0.003))
	facts := b.look(true, noon)
	for _, kind := range []alert.Kind{alert.Silent, alert.UnexplainedStop, alert.OutOfStock} {
		if f, ok := facts[kind]; !ok || !math.IsNaN(f.Level) {
			t.Errorf("%s: %v %+v", kind, ok, f)
		}
	}
}

func TestALookAtGulletItself(t *testing.T) {
	b := newBench(t)
	for _, c := range []struct {
		name  string
		state vigil.OwnState
		want  map[alert.Key]float64
	}{
		{"all is well", vigil.OwnState{Free: func() (float64, error) { return 40, nil }}, map[alert.Key]float64{{Kind: alert.DiskFull}: 40}},
		{"the disk cannot be asked", vigil.OwnState{Free: func() (float64, error) { return 0, errors.New("no") }}, map[alert.Key]float64{{Kind: alert.DiskFull}: math.NaN()}},
		{"all is wrong", vigil.OwnState{
			BrokerLost: noon.Add(-3 * time.Minute), Free: func() (float64, error) { return 2, nil }, Database: errors.New("page 7 is damaged"),
			Failing: map[string]time.Time{"office": noon.Add(-20 * time.Minute)},
		}, map[alert.Key]float64{
			{Kind: alert.BrokerLost}: 3, {Kind: alert.DiskFull}: 2, {Kind: alert.DatabaseError}: 1, {Kind: alert.DeliveryFailing, Of: "office"}: 20,
		}},
	} {
		t.Run(c.name, func(t *testing.T) {
			look := b.looker.Own(c.state, noon)
			if len(look.Facts) != len(c.want) {
				t.Errorf("found %+v", look.Facts)
			}
			for _, f := range look.Facts {
				want, ok := c.want[f.Key]
				if !ok || want != f.Level && !(math.IsNaN(want) && math.IsNaN(f.Level)) {
					t.Errorf("%s: %g, want %g", f.Key, f.Level, want)
				}
			}
		})
	}
}

func write(t *testing.T, path, text string) {
	t.Helper()
	if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
}
