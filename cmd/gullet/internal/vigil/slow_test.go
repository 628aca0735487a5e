package vigil

import (
	"math"
	"strings"
	"testing"
	"time"

	"gullet/analyze/alert"
	"gullet/analyze/deviation"
	"gullet/analyze/shift"
	"gullet/cmd/gullet/internal/floor"
	"gullet/cmd/gullet/internal/planning"
	"gullet/cmd/gullet/internal/trend"
)

// slowOf is a slow look at Monday 10:00 of a shop whose s1 was heard a minute before.
func slowOf(t *testing.T) *slow {
	t.Helper()
	l := &Looker{Config: shopConfig(t)}
	heard := &floor.LastHeard{At: at(239), Received: at(239), Happened: at(239)}
	return &slow{
		Looker: l, now: at(240), floor: &floor.Floor{Saws: []floor.Saw{{Saw: "s1", LastReading: heard}}},
		report: &planning.Report{Lead: 168, Service: 0.95}, calendar: l.Config.Calendar(),
	}
}

func hours(n float64) *time.Time {
	t := at(240).Add(time.Duration(n * float64(time.Hour)))
	return &t
}

func windowOf(q10, q50, q90 *time.Time) *planning.Windows {
	return &planning.Windows{Time: planning.TimeWindow{Q10: q10, Q50: q50, Q90: q90}}
}

func TestChangeWindow(t *testing.T) {
	job := ptr("5512")
	for _, c := range []struct {
		name  string
		plan  planning.Saw
		level float64 // none: no fact
		mark  string
		says  []string // in its words
	}{
		{"advised before a job", planning.Saw{Window: windowOf(hours(6), hours(30), hours(60)), Basis: "12 blades of its type, 9 of them ended", Advise: &planning.Advice{Change: true, BeforeJob: job, OnHand: ptr(2)}}, 6, "before job 5512",
			[]string{"10 % are done by Mon 2 Mar 16:00, 50 % by Tue 3 Mar 16:00, 90 % by Wed 4 Mar 22:00", "9 of them ended", "Advised change: before job 5512. Spare of this type on the shelf: 2."}},
		{"open already", planning.Saw{Window: windowOf(hours(0), hours(1), hours(2)), Advise: &planning.Advice{Change: true}}, 0, "now", []string{"Advised change: now. Spares of this type: not known"}},
		{"run on", planning.Saw{Window: windowOf(hours(6), hours(30), nil), Advise: &planning.Advice{OnHand: ptr(0)}}, 6, "run on", []string{"90 % later than the plan tells", "Advised: run on. Spare of this type on the shelf: 0."}},
		{"not weighed", planning.Saw{Window: windowOf(hours(6), nil, nil), WhyNone: "no price"}, 6, "", []string{"50 % later than the plan tells", "No advice: no price."}},
		{"beyond the plan", planning.Saw{Window: windowOf(nil, nil, nil)}, none, "", nil},
		{"not known", planning.Saw{Why: "2 of 3 blades have ended"}, math.NaN(), "", []string{"when the blade is done is not known", "2 of 3 blades have ended"}},
		{"the saw may be to blame", planning.Saw{Window: windowOf(hours(6), nil, nil), Advise: &planning.Advice{}, Findings: []planning.Finding{{Kind: "saw-alignment", Confidence: 0.95}}}, 6, "run on", []string{"But look first at the saw, which seems out of line"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := slowOf(t)
			c.plan.Saw, c.plan.Blade, c.plan.Fitting = "s1", "A", ptr(int64(1))
			s.window(&c.plan)
			f := factOf(t, &s.look, alert.ChangeWindow, "s1")
			if f == nil || c.level == none {
				if f != nil || c.level != none {
					t.Fatalf("fact %+v, want level %v", f, c.level)
				}
				return
			}
			if f.Level != c.level && !(math.IsNaN(f.Level) && math.IsNaN(c.level)) || f.Mark != c.mark || f.Of != "A" || !f.At.Equal(at(239)) || !f.Words.Risky {
				t.Errorf("fact %+v, want level %v, mark %q, of blade A, with the caution", f, c.level, c.mark)
			}
			for _, want := range c.says {
				if all := f.Words.What + "\n" + f.Words.Sure + "\n" + f.Words.Advice; !strings.Contains(all, want) {
					t.Errorf("says %q, want %q in it", all, want)
				}
			}
		})
	}
	s := slowOf(t)
	s.window(&planning.Saw{Saw: "s1", Why: "no blade is known to be on the saw"})
	if len(s.look.Facts) != 0 {
		t.Errorf("facts %+v of a saw without a blade, want none", s.look.Facts)
	}
}

func TestTripLikely(t *testing.T) {
	running := &planning.NextShift{Shift: "early", Start: at(0), End: at(480)}
	for _, c := range []struct {
		name string
		plan planning.Saw
		sure string // "" for no fact
	}{
		{"its deviation is not followed", planning.Saw{Fitting: ptr(int64(1)), Next: running}, "too few readings"},
		{"no shift runs", planning.Saw{Fitting: ptr(int64(1)), Next: &planning.NextShift{Start: at(300), End: at(480)}}, ""},
		{"no shift is near", planning.Saw{Fitting: ptr(int64(1))}, ""},
		{"no blade is on", planning.Saw{Next: running}, ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := slowOf(t)
			c.plan.Saw = "s1"
			s.trip(&c.plan, &trend.Saw{}, &deviation.Trend{WhyReach: "too few readings"})
			f := factOf(t, &s.look, alert.TripLikely, "s1")
			if (f != nil) != (c.sure != "") || f != nil && (f.Words.Sure != c.sure || !math.IsNaN(f.Level)) {
				t.Errorf("fact %+v, want one that is not known for %q", f, c.sure)
			}
		})
	}
}

