package trend

import (
	"math"
	"strings"
	"testing"
	"time"

	"gullet/analyze/deviation"
	"gullet/cmd/gullet/internal/figures"
)

func read(t *testing.T, lines ...string) *Data {
	t.Helper()
	d, err := Read(strings.NewReader(strings.Join(lines, "\n")+"\n"), "cuts.csv")
	if err != nil {
		t.Fatal(err)
	}
	return d
}

func TestListsTellWhatIsWrong(t *testing.T) {
	const head = "saw,blade,area,deviation\n"
	for _, c := range []struct{ name, text, want string }{
		{"empty", "", "cuts.csv: the file is empty: allowed is a header line that names at least the columns saw and blade and deviation"},
		{"no cut", head, "cuts.csv: no cut stands below the header line"},
		{"no saw", "blade,area,deviation\nb,1,2\n", `cuts.csv, line 1: the column saw is missing; found "blade", "area", "deviation"`},
		{"neither area nor time", "saw,blade,deviation\ns,b,1\n", `cuts.csv, line 1: one of the columns area and at is missing; found "saw", "blade", "deviation"`},
		{"nameless saw", head + ",b,1,2\n", `cuts.csv, line 2, column saw: found "", allowed is the name of a saw`},
		{"area in words", head + "s,b,much,2\n", `cuts.csv, line 2, column area: found "much", allowed is in² the blade had cut after this cut, 0 or more`},
		{"no area", head + "s,b,,2\n", `cuts.csv, line 2, column area: found "", allowed is in² the blade had cut after this cut, 0 or more`},
		{"area falls", head + "s,b,10,1\ns,b,9,1\n", "cuts.csv, line 3, column area: found 9 after 10 on the same blade, allowed is no less: another blade needs another name"},
		{"deviation in words", head + "s,b,10,left\n", `cuts.csv, line 2, column deviation: found "left", allowed is a number, signed, or nothing`},
		{"huge deviation", head + "s,b,10,1e300\n", `cuts.csv, line 2, column deviation: found "1e300", allowed is a number of a size from 1e-09 to 1e+12`},
		{"flat height", "saw,blade,area,deviation,height\ns,b,10,1,0\n", `cuts.csv, line 2, column height: found "0", allowed is in above 0, or nothing`},
		{"limit below 0", "saw,blade,area,deviation,limit\ns,b,10,1,-1\n", `cuts.csv, line 2, column limit: found "-1", allowed is a number above 0, or nothing`},
		{"mitre along the bar", "saw,blade,area,deviation,mitre\ns,b,10,1,90\n", `cuts.csv, line 2, column mitre: found "90", allowed is degrees from square, more than -85 and less than 85, or nothing`},
		{"trip", "saw,blade,area,deviation,trip\ns,b,10,1,yes\n", `cuts.csv, line 2, column trip: found "yes", allowed is 1 or 0, or empty`},
		{"time without offset", "saw,blade,at,deviation\ns,b,2026-03-02 09:14,1\n", `cuts.csv, line 2, column at: found "2026-03-02 09:14", allowed is a time with its offset, such as 2026-03-02T09:14:05-06:00`},
	} {
		t.Run(c.name, func(t *testing.T) {
			if _, err := Read(strings.NewReader(c.text), "cuts.csv"); err == nil || err.Error() != c.want {
				t.Errorf("error %v\nwant  %s", err, c.want)
			}
		})
	}
}

func TestListsBecomeFittings(t *testing.T) {
	d := read(t, "note,saw,blade,area,deviation,height,limit,type,lot",
		"x,s2,A,100,0.004,2,0.01,T,L", "x,s2,A,110,-0.006,3,0.012,T,L", "x,s1,B,5,0.001,1,,,", "x,s2,C,7,,4,,,", "x,s2,C,9,0.01,,,,")
	if len(d.Saws) != 2 || d.Saws[0].Name != "s1" || !d.Over || d.Unit != unitArea {
		t.Fatalf("data %+v, want s1 and s2 over their heights", d)
	}
	s := d.Saws[1]
	if len(s.Fittings) != 2 || s.Fittings[0].Blade != "A" || s.Fittings[0].Type != "T" || s.Fittings[0].Lot != "L" {
		t.Fatalf("fittings %+v, want A and C", s.Fittings)
	}
	a, c := s.Fittings[0].Cuts, s.Fittings[1].Cuts
	for _, x := range []struct {
		what      string
		got, want float64
	}{
		{"deviation over height", a[0].Deviation, 0.002},
		{"with its sign", a[1].Deviation, -0.002},
		{"what came before the list is not known", a[0].From, 100},
		{"a cut begins where the one before ended", a[1].From, 100},
		{"its face", a[1].Face, 10},
		{"the limit over height, the middle one", s.Limit, 0.005},
	} {
		if math.Abs(x.got-x.want) > 1e-12 {
			t.Errorf("%s: %v, want %v", x.what, x.got, x.want)
		}
	}
	if !math.IsNaN(c[0].Deviation) || !math.IsNaN(c[1].Deviation) {
		t.Errorf("deviations %v and %v, want neither: one was not told, the other has no height", c[0].Deviation, c[1].Deviation)
	}
	if len(d.Doubts) != 1 || d.Doubts[0] != "saw s2: 1 deviation was told without the height of the cut and left out" {
		t.Errorf("doubts %q", d.Doubts)
	}
}

