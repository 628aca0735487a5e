package main

import (
	"cmp"
	"fmt"
	"math"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"gullet/analyze"
	"gullet/cmd/gullet/internal/sim"
	"gullet/ingest"
	"gullet/store"
)

// TestWhatIsStoredIsWhatHappened runs 60 days of the simulated shop, with
// every fault, through the decoder into the store, and holds what is stored
// against what really happened. The source of the truth is the generative
// model (domain reference, section 10), which shares no code with the store.
func TestWhatIsStoredIsWhatHappened(t *testing.T) {
	s := runShop(t)
	t.Run("every reading that keeps the contract is stored, and none twice", s.checkCounts)
	t.Run("what breaks the contract is rejected, and nothing else", s.checkRejected)
	t.Run("each blade's square inches are those that were told", s.checkAreas)
	t.Run("each blade hung where and when it really did, and left for the reason it did", s.checkFittings)
	t.Run("the gaps are the readings that were not sent", s.checkGaps)
}

type storedShop struct {
	truth    sim.Truth
	saws     []store.SawRow
	fittings []store.FittingRow
	rejected []store.RejectedRow
	gaps     []store.SawGap
	outcomes map[analyze.Outcome]int
}

func runShop(t *testing.T) *storedShop {
	t.Helper()
	const days = 60
	db, err := store.Open(t.Context(), store.Options{
		Path: filepath.Join(t.TempDir(), "gullet.db"),
		Rate: func(string, string) (float64, bool) { return 5, true },
	})
	if err != nil {
		t.Fatal(err)
	}
	defer func() { _ = db.Close() }()
	decoder := ingest.NewDecoder(ingest.Options{})
	shop := sim.New(sim.Options{Seed: 1, Start: time.Date(2026, 1, 5, 0, 0, 0, 0, time.UTC), Days: days, Faults: true})
	s := &storedShop{outcomes: map[analyze.Outcome]int{}}
	var batch []analyze.Arrival
	flush := func() {
		outcomes, err := db.Append(t.Context(), batch)
		if err != nil {
			t.Fatal(err)
		}
		for _, o := range outcomes {
			s.outcomes[o]++
		}
		batch = batch[:0]
	}
	for line, ok := shop.Next(); ok; line, ok = shop.Next() {
		a := decoder.Decode(line.Topic, line.Payload, line.Retain, line.At.Add(200*time.Millisecond))
		a.Topic, a.Payload = line.Topic, line.Payload
		if batch = append(batch, a); len(batch) == 137 {
			flush()
		}
	}
	flush()
	s.truth = shop.Truth()
	s.saws = must(db.Saws(t.Context()))
	s.fittings = must(db.Fittings(t.Context(), time.Time{}))
	s.rejected = must(db.Rejected(t.Context(), store.RejectedFilter{}))
	s.gaps = must(db.Gaps(t.Context()))
	return s
}

func must[T any](x T, err error) T {
	if err != nil {
		panic(err)
	}
	return x
}

func (s *storedShop) checkCounts(t *testing.T) {
	for _, want := range s.truth.Saws {
		i := slices.IndexFunc(s.saws, func(r store.SawRow) bool { return r.Name == want.Name })
		if i < 0 {
			t.Errorf("saw %s is not stored", want.Name)
			continue
		}
		for _, k := range analyze.Kinds() {
			if got := s.saws[i].Counts[k]; got != int64(want.Messages[k]) {
				t.Errorf("saw %s: %d readings of kind %s, want %d", want.Name, got, k, want.Messages[k])
			}
		}
	}
}

func (s *storedShop) checkRejected(t *testing.T) {
	want := 0
	for _, n := range s.truth.Rejects {
		want += n
	}
	got := int64(0)
	for i := range s.rejected {
		got += s.rejected[i].Times
	}
	if got != int64(want) {
		t.Errorf("%d messages rejected, want %d: %v", got, want, s.truth.Rejects)
	}
	if want == 0 {
		t.Error("the shop sent nothing wrong: nothing was checked")
	}
}

// checkAreas allows for passes that stopped without telling how far they got:
// what the store estimates for them is theirs alone.
func (s *storedShop) checkAreas(t *testing.T) {
	got := map[string]float64{}
	for i := range s.fittings {
		got[s.fittings[i].Serial] += s.fittings[i].Area
	}
	if got[""] > 0 {
		t.Errorf("%.0f in² are on blades without a name", got[""])
	}
	for _, b := range s.truth.Blades {
		estimated := got[b.Serial] - b.Told
		if estimated < -1e-6*b.Told-1e-9 || estimated > 1e-6*b.Told+2*b.Untold+1e-9 {
			t.Errorf("blade %s: %.3f in² stored, %.3f told, %.3f not told", b.Serial, got[b.Serial], b.Told, b.Untold)
		}
	}
}

func (s *storedShop) checkFittings(t *testing.T) {
	type stay struct {
		serial, saw string
		from, to    time.Time
		reason      analyze.EndReason
	}
	var got, want []stay
	for i := range s.fittings {
		f := &s.fittings[i]
		got = append(got, stay{f.Serial, f.Saw, f.Start, f.End, f.Reason})
	}
	for _, b := range s.truth.Blades {
		for _, f := range b.Fittings {
			want = append(want, stay{b.Serial, f.Saw, f.From, f.To, f.Reason})
		}
	}
	order := func(a, b stay) int {
		return cmp.Or(cmp.Compare(a.saw, b.saw), a.from.Compare(b.from))
	}
	slices.SortFunc(got, order)
	slices.SortFunc(want, order)
	if len(got) != len(want) {
		t.Fatalf("%d fittings stored, %d there were", len(got), len(want))
	}
	for i, w := range want {
		g := got[i]
		ended := near(g.to, w.to)
		if w.reason == analyze.ReasonBrokeBody || w.reason == analyze.ReasonBrokeWeld {
			// The ledger ends a blade when it broke; the truth notes when the
			// pieces were taken off, within the two hours after.
			late := w.to.Sub(g.to)
			ended = late >= 0 && late < 2*time.Hour
		}
		if g.serial != w.serial || g.saw != w.saw || g.reason != w.reason || !near(g.from, w.from) || !ended {
			t.Errorf("stored %v, really %v", g, w)
		}
	}
}

// near allows for the clock of s3, which is 95 s off until day 20.
func near(a, b time.Time) bool {
	return a.IsZero() == b.IsZero() && math.Abs(a.Sub(b).Seconds()) <= 100
}

func (s *storedShop) checkGaps(t *testing.T) {
	missing := map[string]bool{}
	for _, g := range s.gaps {
		for n := g.First; n <= g.Last; n++ {
			missing[fmt.Sprint(g.Saw, " ", n)] = true
		}
	}
	for _, m := range s.truth.Missing {
		if key := fmt.Sprint(m.Saw, " ", m.Seq); !missing[key] {
			t.Errorf("reading %s was never sent, and no gap shows it", key)
		}
	}
	// A rejected message has a number too that is not among those stored: the
	// 90-degree cuts of s5, where nobody configured its scale.
	others := len(missing) - len(s.truth.Missing)
	if want := s.truth.Rejects[sim.WrongMitre]; others != want {
		t.Errorf("%d numbers are missing beside those never sent, want the %d of rejected square cuts", others, want)
	}
}
