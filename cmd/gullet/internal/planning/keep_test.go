package planning

import (
	"encoding/json"
	"math"
	"testing"
	"time"
)

// On a Friday at noon the early shift runs until 14 o'clock; at night the next one is
// Monday's, and eight hours long.
func TestForecastsAreOfTheNextShift(t *testing.T) {
	friday := opened.AddDate(0, 0, 60)
	for _, c := range []struct {
		name       string
		now        time.Time
		start, end time.Time
		hours      float64
	}{
		{"in the shift", friday.Add(12 * time.Hour), friday.Add(6 * time.Hour), friday.Add(14 * time.Hour), 2},
		{"at its end", friday.Add(14 * time.Hour), friday.Add(14 * time.Hour), friday.Add(22 * time.Hour), 8},
		{"before a weekend", friday.Add(22*time.Hour + 30*time.Minute), friday.AddDate(0, 0, 3).Add(6 * time.Hour), friday.AddDate(0, 0, 3).Add(14 * time.Hour), 8},
	} {
		t.Run(c.name, func(t *testing.T) {
			in := simulated(t, 61)
			in.Now = c.now
			r := Build(in)
			list, err := r.Forecasts()
			if err != nil || len(list) != len(r.Saws) {
				t.Fatalf("%d forecasts, %v: want one for each of %d saws", len(list), err, len(r.Saws))
			}
			for i, f := range list {
				s := &r.Saws[i]
				if !f.ShiftStart.Equal(c.start) || !f.ShiftEnd.Equal(c.end) {
					t.Errorf("%s: shift from %v to %v, want %v to %v", f.Saw, f.ShiftStart, f.ShiftEnd, c.start, c.end)
				}
				saw := in.saw(&in.Data.Saws[i], nil)
				if want := c.hours * saw.pace.usual.Weighted; math.Abs(*f.Horizon-want) > 1e-9*want {
					t.Errorf("%s: %v in² in the shift, want %v", f.Saw, *f.Horizon, want)
				}
				w := s.Window.Weighted
				if *f.Q10 != *w.Q10 || *f.Q50 != *w.Q50 || *f.Q90 != *w.Q90 || f.WeightedArea != *s.Weighted || f.Area != *s.Area {
					t.Errorf("%s: %+v is not the window %+v", f.Saw, f, w)
				}
				if *f.Odds != *s.Next.Odds || (*f.Odds < 0.1) != (*f.Horizon < *f.Q10) || (*f.Odds < 0.5) != (*f.Horizon < *f.Q50) {
					t.Errorf("%s: odds %v for %v in² and a window of %v / %v", f.Saw, *f.Odds, *f.Horizon, *f.Q10, *f.Q50)
				}
				if f.FittingID != in.Data.Lives.On(f.Saw)[0].ID || f.Serial != s.Blade || f.Type != s.Type || !f.MadeAt.Equal(in.Now) || f.Method != ByEndsAndTrip {
					t.Errorf("%s: %+v", f.Saw, f)
				}
				var drivers []Driver
				if err := json.Unmarshal(f.Drivers, &drivers); err != nil || len(drivers) != len(s.Drivers) || drivers[0] != s.Drivers[0] {
					t.Errorf("%s: drivers %s, %v", f.Saw, f.Drivers, err)
				}
			}
		})
	}
}

// Without a window, a shift or a known blade there is nothing to be held against
// what comes.
func TestWhatIsNotForetoldIsNotKept(t *testing.T) {
	shift, id := &NextShift{Start: opened, End: opened.Add(time.Hour)}, int64(7)
	r := &Report{MadeAt: opened, Saws: []Saw{
		{Saw: "no window", Fitting: &id, Next: shift},
		{Saw: "no shift", Fitting: &id, Window: &Windows{}},
		{Saw: "no blade", Next: shift, Window: &Windows{}},
		{Saw: "no area", Fitting: &id, Next: shift, Window: &Windows{}},
		{Saw: "all", Fitting: &id, Area: ptr(1.0), Weighted: ptr(2.0), Next: shift, Window: &Windows{}, Drivers: []Driver{{"dull", 1}}},
	}}
	list, err := r.Forecasts()
	if err != nil || len(list) != 1 || list[0].Saw != "all" || list[0].Method != ByEnds || list[0].FittingID != id || list[0].Odds != nil {
		t.Errorf("%+v, %v: want that of the last only, by ends alone", list, err)
	}
}

// A saw that does not work within a month has no next shift, and the odds are then
// nobody's.
func TestNoShiftIsNear(t *testing.T) {
	in := simulated(t, 61)
	in.Now = in.Now.AddDate(1, 0, 0)
	in.Calendar = Seen(in.Calendar, in.Data, in.Now)
	for i := range in.Calendar.Rules {
		in.Calendar.Rules[i].Saws = []string{"another"}
	}
	for _, s := range Build(in).Saws {
		if s.Next != nil {
			t.Errorf("%s: next shift %+v, want none", s.Saw, s.Next)
		}
	}
}

// By hand: a blade of 62 and a quarter of an hour at 120 are 92; three quarters of an
// hour and a scrapped piece of 60 are 212.
func TestChangesCost(t *testing.T) {
	c := Costs{SawHour: 120, Planned: 15, Unplanned: 45, Fitter: 2 * time.Hour, Scrap: 60}
	if got := c.Changes(62, 2, 1); got != 2*92+212 {
		t.Errorf("two planned changes and an unplanned one cost %v, want 396", got)
	}
}
