package standing

import (
	"testing"
	"time"

	"gullet/analyze/downtime"
	"gullet/analyze/shift"
	"gullet/config"
)

// stopAt is a stop of s1 in the early shift, in minutes from midnight.
func stopAt(from, to int, change func(*downtime.DayStop)) downtime.DayStop {
	at := func(minute int) downtime.Moment {
		return downtime.MomentOf(time.Date(2026, 3, 2, 0, minute, 0, 0, time.UTC))
	}
	s := downtime.DayStop{Shift: "early", Stop: downtime.Stop{
		From: at(from), To: at(to), Parent: at(from), Cause: downtime.Unexplained, Worked: time.Duration(to-from) * time.Minute,
	}}
	change(&s)
	return s
}

// someDays are a day of s1, with a stop of each sort, and none of s2.
func someDays(t *testing.T) *Data {
	t.Helper()
	loaded, err := config.Load(config.Options{})
	if err != nil {
		t.Fatal(err)
	}
	date := shift.Date{Year: 2026, Month: 3, Day: 2}
	d := NewData(&loaded.Config, time.Date(2026, 3, 3, 0, 0, 0, 0, time.UTC), date, date)
	d.Saws = []Saw{{Name: "s1", Days: []downtime.Day{{
		Date: date,
		Times: []downtime.Time{
			{Shift: "early", Element: downtime.Production, Took: 300 * time.Minute},
			{Shift: "early", Element: downtime.Down, Cause: downtime.Unexplained, Took: 180 * time.Minute},
			{Shift: "late", Element: downtime.Production, Took: 480 * time.Minute},
		},
		Work: []downtime.Work{
			{Shift: "early", Grade: "1018", Pieces: 3, Area: 40, AreaUnknown: 1, Trips: 2, Breaks: 1},
			{Shift: "early", Grade: "A36", Pieces: 2, Area: 2},
			{Shift: "late", Pieces: 9, Area: 90, Trips: 9, Breaks: 9},
		},
		Stops: []downtime.DayStop{
			stopAt(400, 410, func(*downtime.DayStop) {}),
			stopAt(420, 460, func(*downtime.DayStop) {}),
			stopAt(500, 501, func(s *downtime.DayStop) { s.Minor = true }),
			stopAt(510, 520, func(s *downtime.DayStop) { s.Parent-- }),
			stopAt(530, 540, func(s *downtime.DayStop) { s.Cause = "fault" }),
			stopAt(830, 850, func(s *downtime.DayStop) { s.Cause = "setup" }),
			stopAt(830, 840, func(s *downtime.DayStop) { s.Cause = "fault" }),
			stopAt(820, 840, func(s *downtime.DayStop) { s.Open = true }),
			stopAt(839, 841, func(s *downtime.DayStop) { s.Minor = true }),
			stopAt(825, 900, func(s *downtime.DayStop) { s.Shift = "late" }),
		},
	}}}, {Name: "s2"}}
	return d
}

func TestDone(t *testing.T) {
	d := someDays(t)
	o := Options{From: d.From, To: d.To, Only: Only{Shift: "early"}}
	got := d.Done(o)
	if len(got) != 2 || got[1].Saw != "s2" || len(got[1].Days) != 0 {
		t.Fatalf("%+v, want both saws, and no day of s2", got)
	}
	s := got[0]
	if s.Pieces != 5 || s.Area != 42 || s.AreaUnknown != 1 || s.Trips != 2 || s.Breaks != 1 {
		t.Errorf("%+v, want the sums of the early shift over its grades", s)
	}
	if len(s.Days) != 1 || s.Days[0].Date != "2026-03-02" || s.Days[0].Minutes != (downtime.Minutes{Production: 300, Down: 180}) {
		t.Errorf("days %+v", s.Days)
	}
	o.Only = Only{Saw: "s1"}
	if got = d.Done(o); len(got) != 1 || got[0].Pieces != 14 {
		t.Errorf("%+v, want s1 with all shifts", got)
	}
}

func minutesOf(list []Stop) (out []float64) {
	for i := range list {
		out = append(out, list[i].Minutes)
	}
	return out
}

// A short stop, one that belongs to another and one that has a cause need no word; the
// one that matters most comes first.
func TestNotExplained(t *testing.T) {
	d := someDays(t)
	got := minutesOf(d.NotExplained(Options{From: d.From, To: d.To, Only: Only{Shift: "early"}}))
	if len(got) != 3 || got[0] != 40 || got[1] != 20 || got[2] != 10 {
		t.Errorf("stops of %v min, want 40, 20 and 10", got)
	}
	if got := d.NotExplained(Options{From: d.From, To: d.To, Only: Only{Saw: "s2"}}); len(got) != 0 {
		t.Errorf("%+v of a saw without days", got)
	}
}

// Setup is handed over as work, and what is over at the moment is not handed over,
// unless no reading tells its end.
func TestStandingAt(t *testing.T) {
	d := someDays(t)
	at := time.Date(2026, 3, 2, 14, 0, 0, 0, time.UTC) // minute 840
	if got := minutesOf(d.StandingAt("s1", at)); len(got) != 2 || got[0] != 20 || got[1] != 75 {
		t.Errorf("stops of %v min, want the open one and the one to 15:00", got)
	}
	if got := d.StandingAt("s2", at); len(got) != 0 {
		t.Errorf("%+v of a saw without days", got)
	}
	if got := d.StandingAt("", at.Add(-20*time.Minute)); len(got) != 0 {
		t.Errorf("%+v begin only then", got)
	}
}

// A saw without the shift that is asked for has not failed to tell of it.
func TestASawWithoutTheShiftIsNoDoubt(t *testing.T) {
	d := someDays(t)
	early := shift.Rule{Name: "early", Start: 6 * 60, End: 14 * 60, Saws: []string{"s1"}}
	for i := range early.Days {
		early.Days[i] = true
	}
	day := early
	day.Name, day.Saws = "day", []string{"s2"}
	d.Calendar.Rules = []shift.Rule{early, day}
	o := Options{From: d.From, To: d.To, Only: Only{Shift: "early"}}
	for name, want := range map[string]int{"early": 0, "day": 1} {
		o.Only.Shift = name
		r := Build(d, o)
		told := 0
		for _, doubt := range r.DoubtsOfTime() {
			if doubt == "s2 has told nothing of these days" {
				told++
			}
			if len(r.Doubts) <= len(r.DoubtsOfTime()) {
				t.Errorf("%s: doubts of MTBF and trends are told as those of time: %q", name, r.Doubts)
			}
		}
		if told != want {
			t.Errorf("shift %s: %q", name, r.Doubts)
		}
	}
}
