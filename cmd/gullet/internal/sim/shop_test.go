package sim

import (
	"bytes"
	"flag"
	"fmt"
	"maps"
	"math"
	"os"
	"slices"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"gullet/analyze"
)

var update = flag.Bool("update", false, "rewrite the golden files")

func TestSameOptionsSameBytes(t *testing.T) {
	o := options(t)
	o.Days, o.Faults = 20, true
	a := run(New(o))
	if !slices.EqualFunc(a, run(New(o)), sameLine) {
		t.Error("two runs differ")
	}
	o.Seed++
	if slices.EqualFunc(a, run(New(o)), sameLine) {
		t.Error("another seed gives the same lines")
	}
}

func sameLine(a, b Line) bool {
	return a.Topic == b.Topic && bytes.Equal(a.Payload, b.Payload) && a.Retain == b.Retain && a.At.Equal(b.At)
}

func TestFirstLines(t *testing.T) {
	o := options(t)
	o.Faults = true
	s := New(o)
	var b bytes.Buffer
	for range 30 {
		l, _ := s.Next()
		if err := Write(&b, l); err != nil {
			t.Fatal(err)
		}
	}
	const file = "testdata/first-lines-seed-1.jsonl"
	if *update {
		if err := os.WriteFile(file, b.Bytes(), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(string(want), b.String()); diff != "" {
		t.Error(diff)
	}
}

func TestLeavingSawsOutChangesNothingElse(t *testing.T) {
	o := options(t)
	o.Days, o.Faults = 40, true
	all := run(New(o))
	for _, name := range []string{"s3", "s4", "s5"} {
		o.Saws = []string{name}
		alone := run(New(o))
		var same []Line
		for _, l := range all {
			if s, _ := hear(l); s.saw == name {
				same = append(same, l)
			}
		}
		if !slices.EqualFunc(same, alone, sameLine) {
			t.Errorf("%s alone says something else than among all", name)
		}
	}
}

// Mishaps of the telling have a stream of their own. S5 has no other faults.
func TestFaultsOfTellingChangeNothingThatHappens(t *testing.T) {
	o := options(t)
	o.Saws = []string{"s5"}
	area := func(faults bool) map[string]float64 {
		o.Faults = faults
		s := New(o)
		run(s)
		out := map[string]float64{}
		for _, b := range s.Truth().Blades {
			out[b.Serial] = b.Area
		}
		return out
	}
	if diff := cmp.Diff(area(false), area(true)); diff != "" {
		t.Error(diff)
	}
}

// Every word must be one the vocabulary knows; hear checks required members.
func TestEveryMessageKeepsTheContract(t *testing.T) {
	ids := map[string]bool{}
	causes := append(analyze.Causes(), "")
	for _, l := range run(New(options(t))) {
		s, err := hear(l)
		if err != nil {
			t.Fatalf("%s %s: %v", l.Topic, l.Payload, err)
		}
		if ids[s.ID] || len(s.ID) > 64 {
			t.Fatalf("id %q comes twice or is too long", s.ID)
		}
		ids[s.ID] = true
		switch analyze.Kind(s.kind) {
		case analyze.KindState:
			if !slices.Contains(analyze.States(), analyze.State(s.State)) || !slices.Contains(causes, analyze.Cause(s.Cause)) {
				t.Fatalf("unknown state or cause: %s", l.Payload)
			}
		case analyze.KindBlade:
			if s.Reason != "" && !slices.Contains(analyze.EndReasons(), analyze.EndReason(s.Reason)) {
				t.Fatalf("unknown reason: %s", l.Payload)
			}
			if (s.Action == "remove") != (s.Reason != "") || (s.Action == "fit") != (s.Type != "") {
				t.Fatalf("reason or type out of place: %s", l.Payload)
			}
		case analyze.KindCut, analyze.KindTrip, analyze.KindBreak:
			if *s.Seconds <= 0 || s.From < 0 || s.From >= 1 || s.Done != nil && (*s.Done < s.From || *s.Done > 1) {
				t.Fatalf("impossible numbers: %s", l.Payload)
			}
			if (s.Blade == "") != (s.saw == "s5") {
				t.Fatalf("only s5 does not name the blade: %s", l.Payload)
			}
		}
	}
}

func TestLinesComeInOrderOfPublishingAndSawsInOrderOfTime(t *testing.T) {
	var last time.Time
	before := map[string]said{}
	for _, l := range run(New(options(t))) {
		if l.At.Before(last) {
			t.Fatalf("published at %v after %v: %s", l.At, last, l.Payload)
		}
		last = l.At
		s, _ := hear(l)
		b, started := before[s.saw], s.At
		if s.Seconds != nil {
			started = s.At.Add(-time.Duration(*s.Seconds * 1e9))
		}
		if started.Before(b.At.Add(-2 * time.Millisecond)) {
			t.Fatalf("begins at %v, before %s ended: %s", started, b.line.Payload, l.Payload)
		}
		if s.Seq != nil && b.Seq != nil && *s.Seq != *b.Seq+1 {
			t.Fatalf("seq %d after %d: %s", *s.Seq, *b.Seq, l.Payload)
		}
		before[s.saw] = s
	}
}

// A saw trips at the limit and only there, and goes on where it stopped.
func TestTripsAreAtTheLimitAndResume(t *testing.T) {
	open := map[string]said{}
	trips, resumed, untold := 0, 0, 0
	for _, l := range run(New(options(t))) {
		s, _ := hear(l)
		switch {
		case s.kind == "trip":
			trips++
			if math.Abs(*s.Deviation) < *s.Limit-1e-4 || s.From != 0 {
				t.Fatalf("trip under its limit, or of a resumed cut: %s", l.Payload)
			}
			open[s.saw] = s
			if s.Done == nil {
				untold++
			}
		case s.kind == "cut" && s.From > 0:
			resumed++
			trip, ok := open[s.saw]
			if !ok || trip.Done != nil && *trip.Done != s.From || string(trip.Section) != string(s.Section) {
				t.Fatalf("%s does not go on from %s", l.Payload, trip.line.Payload)
			}
			delete(open, s.saw)
		case s.kind == "cut" && open[s.saw].ID != "":
			t.Fatalf("another cut before the tripped one went on: %s", l.Payload)
		case s.kind == "break":
			delete(open, s.saw) // broke while it went on
		}
	}
	if trips < 20 || trips-resumed > 5 || untold == 0 || untold == trips {
		t.Errorf("%d trips, %d resumed, %d without done", trips, resumed, untold)
	}
}

// ledger adds up what the lines tell, as a reader does who takes each reading
// once, in the order the saw made them.
func ledger(t *testing.T, lines []Line) (area map[string]float64, untold map[string]int, rejects map[string]int) {
	t.Helper()
	area, untold, rejects = map[string]float64{}, map[string]int{}, map[string]int{}
	var all []said
	seen := map[string]bool{}
	for _, l := range lines {
		s, err := hear(l)
		if err != nil {
			rejects[err.Error()]++
			continue
		}
		if !seen[s.ID] {
			seen[s.ID] = true
			all = append(all, s)
		}
	}
	slices.SortStableFunc(all, func(a, b said) int { return a.number - b.number })
	on := map[string]string{}
	for _, s := range all {
		switch s.kind {
		case "blade":
			on[s.saw] = ""
			if s.Action == "fit" {
				on[s.saw] = s.Blade
			}
		case "cut", "trip", "break":
			if s.Blade != "" && s.Blade != on[s.saw] {
				t.Fatalf("cut with %s while %s is on: %s", s.Blade, on[s.saw], s.line.Payload)
			}
			if a := told(t, s); math.IsNaN(a) {
				untold[on[s.saw]]++
			} else {
				area[on[s.saw]] += a
			}
		}
	}
	return area, untold, rejects
}

func TestTruthIsTheSumOfTheLines(t *testing.T) {
	for _, faults := range []bool{false, true} {
		t.Run(fmt.Sprintf("faults %t", faults), func(t *testing.T) {
			o := options(t)
			o.Faults = faults
			s := New(o)
			lines := run(s)
			truth := s.Truth()
			area, untold, rejects := ledger(t, lines)
			for _, b := range truth.Blades {
				// The published areas in the test are rounded to four or five digits.
				if !near(area[b.Serial], b.Told, 1e-4) {
					t.Errorf("%s: lines tell %.3f in², truth says %.3f", b.Serial, area[b.Serial], b.Told)
				}
				if (untold[b.Serial] > 0) != (b.Untold > 0) {
					t.Errorf("%s: %d untold in the lines, %.2f in² in truth", b.Serial, untold[b.Serial], b.Untold)
				}
				sum := 0.0
				for _, a := range b.ByGrade {
					sum += a
				}
				if !near(sum, b.Area, 1e-9) {
					t.Errorf("%s: grades sum to %.3f of %.3f", b.Serial, sum, b.Area)
				}
				if !faults && !near(b.Told+b.Untold, b.Area, 1e-9) {
					t.Errorf("%s: told %.3f and untold %.3f are not %.3f", b.Serial, b.Told, b.Untold, b.Area)
				}
			}
			if !maps.Equal(rejects, truth.Rejects) {
				t.Errorf("rejects %v, truth %v", rejects, truth.Rejects)
			}
			checkCounts(t, lines, truth)
		})
	}
}

func checkCounts(t *testing.T, lines []Line, truth Truth) {
	t.Helper()
	got := map[string]map[analyze.Kind]int{}
	seen := map[string]bool{}
	for _, l := range lines {
		if s, err := hear(l); err == nil && !seen[s.ID] {
			seen[s.ID] = true
			if got[s.saw] == nil {
				got[s.saw] = map[analyze.Kind]int{}
			}
			got[s.saw][analyze.Kind(s.kind)]++
		}
	}
	want := map[string]map[analyze.Kind]int{}
	for _, s := range truth.Saws {
		want[s.Name] = s.Messages
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("distinct messages, truth against lines: %s", diff)
	}
}

func TestEndlessShopGoesOnInBoundedMemory(t *testing.T) {
	o := options(t)
	o.Days, o.Faults = 0, true
	s := New(o)
	var last time.Time
	most := 0
	for range 120_000 {
		l, ok := s.Next()
		if !ok {
			t.Fatal("an endless shop ended")
		}
		last = l.At
		most = max(most, len(s.queue))
	}
	if days := s.day(last); days < 70 {
		t.Errorf("only %d days in 120,000 lines", days)
	}
	if most > 200 {
		t.Errorf("%d lines held at once", most)
	}
}

func TestShifts(t *testing.T) {
	z := chicago(t)
	for name, c := range map[string]struct {
		start   time.Time
		days    int
		zone    *time.Location
		first   time.Time // of any message
		begun   int       // shifts of a saw
		nothing bool
	}{
		"a Monday":             {start: time.Date(2026, 1, 26, 0, 0, 0, 0, z), days: 1, zone: z, first: time.Date(2026, 1, 26, 6, 0, 0, 0, z), begun: 2},
		"within a shift":       {start: time.Date(2026, 1, 26, 9, 30, 0, 0, z), days: 1, zone: z, first: time.Date(2026, 1, 26, 9, 30, 0, 0, z), begun: 2},
		"after the last shift": {start: time.Date(2026, 1, 26, 23, 0, 0, 0, z), days: 2, zone: z, first: time.Date(2026, 1, 27, 6, 0, 0, 0, z), begun: 2},
		"a weekend and Monday": {start: time.Date(2026, 1, 24, 0, 0, 0, 0, z), days: 3, zone: z, first: time.Date(2026, 1, 26, 6, 0, 0, 0, z), begun: 2},
		"a weekend":            {start: time.Date(2026, 1, 24, 0, 0, 0, 0, z), days: 2, zone: z, nothing: true},
		"no zone is UTC":       {start: time.Date(2026, 1, 26, 0, 0, 0, 0, time.UTC), days: 1, first: time.Date(2026, 1, 26, 6, 0, 0, 0, time.UTC), begun: 2},
		// 44 working days, as in the domain reference, section 10.
		"sixty days": {start: time.Date(2026, 1, 26, 0, 0, 0, 0, z), days: 60, zone: z, first: time.Date(2026, 1, 26, 6, 0, 0, 0, z), begun: 88},
	} {
		t.Run(name, func(t *testing.T) {
			s := New(Options{Seed: 1, Start: c.start, Days: c.days, Zone: c.zone, Saws: []string{"s2", "no such saw"}})
			lines := run(s)
			if c.nothing {
				if len(lines) > 0 {
					t.Errorf("%d lines on days off", len(lines))
				}
				return
			}
			if !lines[0].At.Truncate(time.Second).Equal(c.first) {
				t.Errorf("first line at %v, want %v", lines[0].At, c.first)
			}
			if got := s.Truth().Saws[0].Shifts; got != c.begun {
				t.Errorf("%d shifts, want %d", got, c.begun)
			}
			if last, _ := hear(lines[len(lines)-1]); last.State != "off" {
				t.Errorf("the last word is %s", last.line.Payload)
			}
		})
	}
}

// The areas of the model against worked examples and tables of the domain
// reference, 2.3 and 2.4, within the tolerances given there.
func TestSectionAreas(t *testing.T) {
	for _, list := range [][]section{shapes, hollow, bar} {
		for _, s := range list {
			if name, ok := s.says.(string); ok && !near(s.area, published[name], 1e-4) {
				t.Errorf("%s: %.4f in², want %.4f", name, s.area, published[name])
			}
		}
	}
	if got := rectTube(12, 8, .5); !near(got, 18.356, 1e-4) {
		t.Errorf("12x8x1/2: %.4f", got)
	}
}

func BenchmarkSixtyDays(b *testing.B) {
	o := options(b)
	o.Faults = true
	lines := 0
	for b.Loop() {
		lines = len(run(New(o)))
	}
	b.ReportMetric(float64(lines), "lines/op")
}