func TestListsInOrderOfTime(t *testing.T) {
	d := read(t, "saw,blade,at,deviation", "s,B,2026-03-02T10:00:00Z,3", "s,A,2026-03-02T08:00:00Z,1", "s,A,2026-03-02T10:30:00+01:00,2")
	if d.Unit != unitCuts || len(d.Doubts) != 1 {
		t.Errorf("unit %s, doubts %q: want cuts, told", d.Unit, d.Doubts)
	}
	s := d.Saws[0]
	if len(s.Fittings) != 2 || s.Fittings[0].Blade != "A" || len(s.Fittings[0].Cuts) != 2 || s.Fittings[0].Cuts[1].Deviation != 2 {
		t.Fatalf("fittings %+v, want A with two cuts, then B", s.Fittings)
	}
	// Two cuts in the shift from 6 to 14 o'clock and one more: one shift of 3 cuts.
	if s.Shift != 3*perCut {
		t.Errorf("a shift cuts %v, want 3 cuts", s.Shift/perCut)
	}
}

// A blade that comes back goes on where it was.
func TestListsKnowABladeAgain(t *testing.T) {
	d := read(t, "saw,blade,at,cut_area,deviation", "s,A,2026-03-02T08:00:00Z,10,1", "s,B,2026-03-02T09:00:00Z,20,1", "s,A,2026-03-02T10:00:00Z,5,1")
	last := d.Saws[0].Fittings[2].Cuts[0]
	if last.From != 10 || last.Area != 15 {
		t.Errorf("the third cut runs from %v to %v in² of its blade, want 10 to 15", last.From, last.Area)
	}
}

func TestTripsOfAList(t *testing.T) {
	for _, c := range []struct {
		name  string
		lines []string
		trips int
		why   string
	}{
		{"told", []string{"saw,blade,area,deviation,trip", "s,b,1,0,1", "s,b,2,0,0", "s,b,3,,1"}, 2, ""},
		{"by the limit", []string{"saw,blade,area,deviation,limit", "s,b,1,-0.02,0.02", "s,b,2,0.01,0.02", "s,b,3,0.03,0.02"}, 2, ""},
		{"not told", []string{"saw,blade,area,deviation", "s,b,1,-0.02", "s,b,3,0.03"}, 0, "nobody told whether the saw trips"},
	} {
		t.Run(c.name, func(t *testing.T) {
			a := Study(read(t, c.lines...), figures.Style{Zone: time.UTC}).Saws[0]
			switch {
			case c.why != "" && (a.Trips != nil || a.WhyTrips != c.why):
				t.Errorf("trips %+v (%s), want none: %s", a.Trips, a.WhyTrips, c.why)
			case c.why == "" && (a.Trips == nil || a.Trips.Count != c.trips):
				t.Errorf("trips %+v (%s), want %d", a.Trips, a.WhyTrips, c.trips)
			}
		})
	}
}

// One limit of a length for every height is held against tall cuts.
func TestLimits(t *testing.T) {
	for _, c := range []struct {
		name            string
		limits, heights []float64
		usual           []float64
		want            float64
		noted           bool
	}{
		{"none", nil, nil, []float64{4}, math.NaN(), false},
		{"one for each height", []float64{0.0096, 0.0192, 0.024}, []float64{4, 8, 10}, []float64{4, 8, 10}, 0.0024, false},
		{"one length", []float64{0.02, 0.02, 0.02}, []float64{4, 8, 10}, []float64{2, 4, 4, 4, 4, 4, 5, 8, 10, 10}, 0.005, true},
		{"one length, one height", []float64{0.02, 0.02}, []float64{4, 4}, []float64{4, 4, 4}, 0.005, false},
	} {
		t.Run(c.name, func(t *testing.T) {
			l := limits{}
			for i := range c.limits {
				l.add(c.limits[i], c.heights[i])
			}
			got, all, note := l.over(c.usual)
			if math.Abs(got-c.want) > 1e-12 || math.IsNaN(got) != math.IsNaN(c.want) || (note != "") != c.noted || (all != nil) != c.noted {
				t.Errorf("limit %v (%s), want %v", got, note, c.want)
			}
		})
	}
}

func FuzzRead(f *testing.F) {
	f.Add("saw,blade,area,deviation,height,limit\ns,b,1,0.01,4,0.02\n")
	f.Add("saw,blade,at,deviation\ns,b,2026-03-02T08:00:00Z,1\n")
	f.Add("saw,blade,area,deviation\ns,,5,1\ns,,4,1\n")
	f.Fuzz(func(t *testing.T, text string) {
		d, err := Read(strings.NewReader(text), "cuts.csv")
		if err != nil {
			if strings.Contains(err.Error(), "\n") || !strings.Contains(err.Error(), "cuts.csv") {
				t.Errorf("error %q: want one line that names the file", err)
			}
			return
		}
		var b strings.Builder
		if err := Study(d, figures.Style{Zone: time.UTC}).Write(&b, figures.Style{Zone: time.UTC}, true); err != nil {
			t.Error(err)
		}
		for _, s := range d.Saws {
			for _, fitting := range s.Fittings {
				checkFitting(t, fitting)
			}
		}
	})
}

func checkFitting(t *testing.T, f deviation.Fitting) {
	t.Helper()
	for i, c := range f.Cuts {
		if !(c.From <= c.Area) || i > 0 && c.From < f.Cuts[i-1].Area {
			t.Errorf("blade %s, cut %d runs from %v to %v", f.Blade, i+1, c.From, c.Area)
		}
	}
}