// The mark changes where a chance crosses a fifth, and nowhere else.
func TestAChanceIsToldAnewInSteps(t *testing.T) {
	for chance, want := range map[float64]string{0: "", 0.199: "", 0.2: "20 %", 0.39: "20 %", 0.4: "40 %", 0.6: "60 %", 0.8: "80 %", 1: "80 %"} {
		if got := step(chance); got != want {
			t.Errorf("step of %v is %q, want %q", chance, got, want)
		}
	}
}

func TestFindings(t *testing.T) {
	hung := at(100)
	survived := []deviation.Fact{{What: deviation.FactSurvived, N: 2}}
	for _, c := range []struct {
		name    string
		finding deviation.Finding
		kind    alert.Kind // "" for no fact
	}{
		{"older than the blade", deviation.Finding{Kind: deviation.SawAlignment, Since: at(50)}, alert.SawFinding},
		{"since before anything was followed", deviation.Finding{Kind: deviation.GuideGap}, alert.SawFinding},
		{"outlived a blade", deviation.Finding{Kind: deviation.SawAlignment, Since: at(150), Facts: survived}, alert.SawFinding},
		{"began with this blade", deviation.Finding{Kind: deviation.SawAlignment, Since: at(150)}, ""},
		{"is over", deviation.Finding{Kind: deviation.SawAlignment, Since: at(50), Last: at(60)}, ""},
		{"the blade wears", deviation.Finding{Kind: deviation.BladeWear, Since: at(50)}, ""},
		{"the feed is pushed", deviation.Finding{Kind: deviation.FeedPushed, Since: at(50)}, ""},
		{"every grade is cut slower", deviation.Finding{Kind: deviation.Machine, Since: at(150)}, alert.CutTime},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := slowOf(t)
			s.data = &trend.Data{Over: true}
			saw := &trend.Saw{Name: "s1", Saw: deviation.Saw{Fittings: []deviation.Fitting{{Start: hung}}}}
			c.finding.Chance = 0.93
			s.findings(saw, []deviation.Finding{c.finding})
			if c.kind == "" {
				if len(s.look.Facts) != 0 {
					t.Errorf("facts %+v, want none", s.look.Facts)
				}
				return
			}
			f := factOf(t, &s.look, c.kind, "s1")
			if f == nil || f.Level != 0.93 || !f.Since.Equal(c.finding.Since) || (f.Of == string(c.finding.Kind)) != (c.kind == alert.SawFinding) || len(f.Words.Check) == 0 || f.Mark != "" {
				t.Errorf("fact %+v, want confidence 0.93 since %s", f, c.finding.Since)
			}
		})
	}
}

func TestReorder(t *testing.T) {
	for _, c := range []struct {
		name  string
		shelf planning.Shelf
		level float64
		says  string
	}{
		{"above", planning.Shelf{OnHand: ptr(5), Reorder: ptr(3)}, 2, "T: 5 on the shelf, reorder at 3"},
		{"below", planning.Shelf{OnHand: ptr(1), Reorder: ptr(3)}, -2, "T: 1 on the shelf"},
		{"never counted", planning.Shelf{Reorder: ptr(3)}, math.NaN(), "whether to order T is not known: reorder at 3"},
		{"no point known", planning.Shelf{OnHand: ptr(5), Why: "2 ends"}, math.NaN(), "when to order T is not known"},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := slowOf(t)
			c.shelf.Type = "T"
			s.report.Shelf = []planning.Shelf{c.shelf}
			s.report.Saws = []planning.Saw{{Saw: "s1", Type: "T"}}
			s.shelf()
			f := factOf(t, &s.look, alert.Reorder, "")
			if f == nil || f.Of != "T" || f.Level != c.level && !(math.IsNaN(f.Level) && math.IsNaN(c.level)) || !strings.Contains(f.Words.What, c.says) || !f.At.Equal(at(239)) {
				t.Errorf("fact %+v, want %v and %q", f, c.level, c.says)
			}
		})
	}
}

// Monday's digest tells of Friday, on which a shift began last.
func TestDowntimeIsOfTheLastDayWithAShift(t *testing.T) {
	l := &Looker{Config: shopConfig(t)}
	for today, want := range map[int]int{2: -1, 3: 2, 7: 6, 8: 6, 9: 6} { // of March 2026; -1 is Friday, 27 February
		got := l.lastWorked(shift.Date{Year: 2026, Month: time.March, Day: today})
		day := time.Date(2026, 3, want, 0, 0, 0, 0, time.UTC)
		if want < 0 {
			day = time.Date(2026, 2, 27, 0, 0, 0, 0, time.UTC)
		}
		if got != shift.DateOf(day) {
			t.Errorf("before 2026-03-%02d: %s, want %s", today, got, shift.DateOf(day))
		}
	}
}
