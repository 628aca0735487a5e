package sim

import (
	"encoding/json"
	"math"
	"slices"
	"testing"
	"time"

	"gullet/analyze"
)

// troubled is a shop with every fault, drained.
func troubled(t *testing.T) (Truth, []said, *Shop) {
	t.Helper()
	o := options(t)
	o.Faults = true
	s := New(o)
	var all []said
	for _, l := range run(s) {
		h, _ := hear(l)
		all = append(all, h)
	}
	return s.Truth(), all, s
}

func TestFaults(t *testing.T) {
	truth, all, shop := troubled(t)
	fault := func(t *testing.T, name string) Fault {
		t.Helper()
		f, ok := truth.Fault(name)
		if !ok {
			t.Fatalf("truth does not list %q", name)
		}
		return f
	}
	// within reports whether a line was made, truly, during a fault.
	within := func(s said, f Fault) bool {
		return (f.Saw == "" || s.saw == f.Saw) && !s.line.At.Before(f.From) && s.line.At.Before(f.To)
	}

	t.Run("duplicates are byte-identical and about 0.3 %", func(t *testing.T) {
		first := map[string]said{}
		twice := 0
		for _, s := range all {
			if s.number == 0 {
				continue
			}
			f, again := first[s.ID]
			if !again {
				if _, err := hear(s.line); err == nil {
					first[s.ID] = s
				}
				continue
			}
			if string(f.line.Payload) != string(s.line.Payload) || f.line.Topic != s.line.Topic {
				if _, err := hear(s.line); err == nil {
					t.Fatalf("resent otherwise: %s", s.line.Payload)
				}
				continue
			}
			twice++
		}
		if twice != truth.Duplicates || !near(float64(twice), .003*float64(len(all)), .25) {
			t.Errorf("%d of %d lines came twice, truth says %d", twice, len(all), truth.Duplicates)
		}
	})

	t.Run("late readings were overtaken and are about 0.5 %", func(t *testing.T) {
		most, overtaken := map[string]int{}, 0
		seen := map[string]bool{}
		for _, s := range all {
			if s.number == 0 || seen[s.ID] || s.ID == "" {
				continue
			}
			if _, err := hear(s.line); err != nil && err.Error() != WrongMitre {
				continue
			}
			seen[s.ID] = true
			if s.number < most[s.saw] {
				overtaken++
			}
			most[s.saw] = max(most[s.saw], s.number)
		}
		// A reading held at the very end, or followed only by other held ones, is not overtaken.
		if overtaken > truth.Late || truth.Late-overtaken > 8 || !near(float64(truth.Late), .005*float64(len(all)), .25) {
			t.Errorf("%d of %d overtaken, truth says %d", overtaken, len(all), truth.Late)
		}
	})

	t.Run("missing readings are the gaps in seq", func(t *testing.T) {
		has := map[string]map[int]bool{}
		top := map[string]int{}
		for _, s := range all {
			if s.number == 0 {
				continue
			}
			if has[s.saw] == nil {
				has[s.saw] = map[int]bool{}
			}
			has[s.saw][s.number] = true
			top[s.saw] = max(top[s.saw], s.number)
		}
		var gaps, want []string
		for _, name := range Names() {
			for n := 1; n <= top[name]; n++ {
				if !has[name][n] {
					gaps = append(gaps, idOf(name, n))
				}
			}
		}
		for _, m := range truth.Missing {
			want = append(want, m.ID)
			if m.Kind == analyze.KindCut && m.Area <= 0 {
				t.Errorf("missing cut %s without its area", m.ID)
			}
		}
		slices.Sort(gaps)
		slices.Sort(want)
		if !slices.Equal(gaps, want) || len(want) == 0 || len(want) > 10 {
			t.Errorf("gaps %v, truth %v", gaps, want)
		}
	})

	t.Run("each way to break the contract occurs", func(t *testing.T) {
		for _, w := range []string{WrongJSON, WrongMissing, WrongDeviation, WrongMitre, WrongRetained} {
			if truth.Rejects[w] == 0 {
				t.Errorf("no line with %q wrong", w)
			}
		}
	})

	t.Run("nothing arrives in the outage and all of it after", func(t *testing.T) {
		f := fault(t, "outage")
		if d := f.To.Sub(f.From); d != 25*time.Minute {
			t.Errorf("lasts %v", d)
		}
		delayed := 0
		for _, s := range all {
			if within(s, f) {
				t.Fatalf("arrived at %v: %s", s.line.At, s.line.Payload)
			}
			if s.saw != "s3" && !s.At.Before(f.From) && s.At.Before(f.To.Add(-time.Minute)) {
				delayed++
			}
		}
		if delayed < 20 {
			t.Errorf("only %d readings from within the outage", delayed)
		}
	})

	t.Run("the clock of s3 is ahead until day 20", func(t *testing.T) {
		f := fault(t, "clock")
		for _, s := range all {
			ahead := s.At.Sub(s.line.At) // by a latency less than the clock is
			switch {
			case within(s, f) && ahead > 95*time.Second:
				t.Fatalf("%v ahead: %s", ahead, s.line.Payload)
			case s.saw == "s3" && s.line.At.After(f.To) && ahead > 0, s.saw != "s3" && ahead > 0:
				t.Fatalf("%v ahead without the fault: %s", ahead, s.line.Payload)
			}
		}
		b, _ := hear(all[slices.IndexFunc(all, func(s said) bool { return s.saw == "s3" })].line)
		if got := b.At.Sub(b.line.At.Add(-latency)); got != 95*time.Second {
			t.Errorf("the first reading is %v ahead, want 95 s", got)
		}
	})

	t.Run("a blade moves from s1 to s2", func(t *testing.T) {
		f := fault(t, "moved")
		i := slices.IndexFunc(truth.Blades, func(b BladeTruth) bool {
			return len(b.Fittings) > 1 && b.Fittings[0].Saw == "s1"
		})
		if i < 0 {
			t.Fatal("no blade of s1 has two fittings")
		}
		b := truth.Blades[i]
		from, to := b.Fittings[0], b.Fittings[1]
		if from.Reason != analyze.ReasonMoved || to.Saw != "s2" || !to.From.After(from.To) || from.To.Before(f.From) {
			t.Errorf("fittings %+v", b.Fittings)
		}
		if b.End == analyze.ReasonMoved {
			t.Error("the move is booked as the end")
		}
	})

	t.Run("a blade of s3 is hung again", func(t *testing.T) {
		fault(t, "rehung")
		i := slices.IndexFunc(truth.Blades, func(b BladeTruth) bool {
			return len(b.Fittings) > 1 && b.Fittings[0].Saw == "s3"
		})
		if i < 0 {
			t.Fatal("no blade of s3 has two fittings")
		}
		f := truth.Blades[i].Fittings
		if f[0].Reason != analyze.ReasonPlanned || f[1].Saw != "s3" || f[1].From.Sub(f[0].To) < 4*time.Hour {
			t.Errorf("fittings %+v", f)
		}
	})

	t.Run("seq begins again on s4, ids do not", func(t *testing.T) {
		f := fault(t, "restart")
		i := slices.IndexFunc(all, func(s said) bool {
			return s.saw == "s4" && s.number > 0 && !s.line.At.Before(f.From.Add(3*time.Minute))
		})
		if s := all[i]; *s.Seq != 1 || s.number < 100 {
			t.Errorf("after the restart: %s", s.line.Payload)
		}
		if n := truth.Saws[3].Messages[analyze.KindAlive]; n != 3 {
			t.Errorf("%d alive messages, want birth, will, birth", n)
		}
	})

	t.Run("s5 counts from the bar's axis for two days", func(t *testing.T) {
		f := fault(t, "axis")
		odd := 0
		for _, s := range all {
			if s.saw != "s5" || s.Seconds == nil {
				continue
			}
			// 90 less one of 0, 15, 22.5, 30, 45.
			onAxis := slices.Contains([]float64{90, 75, 67.5, 60, 45}, s.Mitre)
			if s.number > 0 && within(s, f) && !onAxis || !within(s, f) && s.Mitre > 45 {
				if _, err := hear(s.line); err == nil {
					t.Fatalf("mitre %g, fault %t: %s", s.Mitre, within(s, f), s.line.Payload)
				}
			}
			if onAxis && s.Mitre != 45 {
				odd++
			}
		}
		if odd < 100 {
			t.Errorf("%d such cuts", odd)
		}
	})

	t.Run("the night of the clock change is worked", func(t *testing.T) {
		f := fault(t, "clock-change")
		if d := f.To.Sub(f.From); d != 7*time.Hour { // clocks go forward
			t.Errorf("the night lasts %v, want 7 h", d)
		}
		offsets := map[int]int{}
		for _, s := range all {
			if within(s, f) {
				_, o := s.At.Zone()
				offsets[o]++
			}
		}
		if len(offsets) != 2 {
			t.Errorf("offsets in the night: %v", offsets)
		}
	})

	t.Run("one lot is bad", func(t *testing.T) {
		f := fault(t, "bad-lot")
		var lots []string
		n := 0
		for _, b := range truth.Blades {
			if b.Fittings[0].Saw == "s4" {
				if n++; n >= badFirst && n <= badLast {
					lots = append(lots, b.Lot)
				}
			}
		}
		if len(slices.Compact(lots)) != 1 {
			t.Errorf("the bad blades are of lots %v (%s)", lots, f.Note)
		}
	})

	t.Run("the pushed afternoons of s1 cut faster", func(t *testing.T) {
		f := fault(t, "pushed-feed")
		rate := func(push bool) float64 {
			area, minutes := 0.0, 0.0
			for _, s := range all {
				if s.saw == "s1" && s.kind == "cut" && s.Seconds != nil && s.Grade == "A992" {
					if h := s.line.At.In(shop.zone).Hour(); (within(s, f) && h >= 14) == push {
						area += told(t, s)
						minutes += *s.Seconds / 60
					}
				}
			}
			return area / minutes
		}
		if r := rate(true) / rate(false); r < 1.15 || r > 1.4 {
			t.Errorf("rate × %.2f, want about 1.25", r)
		}
	})

	t.Run("there are grades nobody configured", func(t *testing.T) {
		grades := map[string]int{}
		for _, s := range all {
			grades[s.Grade]++
		}
		if grades["MYSTERY-7"] == 0 || grades["unknown"] == 0 {
			t.Errorf("grades %v", grades)
		}
	})

	t.Run("a stale retained cut comes first of s2", func(t *testing.T) {
		fault(t, "stale")
		s := all[slices.IndexFunc(all, func(s said) bool { return s.saw == "s2" })]
		if s.kind != "cut" || !s.line.Retain || s.line.At.Sub(s.At) < 48*time.Hour {
			t.Errorf("first of s2: %s", s.line.Payload)
		}
	})
}

