package floor

import (
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"gullet/analyze"
	"gullet/analyze/life"
	"gullet/cmd/gullet/internal/figures"
	"gullet/config"
	"gullet/store"
)

// t0 is a Monday morning on which the tests' shop begins work.
var t0 = time.Date(2026, 3, 2, 6, 0, 0, 0, time.UTC)

func at(minute int) time.Time { return t0.Add(time.Duration(minute) * time.Minute) }

func ptr[T any](x T) *T { return &x }

// reading is a reading of saw s1 that took a second to come.
func reading(kind analyze.Kind, minute int) *analyze.Reading {
	return &analyze.Reading{Saw: "s1", Kind: kind, ID: fmt.Sprint(kind, minute), At: at(minute), Received: at(minute).Add(time.Second)}
}

func on(saw string, r *analyze.Reading) *analyze.Reading { r.Saw = saw; return r }

// cut is a cut of so many in² of a grade, 4 in high.
func cut(minute int, area float64, grade string) *analyze.Reading {
	r := reading(analyze.KindCut, minute)
	r.Cut = &analyze.Cut{Seconds: ptr(60.0), Square: &area, Height: ptr(4.0), Count: 1, Grade: grade, BandSpeed: ptr(250.0)}
	return r
}

func deviating(r *analyze.Reading, in float64) *analyze.Reading { r.Cut.Deviation = &in; return r }

func fit(minute int, serial, kind string) *analyze.Reading {
	r := reading(analyze.KindBlade, minute)
	r.ID += serial
	r.Blade = &analyze.BladeChange{Action: analyze.ActionFit, Serial: serial, Type: kind}
	return r
}

func remove(minute int, serial string, reason analyze.EndReason) *analyze.Reading {
	r := reading(analyze.KindBlade, minute)
	r.ID += "off" + serial
	r.Blade = &analyze.BladeChange{Action: analyze.ActionRemove, Serial: serial, Reason: reason}
	return r
}

// worn is one blade of type T after another on s1, from minute 0 in steps of
// ten: each cuts its area of 1018, the reference grade, and is taken off dull.
func worn(areas ...float64) []*analyze.Reading {
	var list []*analyze.Reading
	for i, area := range areas {
		serial := fmt.Sprint("old", i)
		list = append(list, fit(10*i, serial, "T"), cut(10*i+5, area, "1018"), remove(10*i+9, serial, analyze.ReasonDull))
	}
	return list
}

// example is the reference configuration: saws s1 to s5 and the default grades.
func example(t *testing.T) *config.Config {
	t.Helper()
	path := filepath.Join(t.TempDir(), "gullet.toml")
	if err := os.WriteFile(path, []byte(config.Example), 0o600); err != nil {
		t.Fatal(err)
	}
	loaded, err := config.Load(config.Options{File: path, FileRequired: true})
	if err != nil {
		t.Fatal(err)
	}
	return &loaded.Config
}

// build is the floor at a minute after the readings were stored.
func build(t *testing.T, minute int, readings ...*analyze.Reading) *Floor {
	t.Helper()
	db, err := store.Open(t.Context(), store.Options{Path: filepath.Join(t.TempDir(), "gullet.db")})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = db.Close() })
	batch := make([]analyze.Arrival, len(readings))
	for i, r := range readings {
		batch[i] = analyze.Arrival{Reading: r}
	}
	if _, err := db.Append(t.Context(), batch); err != nil {
		t.Fatal(err)
	}
	f, err := Build(t.Context(), db, example(t), at(minute))
	if err != nil {
		t.Fatal(err)
	}
	return f
}

func sawOf(t *testing.T, f *Floor, name string) *Saw {
	t.Helper()
	i := slices.IndexFunc(f.Saws, func(s Saw) bool { return s.Saw == name })
	if i < 0 {
		t.Fatalf("no saw %s", name)
	}
	return &f.Saws[i]
}

func said(minute int, state analyze.State) *analyze.Reading {
	return &analyze.Reading{Saw: "s1", Kind: analyze.KindState, ID: fmt.Sprint("state-", minute), At: at(minute), Received: at(minute),
		State: &analyze.StateChange{State: state}}
}

