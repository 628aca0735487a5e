package analyze_test

import (
	"errors"
	"fmt"
	"slices"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	. "gullet/analyze"
)

var dayStart = time.Date(2026, 3, 2, 6, 0, 0, 0, time.UTC)

func at(minute int) time.Time { return dayStart.Add(time.Duration(minute) * time.Minute) }

// saw is what a ledger is derived from, in memory.
type saw struct {
	events []LedgerEvent
	passes []LedgerPass
	fits   []LedgerEvent // on other saws
}

func (s *saw) source() LedgerSource {
	return LedgerSource{
		Next: func(after, until time.Time, except ...string) (LedgerPass, bool, error) {
			var best *LedgerPass
			for i := range s.passes {
				p := &s.passes[i]
				if !p.At.After(after) || !until.IsZero() && p.At.After(until) || slices.Contains(except, p.Serial) {
					continue
				}
				if best == nil || p.At.Before(best.At) || p.At.Equal(best.At) && p.Serial < best.Serial {
					best = p
				}
			}
			if best == nil {
				return LedgerPass{}, false, nil
			}
			return *best, true, nil
		},
		Away: func(serial string, after time.Time) (LedgerEvent, bool, error) {
			for _, f := range s.fits { // in order of time
				if f.Serial == serial && f.At.After(after) {
					return f, true, nil
				}
			}
			return LedgerEvent{}, false, nil
		},
	}
}

func (s *saw) derive(t testing.TB, seed LedgerSeed) ([]LedgerFitting, []LedgerRemark) {
	t.Helper()
	SortLedgerEvents(s.events)
	var rest []LedgerEvent
	for _, e := range s.events {
		if !e.At.Before(seed.From) {
			rest = append(rest, e)
		}
	}
	fittings, remarks, err := Ledger(seed, rest, s.source())
	if err != nil {
		t.Fatal(err)
	}
	return fittings, remarks
}

func show(fittings []LedgerFitting) []string {
	lines := []string{}
	for _, f := range fittings {
		end := "on"
		if !f.Open() {
			end = fmt.Sprintf("%v %s", f.End.Sub(dayStart), f.Reason)
		}
		lines = append(lines, fmt.Sprintf("%q %v to %s (%s)", f.Serial, f.Start.Sub(dayStart), end, f.Basis))
	}
	return lines
}

func event(minute int, a LedgerAction, serial string, reason EndReason) LedgerEvent {
	return LedgerEvent{At: at(minute), Action: a, Serial: serial, Reason: reason}
}