func TestNoFaultsUnlessAsked(t *testing.T) {
	s := New(options(t))
	run(s)
	tr := s.Truth()
	if len(tr.Faults)+len(tr.Missing)+len(tr.Rejects)+tr.Duplicates+tr.Late > 0 {
		t.Errorf("%+v %+v %+v", tr.Faults, tr.Missing, tr.Rejects)
	}
}

// A bad lot has 0.7 of the quality the same blades have without it.
func TestBadLotQuality(t *testing.T) {
	quality := func(f faults) []float64 {
		o := options(t)
		o.Saws = []string{"s4"}
		s := open(o, f)
		run(s)
		var q []float64
		for _, b := range s.Truth().Blades {
			q = append(q, b.Quality)
		}
		return q[:badLast]
	}
	good, bad := quality(faults{}), quality(faults{lot: true})
	// Until the first bad blade comes, both shops are the same; it is the first to differ.
	for i := range badFirst {
		want := good[i]
		if i == badFirst-1 {
			want *= .7
		}
		if !near(bad[i], want, 1e-12) {
			t.Errorf("blade %d: quality %.3f, want %.3f", i+1, bad[i], want)
		}
	}
}

// The guide shifts every cut by 0.9 mil per inch of height, to the same side
// whatever the blade. With and without it the draws are the same until the
// first trip in the fault, so that the cuts can be compared one by one.
func TestGuideOffset(t *testing.T) {
	cuts := func(f faults) []said {
		o := options(t)
		o.Saws = []string{"s2"}
		var out []said
		for _, l := range run(open(o, f)) {
			if s, _ := hear(l); s.kind == "cut" {
				out = append(out, s)
			}
		}
		return out
	}
	from, to := options(t).Start.AddDate(0, 0, guideFrom), options(t).Start.AddDate(0, 0, guideTo)
	with, without := cuts(faults{guide: true}), cuts(faults{})
	n := 0
	for i, a := range with {
		b := without[i]
		if a.ID != b.ID || *a.Seconds != *b.Seconds {
			break
		}
		want := 0.0
		if a.At.After(from) && a.At.Before(to) {
			want = .9 * height(t, a)
			n++
		}
		// A reading at the limit is cut off there; 0.1 mil is its rounding.
		limit := .97 * 2.4 * height(t, a)
		if got := 1000 * (*a.Deviation - *b.Deviation); math.Abs(got-want) > .11 &&
			math.Abs(*a.Deviation*1000) < limit && math.Abs(*b.Deviation*1000) < limit {
			t.Fatalf("shifted by %.2f mil, want %.2f: %s", got, want, a.line.Payload)
		}
	}
	if n < 50 {
		t.Errorf("only %d cuts compared in the fault", n)
	}
}