func alive(minute int, online bool) *analyze.Reading {
	return &analyze.Reading{Saw: "s1", Kind: analyze.KindAlive, ID: fmt.Sprint("alive-", minute), At: at(minute), Received: at(minute),
		Alive: &analyze.Alive{Online: online}}
}

func broke(minute int) *analyze.Reading {
	return &analyze.Reading{Saw: "s1", Kind: analyze.KindBreak, ID: fmt.Sprint("break-", minute), At: at(minute), Received: at(minute),
		Cut: &analyze.Cut{Count: 1, Purpose: analyze.PurposePart, Where: analyze.PlaceBody}}
}

func row(f *Floor, saw string) string {
	var b strings.Builder
	f.writeSaws(&b, figures.Style{Zone: time.UTC})
	for line := range strings.Lines(b.String()) {
		if strings.HasPrefix(line, saw+" ") {
			return line
		}
	}
	return ""
}

// TestRowsAndDoubts states what a person is told, and what not, in each case.
func TestRowsAndDoubts(t *testing.T) {
	skewed := func(minutes int, by time.Duration) []*analyze.Reading {
		list := []*analyze.Reading{}
		for i := range minutes {
			r := cut(i, 10, "1018")
			r.Received = r.At.Add(by)
			list = append(list, r)
		}
		return list
	}
	gap := []*analyze.Reading{cut(1, 10, "1018"), cut(2, 10, "1018")}
	gap[0].Seq, gap[1].Seq = ptr(int64(1)), ptr(int64(5))
	unsized := cut(1, 10, "1018")
	unsized.Cut.Square = nil
	other := cut(2, 10, "1018")
	other.Cut.Serial = "B"
	for _, c := range []struct {
		name     string
		readings []*analyze.Reading
		minute   int
		saw      string
		row      string // part of its row
		doubt    string // part of a doubt, "" for none to look for
		never    string // part of no doubt
	}{
		{"silent", []*analyze.Reading{cut(0, 10, "1018")}, 16, "s1", "no data since 06:00", "", ""},
		{"never heard", nil, 0, "s3", "no data yet", "saw s3: the saw has never sent a reading", ""},
		{"unnamed blade", []*analyze.Reading{cut(1, 10, "1018")}, 2, "s1", "(not named)", "no known serial", ""},
		{"not configured", []*analyze.Reading{on("s9", cut(1, 10, "1018"))}, 2, "s9", "s9", "saw s9 is not in the configuration", "saw s1 is not"},
		{"no blade", []*analyze.Reading{fit(1, "A", "T"), remove(2, "A", analyze.ReasonDull)}, 3, "s1", "no blade known", "saw s1: no blade is known", ""},
		{"too few ends", append(worn(1000, 2000), fit(50, "A", "T"), cut(51, 10, "1018")), 52, "s1", "unknown", "what is left is unknown: 2 of 3 blades have ended: at least 3 ends are needed", ""},
		{"unknown grade", []*analyze.Reading{fit(0, "A", "T"), cut(1, 1234, "unobtainium")}, 2, "s1", "1,234", `grade "unobtainium" is not in the configuration: 1,234 in²`, ""},
		{"known grade", []*analyze.Reading{fit(0, "A", "T"), cut(1, 1234, "a 36")}, 2, "s1", "1,234", "", "grade"},
		{"clock behind", skewed(5, time.Minute), 6, "s1", "s1", "its clock differs from ours by -60 s (running median over 5 minutes", ""},
		{"clock ahead", skewed(5, -time.Minute), 6, "s1", "s1", "its clock differs from ours by +60 s", ""},
		{"one late reading is no wrong clock", skewed(4, time.Minute), 6, "s1", "s1", "", "clock"},
		{"clock near enough", skewed(5, 30*time.Second), 6, "s1", "s1", "", "clock"},
		{"gap", gap, 3, "s1", "s1", "saw s1: 3 readings are missing from its numbering", ""},
		{"area unknown", []*analyze.Reading{fit(0, "A", "T"), unsized}, 3, "s1", "0 (0) + 1 pass of unknown area", "the area of 1 pass of blade A is unknown", ""},
		{"another serial", []*analyze.Reading{fit(0, "A", "T"), other}, 3, "s1", "A T", "1 pass named another blade than A, which the blade messages say is on; it gets the area", ""},
		{"pulled for no known reason", []*analyze.Reading{fit(0, "A", "T"), cut(1, 10, "1018"), remove(2, "A", analyze.ReasonUnknown)}, 3, "s1", "no blade", "T: 1 blade left the saw for a reason nobody told", ""},
		{"pulled by plan", []*analyze.Reading{fit(0, "A", "T"), cut(1, 10, "1018"), remove(2, "A", analyze.ReasonPlanned)}, 3, "s1", "no blade", "", "nobody told"},
		{"gone by its last will", []*analyze.Reading{said(0, "cutting"), cut(1, 10, "1018"), alive(3, false)}, 4, "s1", "offline since 06:03", "", ""},
		{"there again", []*analyze.Reading{said(0, "cutting"), alive(1, false), alive(2, true), cut(3, 10, "1018")}, 4, "s1", "cutting", "", ""},
		{"broke and said no more", []*analyze.Reading{said(0, "cutting"), fit(0, "A", "T"), broke(2)}, 3, "s1", "stopped, blade-break", "", ""},
		{"broke and cuts again", []*analyze.Reading{said(0, "cutting"), fit(0, "A", "T"), broke(2), fit(3, "B", "T"), cut(5, 10, "1018")}, 6, "s1", "cutting", "", ""},
		{"on two saws at once", append(worn(1000, 2000, 3000), fit(50, "A", "T"), cut(51, 10, "1018"), on("s2", fit(50, "A", "T"))), 52, "s1", "unknown", "blade A hangs on more than one", ""},
		{"too few deviations", []*analyze.Reading{fit(0, "A", "T"), deviating(cut(1, 10, "1018"), 0.004)}, 3, "s1", "+0.0040", "saw s1: no slope: 1 cuts with a deviation", ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			f := build(t, c.minute, c.readings...)
			if got := row(f, c.saw); !strings.Contains(got, c.row) {
				t.Errorf("row %q does not say %q", got, c.row)
			}
			doubts := strings.Join(f.Doubts, "\n")
			if !strings.Contains(doubts, c.doubt) {
				t.Errorf("no doubt %q in:\n%s", c.doubt, doubts)
			}
			if c.never != "" && strings.Contains(doubts, c.never) {
				t.Errorf("a doubt %q in:\n%s", c.never, doubts)
			}
		})
	}
}

