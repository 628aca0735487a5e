package planning

import (
	"math/rand/v2"
	"testing"
	"time"

	"gullet/store"
)

// In the night of 7 to 8 March 2026 clocks in Chicago go from 2 to 3, in that of 31
// October to 1 November from 2 to 1 (second Sunday of March and first of November: US
// Energy Policy Act of 2005, section 110, from memory). A shift from 22 to 6 o'clock
// then has 7 and 9 hours of work, every other 8. The nights are written here in UTC,
// by hand: standard time is 6 hours behind it, summer time 5.
func TestNightsOnWhichClocksChange(t *testing.T) {
	for _, c := range []struct {
		name   string
		now    string    // noon of the Friday before
		nights [3]string // beginnings, from that Friday on
		hours  [3]float64
		change time.Duration // of the wall
	}{
		{"forward", "2026-03-06T18:00:00Z", [3]string{"2026-03-07T04:00:00Z", "2026-03-08T04:00:00Z", "2026-03-09T03:00:00Z"}, [3]float64{8, 7, 8}, time.Hour},
		{"back", "2026-10-30T17:00:00Z", [3]string{"2026-10-31T03:00:00Z", "2026-11-01T03:00:00Z", "2026-11-02T04:00:00Z"}, [3]float64{8, 9, 8}, -time.Hour},
	} {
		t.Run(c.name, func(t *testing.T) {
			at := func(hours float64) time.Time { return workedBy(t, c.nights, c.hours, hours) }
			plan := nightPlan(t, moment(t, c.now))
			if len(plan.Jobs) != 3 {
				t.Fatalf("%d jobs, want 3", len(plan.Jobs))
			}
			worked := 0.0
			for i, j := range plan.Jobs {
				worked += j.Hours
				if j.Ends == nil || !near(*j.Ends, at(worked)) {
					t.Errorf("%s ends at %v after %.2f h of work, want %v", j.Job, j.Ends, worked, at(worked))
				}
				if in := []float64{0, 8, 8 + c.hours[1]}; worked <= in[i] || worked >= in[i]+c.hours[i] {
					t.Errorf("%s ends after %.2f h: want one in each night", j.Job, worked)
				}
			}
			hours := hoursTo(&plan, *plan.Window.Area.Q10)
			if hours < 8+c.hours[1] {
				t.Fatalf("a tenth are done after %.2f h, before the changed night is over: this tries nothing", hours)
			}
			if got := plan.Window.Time.Q10; got == nil || !near(*got, at(hours)) {
				t.Errorf("a tenth are done at %v, want %v after %.2f h of work", got, at(hours), hours)
			}
			week := nightPlan(t, moment(t, c.now).In(chicago(t)).AddDate(0, 0, -7))
			checkWeekBefore(t, &plan, &week, c.change)
		})
	}
}

// checkWeekBefore holds a plan over the changed night against that made a week before,
// at the same time on the wall: the clock stands off by the change at the end of what
// runs through it, no more and no less.
func checkWeekBefore(t *testing.T, plan, week *Saw, change time.Duration) {
	t.Helper()
	wall := func(at *time.Time) time.Time {
		l := at.In(chicago(t))
		return time.Date(l.Year(), l.Month(), l.Day(), l.Hour(), l.Minute(), l.Second(), l.Nanosecond(), time.UTC)
	}
	moved := func(what string, got, usual *time.Time, want time.Duration) {
		if d := wall(got).Sub(wall(usual)) - 7*24*time.Hour; d-want > time.Second || want-d > time.Second {
			t.Errorf("%s moves on the wall by %v, want %v", what, d, want)
		}
	}
	moved("the job of the night before", plan.Jobs[0].Ends, week.Jobs[0].Ends, 0)
	moved("the job of the changed night", plan.Jobs[1].Ends, week.Jobs[1].Ends, change)
	moved("the job of the night after", plan.Jobs[2].Ends, week.Jobs[2].Ends, change)
	moved("the window", plan.Window.Time.Q10, week.Window.Time.Q10, change)
}