func TestLedger(t *testing.T) {
	corrected := func(e LedgerEvent) LedgerEvent { e.Corrected = true; return e }
	for name, tc := range map[string]struct {
		saw     saw
		want    []string
		remarks int
	}{
		"nothing": {want: []string{}},
		"removal and fit in the same second": {
			saw: saw{events: []LedgerEvent{
				event(5, LedgerFit, "B", ""), event(5, LedgerRemove, "A", ReasonDull), event(0, LedgerFit, "A", ""),
			}},
			want: []string{`"A" 0s to 5m0s dull (message)`, `"B" 5m0s to on (message)`},
		},
		"a correction has the last word on one instant": {
			saw:  saw{events: []LedgerEvent{corrected(event(0, LedgerFit, "B", "")), event(0, LedgerFit, "A", "")}},
			want: []string{`"B" 0s to on (correction)`},
		},
		"a removal after the next fit explains the blade before": {
			saw: saw{events: []LedgerEvent{
				event(0, LedgerFit, "A", ""), event(5, LedgerFit, "B", ""), event(6, LedgerRemove, "A", ReasonStripped),
			}},
			want: []string{`"A" 0s to 5m0s stripped (message)`, `"B" 5m0s to on (message)`},
		},
		"a removal of a blade that was not on takes the one that was": {
			saw:  saw{events: []LedgerEvent{event(0, LedgerFit, "A", ""), event(5, LedgerRemove, "X", ReasonDull)}},
			want: []string{`"A" 0s to 5m0s dull (message)`},
		},
		"a removal cannot undo a break": {
			saw: saw{events: []LedgerEvent{
				event(0, LedgerFit, "A", ""), event(5, LedgerBreak, "", ""), event(6, LedgerRemove, "A", ReasonPlanned),
			}, passes: []LedgerPass{{At: at(5)}}},
			want: []string{`"A" 0s to 5m0s broke (message)`},
		},
		"a removal of another serial after a break still explains it": {
			saw: saw{events: []LedgerEvent{
				event(0, LedgerFit, "A", ""), event(5, LedgerBreak, "", ""), event(6, LedgerRemove, "a", ReasonBrokeBody),
			}, passes: []LedgerPass{{At: at(5)}}},
			want: []string{`"A" 0s to 5m0s broke-body (message)`},
		},
		"nothing to remove, nothing to name": {
			saw:     saw{events: []LedgerEvent{event(5, LedgerRemove, "A", ReasonDull), corrected(event(6, LedgerName, "B", ""))}},
			want:    []string{},
			remarks: 2,
		},
		"cuts before any message": {
			saw: saw{events: []LedgerEvent{event(9, LedgerFit, "A", "")}, passes: []LedgerPass{{At: at(3)}, {At: at(5), Serial: "Z"}}},
			want: []string{
				`"" 2m59.999999s to 4m59.999999s unknown (none)`, `"Z" 4m59.999999s to 9m0s unknown (cut)`, `"A" 9m0s to on (message)`,
			},
		},
		"the serial that lingers after a removal hangs no blade": {
			saw: saw{
				events: []LedgerEvent{event(0, LedgerFit, "A", ""), event(5, LedgerRemove, "A", ReasonDull)},
				passes: []LedgerPass{{At: at(6), Serial: "A"}, {At: at(7), Serial: "B"}, {At: at(8), Serial: "A"}},
			},
			want: []string{
				`"A" 0s to 5m0s dull (message)`, `"" 5m59.999999s to 6m59.999999s unknown (none)`,
				`"B" 6m59.999999s to 7m59.999999s unknown (cut)`, `"A" 7m59.999999s to on (cut)`,
			},
		},
		"fitted on another saw": {
			saw: saw{
				events: []LedgerEvent{event(0, LedgerFit, "A", ""), event(9, LedgerRemove, "A", ReasonMoved)},
				fits:   []LedgerEvent{{At: at(5), Action: LedgerAway, Serial: "A", Saw: "s2"}},
			},
			want: []string{`"A" 0s to 5m0s moved (message)`},
		},
		"a name holds from the beginning of the fitting": {
			saw: saw{
				events: []LedgerEvent{corrected(event(5, LedgerName, "A", "")), event(7, LedgerRemove, "A", ReasonDull)},
				passes: []LedgerPass{{At: at(3)}, {At: at(6), Serial: "Z"}},
			},
			want: []string{`"A" 2m59.999999s to 7m0s dull (correction)`},
		},
	} {
		t.Run(name, func(t *testing.T) {
			fittings, remarks := tc.saw.derive(t, LedgerSeed{})
			if diff := cmp.Diff(tc.want, show(fittings)); diff != "" {
				t.Errorf("(-want +got):\n%s", diff)
			}
			if len(remarks) != tc.remarks {
				t.Errorf("remarks %v, want %d", remarks, tc.remarks)
			}
		})
	}
}

func TestLedgerNotes(t *testing.T) {
	for name, tc := range map[string]struct {
		saw  saw
		want string
	}{
		"fit over fit": {saw{events: []LedgerEvent{event(0, LedgerFit, "A", ""), event(5, LedgerFit, "B", "")}}, "ended when B was fitted without a removal"},
		"other serial": {saw{events: []LedgerEvent{event(0, LedgerFit, "A", ""), event(5, LedgerRemove, "X", "")}}, "the removal names the blade X"},
		"moved": {saw{
			events: []LedgerEvent{event(0, LedgerFit, "A", "")},
			fits:   []LedgerEvent{{At: at(5), Action: LedgerAway, Serial: "A", Saw: "s2"}},
		}, "fitted on saw s2 without a removal here"},
		"next cut": {saw{passes: []LedgerPass{{At: at(1), Serial: "A"}, {At: at(2), Serial: "B"}}}, "ended when a cut named the blade B"},
	} {
		fittings, _ := tc.saw.derive(t, LedgerSeed{})
		if fittings[0].Note != tc.want {
			t.Errorf("%s: note %q, want %q", name, fittings[0].Note, tc.want)
		}
	}
}