// A backlog that comes now does not make a saw that stopped long ago look
// alive; a slow clock does not make a working one look dead.
func TestSilenceGoesByWhenItHappened(t *testing.T) {
	now := at(0)
	for _, c := range []struct {
		name               string
		at, received, skew time.Duration // before now; the clock's skew
		minutes            int           // that the skew is the median of
		happened           time.Duration // before now
		silent             bool
	}{
		{"fresh", time.Minute, time.Minute, 0, 15, time.Minute, false},
		{"just not too old", 15 * time.Minute, 15 * time.Minute, 0, 15, 15 * time.Minute, false},
		{"too old", 15*time.Minute + 1, 15*time.Minute + 1, 0, 15, 15*time.Minute + 1, true},
		{"backlog", 2 * time.Hour, 0, 0, 15, 2 * time.Hour, true},
		{"clock behind", 2 * time.Hour, time.Minute, 2*time.Hour - time.Minute, skewMinutes, time.Minute, false},
		{"clock ahead", -2 * time.Hour, time.Hour, -3 * time.Hour, 15, time.Hour, true},
		{"put right beyond its receipt", time.Hour, time.Minute, 3 * time.Hour, 15, time.Minute, false},
		{"a backlog is no slow clock", 2 * time.Hour, 0, 2 * time.Hour, skewMinutes - 1, 2 * time.Hour, true},
	} {
		t.Run(c.name, func(t *testing.T) {
			var s Saw
			s.hear(&store.SawRow{LastAt: now.Add(-c.at), LastReceived: now.Add(-c.received), Skew: c.skew, SkewMinutes: c.minutes}, now, 15*time.Minute)
			if want := now.Add(-c.happened); s.Silent != c.silent || !s.LastReading.Happened.Equal(want) || s.LastReading.AgeSeconds != c.happened.Seconds() {
				t.Errorf("silent %v, happened %+v; want %v, %s", s.Silent, s.LastReading, c.silent, want)
			}
		})
	}
}