// height is how high the section of a cut stands in the model, in in.
func height(t *testing.T, s said) float64 {
	t.Helper()
	for _, c := range slices.Concat(shapes, hollow) {
		if says, err := json.Marshal(c.says); err == nil && string(says) == string(s.Section) {
			return c.height
		}
	}
	t.Fatalf("section %s is not in the model", s.Section)
	return 0
}

// A saw that speaks mm for two days tells the same sizes: m/min of band speed
// near a third of ft/min, and areas as before.
func TestMetricDays(t *testing.T) {
	o := options(t)
	o.Saws = []string{metricSaw}
	n := 0
	for _, l := range run(New(o)) {
		s, _ := hear(l)
		if s.Units != "mm" {
			continue
		}
		n++
		if a := square(t, s); a < 3 || a > 29 {
			t.Fatalf("square area %.2f in²: %s", a, l.Payload)
		}
		if *s.BandSpeed > 130*.3048 {
			t.Fatalf("band speed: %s", l.Payload)
		}
	}
	if n < 100 {
		t.Errorf("%d readings in mm", n)
	}
}

func idOf(saw string, n int) string {
	const digits = "0123456789"
	b := []byte("000000")
	for i := len(b) - 1; n > 0; i, n = i-1, n/10 {
		b[i] = digits[n%10]
	}
	return saw + "-" + string(b)
}