func TestLedgerPassesErrorsOn(t *testing.T) {
	broken := errors.New("disk gone")
	src := (&saw{}).source()
	src.Next = func(time.Time, time.Time, ...string) (LedgerPass, bool, error) { return LedgerPass{}, false, broken }
	if _, _, err := Ledger(LedgerSeed{}, nil, src); !errors.Is(err, broken) {
		t.Errorf("next: %v", err)
	}
	src = (&saw{}).source()
	src.Away = func(string, time.Time) (LedgerEvent, bool, error) { return LedgerEvent{}, false, broken }
	if _, _, err := Ledger(LedgerSeed{}, []LedgerEvent{event(0, LedgerFit, "A", "")}, src); !errors.Is(err, broken) {
		t.Errorf("away: %v", err)
	}
}

func drawSaw(t *rapid.T) saw {
	var s saw
	serial := rapid.SampledFrom([]string{"A", "B", "C"})
	for i := range rapid.IntRange(1, 20).Draw(t, "things") {
		minute := i + rapid.IntRange(-1, 1).Draw(t, "shift")
		switch k := rapid.IntRange(0, 9).Draw(t, "what"); k {
		case 0, 1:
			s.events = append(s.events, event(minute, LedgerFit, serial.Draw(t, "fit"), ""))
		case 2:
			s.events = append(s.events, event(minute, LedgerRemove, serial.Draw(t, "remove"), ReasonDull))
		case 3:
			s.events = append(s.events, event(minute, LedgerBreak, "", ""))
			s.passes = append(s.passes, LedgerPass{At: at(minute)})
		case 4:
			s.fits = append(s.fits, LedgerEvent{At: at(i), Action: LedgerAway, Serial: serial.Draw(t, "away"), Saw: "s2"})
		case 5:
			e := event(minute, LedgerName, serial.Draw(t, "name"), "")
			e.Corrected = true
			s.events = append(s.events, e)
		default:
			s.passes = append(s.passes, LedgerPass{At: at(minute), Serial: rapid.SampledFrom([]string{"", "A", "B"}).Draw(t, "seen")})
		}
	}
	return s
}

// Every pass lies in exactly one fitting; fittings follow one another; only
// the last is open; one that does not say so ended for a reason.
func TestLedgerCoversEveryPassOnce(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		s := drawSaw(rt)
		fittings, _ := s.derive(t, LedgerSeed{})
		for _, p := range s.passes {
			n := 0
			for i := range fittings {
				if fittings[i].Covers(p.At) {
					n++
				}
			}
			if n != 1 {
				rt.Fatalf("pass at %s lies in %d fittings of %v", p.At.Sub(dayStart), n, show(fittings))
			}
		}
		for i, f := range fittings {
			if i+1 < len(fittings) && (f.Open() || f.End.After(fittings[i+1].Start)) {
				rt.Fatalf("%v overlap", show(fittings))
			}
			if f.Open() != (f.Reason == "") || !f.Open() && !f.End.After(f.Start) {
				rt.Fatalf("%v", show(fittings))
			}
		}
	})
}

// A ledger taken up again at a fitting goes on as if it had never stopped.
func TestLedgerGoesOnFromASeed(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		s := drawSaw(rt)
		whole, _ := s.derive(t, LedgerSeed{})
		var last *LedgerFitting
		for i := range whole {
			f := &whole[i]
			if f.Serial != "" {
				again, _ := s.derive(t, LedgerSeed{From: f.Start, Stale: f.Stale, Last: last})
				if diff := cmp.Diff(whole[i:], again); diff != "" {
					rt.Fatalf("from fitting %d of %v:\n%s", i, show(whole), diff)
				}
				last = f
			}
		}
	})
}

// A pass that the ledger calls settled changes nothing when it comes late.
func TestSettledPassChangesNothing(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		s := drawSaw(rt)
		before, _ := s.derive(t, LedgerSeed{})
		p := LedgerPass{At: at(rapid.IntRange(-2, 21).Draw(rt, "late")), Serial: rapid.SampledFrom([]string{"", "A", "B"}).Draw(rt, "its serial")}
		settled := false
		for i := range before {
			settled = settled || before[i].Covers(p.At) && before[i].Settled(p.At, p.Serial)
		}
		if !settled {
			return
		}
		s.passes = append(s.passes, p)
		if after, _ := s.derive(t, LedgerSeed{}); !cmp.Equal(before, after) {
			rt.Fatalf("pass %v\n%s", p, cmp.Diff(show(before), show(after)))
		}
	})
}