// TestRemainingIsOfWhatTheSawCuts holds the forecast to life.Weibull.Remaining
// of the weighted area, divided by the mean weight of what s1 cut: 6,000 in² of
// 1018 (weight 1) and 1,000 in² of A36, whose weight is learned about the 1.3 of
// the configuration's default grades: a blade that ran on says a little less.
func TestRemainingIsOfWhatTheSawCuts(t *testing.T) {
	ages := []float64{1000, 2000, 3000}
	f := build(t, 60, append(worn(ages...), fit(50, "A", "T"), cut(51, 1000, "A36"))...)
	b := sawOf(t, f, "s1").Blade
	weight := b.Classes[0].Severity
	if len(b.Classes) != 1 || !(1.2 < weight && weight < 1.3) || b.WeightedArea != 1000*weight {
		t.Fatalf("classes %+v, weighted %v; want A36 at a little under 1.3", b.Classes, b.WeightedArea)
	}
	w, err := life.FitWeibull([]life.Observation{
		{Area: 1000, Ended: true}, {Area: 2000, Ended: true}, {Area: 3000, Ended: true}, {Area: 1000 * weight},
	})
	if err != nil {
		t.Fatal(err)
	}
	weighted, severity := w.Remaining(1000*weight, 1000*weight), (6000+weight*1000)/7000
	want := &Window{weighted.Q10 / severity, weighted.Q50 / severity, weighted.Q90 / severity}
	near := cmpopts.EquateApprox(1e-9, 0)
	if diff := cmp.Diff(want, b.Remaining, near); diff != "" {
		t.Errorf("remaining (-want +got):\n%s", diff)
	}
	if diff := cmp.Diff(&Window{1000 + want.Q10, 1000 + want.Q50, 1000 + want.Q90}, b.ChangePoint, near); diff != "" {
		t.Errorf("change point (-want +got):\n%s", diff)
	}
	if b.ChangeTime == nil || b.ChangeTime.Pace != 7000 || b.ChangeTime.Days != 1 {
		t.Fatalf("change time %+v, want a pace of 7,000 in² in its first day", b.ChangeTime)
	}
	when := at(60).Add(time.Duration(want.Q50 / 7000 * float64(24*time.Hour)))
	if d := b.ChangeTime.Q50.Sub(when).Abs(); d > time.Millisecond {
		t.Errorf("half are done by %s, want %s", b.ChangeTime.Q50, when)
	}
	l := f.Types[0]
	if l.Type != "T" || l.Blades != 4 || l.Ended != 3 || l.Censored != 1 || l.Weibull == nil || cmp.Diff([]float64{w.Shape, w.Scale}, []float64{l.Weibull.Shape.Value, l.Weibull.Scale.Value}, near) != "" {
		t.Errorf("life of the type %+v, want 3 ends of 4 with shape %v, scale %v", l, w.Shape, w.Scale)
	}
}

// TestPaceIsOfTheLastWeek has a saw that is ten days old and cut 1,000 in² two
// days ago, after 6,000 in² that are too long ago to count.
func TestPaceIsOfTheLastWeek(t *testing.T) {
	const day = 24 * 60
	f := build(t, 10*day, append(worn(1000, 2000, 3000), fit(50, "A", "T"), cut(8*day, 1000, "1018"))...)
	c := sawOf(t, f, "s1").Blade.ChangeTime
	if c == nil || c.Days != 7 || math.Abs(c.Pace-1000.0/7) > 1e-9 {
		t.Errorf("change time %+v, want a pace of 1,000 in² in 7 days", c)
	}
}