// What is foretold of the changed night itself is its 7 or 9 hours of work.
func TestTheChangedNightIsForetold(t *testing.T) {
	for _, c := range []struct {
		name, now, from, to string
		hours               float64
	}{
		{"forward", "2026-03-07T18:00:00Z", "2026-03-08T04:00:00Z", "2026-03-08T11:00:00Z", 7},
		{"back", "2026-10-31T17:00:00Z", "2026-11-01T03:00:00Z", "2026-11-01T12:00:00Z", 9},
		{"another", "2026-02-28T18:00:00Z", "2026-03-01T04:00:00Z", "2026-03-01T12:00:00Z", 8},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := nightShop(t, moment(t, c.now))
			n := s.plan(nightRows(s), 0).Next
			if n == nil || !n.Start.Equal(moment(t, c.from)) || !n.End.Equal(moment(t, c.to)) {
				t.Fatalf("next is %+v, want from %s to %s", n, c.from, c.to)
			}
			if want := shiftArea * c.hours / 8; n.Weighted == nil || *n.Weighted < want-1e-6 || *n.Weighted > want+1e-6 {
				t.Errorf("%v weighted in², want %v: %v h at %v in 8", *n.Weighted, want, c.hours, shiftArea)
			}
		})
	}
}

// nightShop is one that works from 22 to 6 o'clock.
func nightShop(t *testing.T, now time.Time) *truthShop {
	t.Helper()
	s := newTruthShop(t, Costs{SawHour: 120, Planned: 15, Unplanned: 45, Scrap: 60}, stratum())
	s.calendar, s.now = twoShifts(), now
	s.calendar.Zone, s.calendar.Rules = chicago(t), s.calendar.Rules[:1]
	s.calendar.Rules[0].Name, s.calendar.Rules[0].Start, s.calendar.Rules[0].End = "night", 22*60, 6*60
	return s
}

func nightRows(s *truthShop) []store.FittingRow {
	b := s.breeds[0]
	return append(b.past(rand.New(rand.NewPCG(8, 0)), s.now, 60, false), b.running(s.now, 4000))
}

// nightPlan is the plan of such a shop with three jobs of about 6, 7 and 4 and a half hours.
func nightPlan(t *testing.T, now time.Time) Saw {
	t.Helper()
	s := nightShop(t, now)
	in := s.input(nightRows(s))
	for _, j := range []struct {
		name   string
		pieces int
	}{{"J-1", 117}, {"J-2", 137}, {"J-3", 86}} {
		in.Jobs = append(in.Jobs, Coming{Job: j.name, Saw: "s3", Grade: "1018", Section: bar(t, "RD4"), Bars: 1, Pieces: j.pieces})
	}
	return Build(in).Saws[0]
}

// hoursTo is how much work it takes to cut an area: each job runs evenly, and after them
// 8 h are the area of a shift.
func hoursTo(s *Saw, area float64) (hours float64) {
	for _, j := range s.Jobs {
		if area <= j.Area {
			return hours + j.Hours*area/j.Area
		}
		area, hours = area-j.Area, hours+j.Hours
	}
	return hours + area/shiftArea*8
}

// workedBy is when so many hours of three nights have been worked.
func workedBy(t *testing.T, nights [3]string, hours [3]float64, worked float64) time.Time {
	t.Helper()
	for i, from := range nights {
		if worked <= hours[i] {
			return moment(t, from).Add(time.Duration(worked * float64(time.Hour)))
		}
		worked -= hours[i]
	}
	t.Fatalf("%.2f h more than three nights", worked)
	return time.Time{}
}

// near allows for the rounding of hours.
func near(a, b time.Time) bool { return a.Sub(b).Abs() < time.Second }

func moment(t *testing.T, text string) time.Time {
	t.Helper()
	at, err := time.Parse(time.RFC3339, text)
	if err != nil {
		t.Fatal(err)
	}
	return at
}

func chicago(t *testing.T) *time.Location {
	t.Helper()
	zone, err := time.LoadLocation("America/Chicago")
	if err != nil {
		t.Fatal(err)
	}
	return zone
}