// At 0.001 in² in a week the change would lie tens of thousands of years away.
func TestAChangeIsDatedTenYearsAheadAtMost(t *testing.T) {
	const week = 7 * 24 * 60
	f := build(t, week+60, append(worn(1000, 2000, 3000), fit(50, "A", "T"), cut(week, 0.001, "1018"))...)
	c := sawOf(t, f, "s1").Blade.ChangeTime
	if want := at(week+60).AddDate(0, 0, 3650); c == nil || !c.Q10.Equal(want) || !c.Q90.Equal(want) {
		t.Errorf("change %+v, want %s", c, want)
	}
}

func TestABladeThatMovedIsOneBlade(t *testing.T) {
	f := build(t, 100,
		on("s2", fit(0, "A", "T")), on("s2", cut(1, 100, "1018")), on("s2", remove(2, "A", analyze.ReasonMoved)),
		fit(10, "A", "T"), cut(11, 200, "A36"), cut(12, 50, "1018"))
	if b := sawOf(t, f, "s2").Blade; b != nil {
		t.Errorf("s2 still has %s", b.Serial)
	}
	b := sawOf(t, f, "s1").Blade
	if b.Area != 350 || b.Cuts != 3 || b.WeightedArea != 150+1.3*200 || b.Seconds != 180 || b.Travel != 750 {
		t.Errorf("area %v, weighted %v, %d cuts, %v s, %v ft; want 350, 410, 3, 180, 750", b.Area, b.WeightedArea, b.Cuts, b.Seconds, b.Travel)
	}
	want := []Class{{Class: "carbon", Area: 150, Severity: 1, Known: true}, {Class: "shapes", Area: 200, Severity: 1.3, Known: true}}
	if diff := cmp.Diff(want, b.Classes); diff != "" {
		t.Errorf("classes (-want +got):\n%s", diff)
	}
	if len(f.Types) != 1 || f.Types[0].Blades != 1 || f.Types[0].Ended != 0 || f.Types[0].Censored != 1 {
		t.Errorf("types %+v, want one running blade", f.Types)
	}
}

// The type is what was said last, whichever saw comes first by name.
func TestTheNewestTypeCounts(t *testing.T) {
	for _, saws := range [][2]string{{"s1", "s2"}, {"s2", "s1"}} {
		f := build(t, 100, on(saws[0], fit(0, "A", "OLD")), on(saws[0], remove(2, "A", analyze.ReasonMoved)), on(saws[1], fit(10, "A", "NEW")))
		if b := sawOf(t, f, saws[1]).Blade; b.Type != "NEW" {
			t.Errorf("from %s to %s: type %s, want NEW", saws[0], saws[1], b.Type)
		}
	}
}

// Deviations that grow by 0.004 in over 4 in of height each 100 in² rise by
// 0.01 in an inch of height each 1,000 in²; in a grade that wears faster the
// same 100 in² are more weighted ones.
func TestSlopeIsPerInchOfHeight(t *testing.T) {
	list := []*analyze.Reading{fit(0, "A", "T")}
	for i := range 12 {
		list = append(list, deviating(cut(i+1, 100, "1018"), 0.004*float64(i)))
	}
	b := sawOf(t, build(t, 20, list...), "s1").Blade
	if b.Slope == nil || b.Slope.PerArea != 1000 || b.Slope.N != 12 || cmp.Diff(0.01, b.Slope.Value, cmpopts.EquateApprox(1e-9, 0)) != "" {
		t.Errorf("slope %+v (%s), want 0.01 over 12", b.Slope, b.WhySlope)
	}
	if b.Deviation == nil || b.Deviation.Value != 0.044 || !b.Deviation.At.Equal(at(12)) {
		t.Errorf("last deviation %+v", b.Deviation)
	}
	for _, r := range list[1:] {
		r.Cut.Grade = "304"
	}
	b = sawOf(t, build(t, 20, list...), "s1").Blade
	if want := 0.01 * b.Area / b.WeightedArea; b.WeightedArea == b.Area || cmp.Diff(want, b.Slope.Value, cmpopts.EquateApprox(1e-9, 0)) != "" {
		t.Errorf("in another grade the slope is %+v over %v in² weighted %v, want %v", b.Slope, b.Area, b.WeightedArea, want)
	}
}
