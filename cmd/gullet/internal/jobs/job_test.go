package jobs

import (
	"encoding/json"
	"math"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"gullet/analyze"
	"gullet/analyze/section"
)

// job is a square cut of a designation, by a horizontal blade.
func job(t *testing.T, designation string, change ...func(*Job)) Job {
	t.Helper()
	s, err := section.Parse(designation)
	if err != nil {
		t.Fatal(err)
	}
	j := Job{Text: designation, Section: s, Pass: section.Pass{Count: 1, Saw: analyze.FixedFrame}}
	for _, c := range change {
		c(&j)
	}
	return j
}

func sixty(saw analyze.SawKind) func(*Job) {
	return func(j *Job) { j.Pass.Mitre, j.Pass.Saw = 60, saw }
}

// Common practice (domain reference, section 3): 3 teeth at least, 24 at most,
// in the average width, which is 2 in of a flat and 4.7124 in of a round of 6.
func TestVerdict(t *testing.T) {
	for _, c := range []struct {
		name      string
		job       Job
		low, high float64
		want      string
	}{
		{"3 teeth in 2 in", job(t, "FL1x2"), 1.5, 1.5, Sound},
		{"fewer", job(t, "FL1x2"), 1.49, 1.49, Strips},
		{"fewer at the coarse end", job(t, "FL1x2"), 1.4, 2, Strips},
		{"24 teeth in 2 in", job(t, "FL1x2"), 12, 12, Sound},
		{"more", job(t, "FL1x2"), 12.1, 12.1, Fills},
		{"more at the fine end", job(t, "FL1x2"), 10, 14, Fills},
		{"three rounds at once", job(t, "RD6", func(j *Job) { j.Pass.Count = 3 }), 3, 3, Fills},
		{"three rounds one after the other", job(t, "RD6", func(j *Job) { j.Pass.Count, j.Pass.Saw = 3, analyze.TiltingColumn }), 3, 3, Sound},
		// 2 × 7.647 in² over 12.2 in of stroke or over 6.49 in (section 2.5).
		{"beam at 60° on a swivel frame", job(t, "W12x26", sixty(analyze.SwivelFrame)), 2, 2, Strips},
		{"beam at 60° on a tilting column", job(t, "W12x26", sixty(analyze.TiltingColumn)), 2, 2, Sound},
	} {
		t.Run(c.name, func(t *testing.T) {
			a := Study(c.job, Blade{TPI: "x", Low: c.low, High: c.high})
			if a.Verdict != c.want || (a.Caution == "") != (c.want == Sound) || a.Why != "" {
				t.Errorf("verdict %q, caution %q, why %q; want %q", a.Verdict, a.Caution, a.Why, c.want)
			}
		})
	}
}

// The worked example of the domain reference, section 3: round of 6 in, 3 TPI,
// 250 ft/min, 8 in²/min: 18 teeth and 0.000148 in a tooth at the centre.
func TestStudyOfTheWorkedExample(t *testing.T) {
	want := Answer{
		Section: "RD6", Area: 9 * math.Pi, CutArea: 9 * math.Pi, Unit: "in", SawKind: "fixed", Verdict: Sound,
		ContactMin: ptr(2.615339), ContactMean: ptr(1.5 * math.Pi), ContactMax: ptr(6.0),
		TeethMin: ptr(7.846018), TeethMax: ptr(18.0), TeethCoarse: ptr(4.5 * math.Pi), TeethFine: ptr(4.5 * math.Pi),
		BiteMin: ptr(8. / 9000 / 6), BiteMean: ptr(8. / 9000 / (1.5 * math.Pi)), BiteMax: ptr(8. / 9000 / 2.615339),
	}
	for name, c := range map[string]struct {
		job   Job
		blade Blade
	}{
		"told":                   {job(t, "RD6"), Blade{Rate: 8, Speed: 250}},
		"by the grade":           {job(t, "RD6", func(j *Job) { j.Grade = &steel }), Blade{}},
		"the rate by the grade":  {job(t, "RD6", func(j *Job) { j.Grade = &analyze.Grade{Rate: 8, BandSpeed: 99} }), Blade{Speed: 250}},
		"told beside a grade":    {job(t, "RD6", func(j *Job) { j.Grade = &analyze.Grade{Rate: 99, BandSpeed: 99} }), Blade{Rate: 8, Speed: 250}},
		"the speed by the grade": {job(t, "RD6", func(j *Job) { j.Grade = &analyze.Grade{Rate: 99, BandSpeed: 250} }), Blade{Rate: 8}},
	} {
		t.Run(name, func(t *testing.T) {
			c.blade.TPI, c.blade.Low, c.blade.High = "3", 3, 3
			got := Study(c.job, c.blade)
			if len(got.Profile) != rows || len(got.Shares) != 5 || got.Thinnest == nil {
				t.Fatalf("%d stretches, %d shares, thinnest %v", len(got.Profile), len(got.Shares), got.Thinnest)
			}
			rest := cmpopts.IgnoreFields(Answer{}, "Profile", "Shares", "Thinnest", "Grade")
			if diff := cmp.Diff(want, got, rest, cmpopts.EquateApprox(1e-6, 0)); diff != "" {
				t.Errorf("-want +got:\n%s", diff)
			}
		})
	}
}

// At a held feed the grade's rate does not count, and each tooth takes as much
// wherever it is.
func TestAHeldFeedGoesBeforeTheRateOfTheGrade(t *testing.T) {
	a := Study(job(t, "RD6", func(j *Job) { j.Grade = &steel }), Blade{TPI: "3", Low: 3, High: 3, Feed: 4. / 3})
	for _, got := range []*float64{a.BiteMin, a.BiteMean, a.BiteMax, a.Profile[0].BiteMax, a.Thinnest.BiteMax} {
		if got == nil || math.Abs(*got-4./3/9000) > 1e-15 {
			t.Errorf("feed per tooth %v, want %v", got, 4./3/9000)
		}
	}
}

// Domain reference, section 2.5, at 3 teeth to the inch.
func TestProfileOfABeamAtAnAngle(t *testing.T) {
	a := Study(job(t, "W12x26", sixty(analyze.SwivelFrame)), Blade{TPI: "3", Low: 3, High: 3})
	flange, web := Stretch{ContactMin: 12.98, ContactMax: 12.98, TeethMin: 38.94, TeethMax: 38.94}, Stretch{From: 0.38, To: 11.82, ContactMin: 0.46, ContactMax: 0.46, TeethMin: 1.38, TeethMax: 1.38}
	top, foot := flange, flange
	top.To, foot.From, foot.To = 0.38, 11.82, 12.2
	if diff := cmp.Diff([]Stretch{top, web, foot}, a.Profile, cmpopts.EquateApprox(0, 1e-9)); diff != "" {
		t.Errorf("-want +got:\n%s", diff)
	}
	if diff := cmp.Diff(&web, a.Thinnest, cmpopts.EquateApprox(0, 1e-9)); diff != "" {
		t.Errorf("thinnest, -want +got:\n%s", diff)
	}
	if want := "at 0.380 to 11.820 in from the top only 1.4 teeth are in the cut: clamp firmly and feed gently there"; a.Note != want {
		t.Errorf("note %q, want %q", a.Note, want)
	}
}

func TestWhatIsNotKnownIsSaid(t *testing.T) {
	blade := Blade{TPI: "3", Low: 3, High: 3}
	weight := Job{Text: "26 lb/ft", Section: section.Section{Shape: section.Weight, PerFt: 26}, Pass: section.Pass{Count: 1, Saw: analyze.FixedFrame}}
	for _, c := range []struct {
		name  string
		job   Job
		blade Blade
		why   string
	}{
		{"no pitch", job(t, "RD6"), Blade{}, "teeth in the cut need --tpi"},
		{"an angle on a fixed saw", job(t, "RD6", sixty(analyze.FixedFrame)), blade, "contact at an angle depends on the saw: give --saw-kind tilting-column or swivel-frame"},
		{"a weight", weight, blade, "weight: contact is not known, the weight gives an area but no dimensions; give the section with its dimensions"},
	} {
		t.Run(c.name, func(t *testing.T) {
			a := Study(c.job, c.blade)
			if a.Why != c.why || a.Verdict != "" || a.TeethMin != nil || a.Profile != nil || !(a.CutArea > 0) {
				t.Errorf("%+v: want only the area, and why %q", a, c.why)
			}
			var b strings.Builder
			if err := a.Write(&b, c.blade); err != nil || !strings.Contains(b.String(), "\n  "+c.why+"\n") {
				t.Errorf("%v in\n%s", err, b.String())
			}
		})
	}
}

func TestWriteOneJob(t *testing.T) {
	blade := Blade{TPI: "3/4", Low: 3, High: 4, Rate: 7, Speed: 100}
	a := Study(job(t, "W12x26", func(j *Job) { j.Name = "A-7" }), blade)
	// 7/(12·100·3.5) = 1/600 in² a tooth over 6.49, 0.6268 and 0.23 in of contact;
	// 3/0.6268 = 4.8 TPI, 24/0.6268 = 38, best 9.6 to 19.
	want := `W12x26, taken as fixed saw, web-vertical
  square area  7.647 in²
  cut area     7.647 in²
  contact      least 0.230 in, mean 0.627 in, most 6.490 in
               least leaves out the first and last twentieth of the stroke where contact starts from nothing
  teeth in cut 0.7 to 26.0 at 3/4 TPI; common practice: 3 at least, 6 to 12 best, 24 at most
  feed a tooth least 0.000257 in, mean 0.002659 in, most 0.007246 in, at a held cutting rate and the mean pitch
  on average   1.9 to 2.5 teeth in 0.627 in
  fewest       0.7 to 0.9 teeth at 0.380 to 11.820 in from the top, each fed 0.007246 in
  verdict      A-7 strips teeth: fewer than 3 teeth are in the average width and may strip: take a finer pitch, 4.8 to 38 TPI, best 9.6 to 19 (common practice)

Along the stroke
DEPTH in          CONTACT in  TEETH         FEED A TOOTH in
0.000 to 0.380    6.490       19.5 to 26.0  0.000257
0.380 to 11.820   0.230       0.7 to 0.9    0.007246
11.820 to 12.200  6.490       19.5 to 26.0  0.000257

How much of the cut goes with how many teeth, at the mean pitch
TEETH          FEWER THAN 3  3 TO 6  6 TO 12  12 TO 24  MORE THAN 24
of the stroke  94 %          0 %     0 %      6 %       0 %
of the area    35 %          0 %     0 %      65 %      0 %
`
	var b strings.Builder
	if err := a.Write(&b, blade); err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(want, b.String()); diff != "" {
		t.Errorf("-want +got:\n%s", diff)
	}
	if !a.Advises() {
		t.Error("it advises no change, want the caution text beside it")
	}
}

// A list is told worst first, and otherwise in its own order.
func TestListIsToldWorstFirst(t *testing.T) {
	named := func(name, designation string, change ...func(*Job)) Job {
		j := job(t, designation, change...)
		j.Name = name
		return j
	}
	list := []Job{
		named("sound", "RD4"), named("unknown", "RD4", sixty(analyze.FixedFrame)), named("thin", "W12x26", sixty(analyze.SwivelFrame)),
		named("3 teeth", "SQ1"), named("fills", "RD6", func(j *Job) { j.Pass.Count = 9 }), named("strips", "SQ1/2"), named("sound too", "RD4"),
	}
	r := StudyList(list, Blade{TPI: "3", Low: 3, High: 3})
	var got []string
	for _, a := range r.Jobs {
		got = append(got, a.Job)
	}
	want := []string{"strips", "fills", "thin", "unknown", "sound", "3 teeth", "sound too"}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("-want +got:\n%s", diff)
	}
	if want := "Teeth are stripped at 3 TPI by 1 of 7 jobs: strips; it is not known of unknown"; r.summary() != want {
		t.Errorf("summary %q, want %q", r.summary(), want)
	}
	if !r.Advises() {
		t.Error("it advises no change, want the caution text beside it")
	}
}

func TestListThatStripsNoTeethSaysSo(t *testing.T) {
	r := StudyList([]Job{job(t, "RD4")}, Blade{TPI: "3", Low: 3, High: 3})
	if want := "No job strips teeth at 3 TPI"; r.summary() != want {
		t.Errorf("summary %q, want %q", r.summary(), want)
	}
	if r.Advises() {
		t.Error("it advises a change")
	}
	data, err := json.Marshal(r)
	if err != nil || !strings.HasPrefix(string(data), `{"tpi":"3","strips":[],"unknown":[],"jobs":[{"section":"RD4",`) {
		t.Errorf("%v: %s", err, data)
	}
}

func ptr[T any](x T) *T { return &x }

func TestWriteAList(t *testing.T) {
	list := []Job{
		job(t, "RD4"),
		job(t, "HSS4x4x1/4", func(j *Job) { j.Name, j.Grade = "A-2", &steel }),
		job(t, "W12x26", sixty(analyze.SwivelFrame)),
		job(t, "W12x26", sixty(analyze.FixedFrame), func(j *Job) { j.Name = "A-4" }),
		job(t, "RD6", func(j *Job) { j.Pass.Count = 3 }),
	}
	// 8/(12·250·3) in² a tooth over 0.8973 and 0.5 in of contact; three rounds have
	// 14.14 in on average, which 3/14.14 to 24/14.14 teeth to the inch fit.
	want := `Teeth are stripped at 3 TPI by 1 of 5 jobs: A-2; it is not known of A-4

JOB     SECTION              MITRE  TEETH fewest  TEETH on average  FEED A TOOTH in, mean (most)  VERDICT
A-2     HSS4x4x1/4 as-given  0°     1.5           2.7               0.000991 (0.001778)           strips teeth: fit for it are 3.3 to 27 TPI, best 6.7 to 13
RD6     RD6                  0°     23.5          42.4              unknown                       fills gullets: fit for it are 0.21 to 1.7 TPI, best 0.42 to 0.85
W12x26  W12x26 web-vertical  60°    1.4           3.8               unknown                       sound: at 0.380 to 11.820 in from the top only 1.4 teeth are in the cut: clamp firmly and feed gently there
A-4     W12x26 web-vertical  60°    unknown       unknown           unknown                       unknown: contact at an angle depends on the saw: give --saw-kind tilting-column or swivel-frame
RD4     RD4                  0°     5.2           9.4               unknown                       sound
`
	var b strings.Builder
	if err := StudyList(list, Blade{TPI: "3", Low: 3, High: 3}).Write(&b); err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(want, b.String()); diff != "" {
		t.Errorf("-want +got:\n%s", diff)
	}
}

// A vertical blade goes from the left, and meets bars one after another.
func TestWriteATiltingColumn(t *testing.T) {
	a := Study(job(t, "RD6", func(j *Job) { j.Pass.Count, j.Pass.Saw = 2, analyze.TiltingColumn }), Blade{TPI: "1", Low: 1, High: 1, Feed: 1, Speed: 250})
	var b strings.Builder
	if err := a.Write(&b, Blade{TPI: "1", Low: 1, High: 1, Feed: 1, Speed: 250}); err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{
		// 1/(12·250·1) in a tooth wherever it is.
		"\n  feed a tooth least 0.000333 in, mean 0.000333 in, most 0.000333 in, at a held feed and the mean pitch\n",
		"\n  fewest       2.6 teeth at 0.300 in from the left of each bar, each fed 0.000333 in\n",
		"\n  verdict      RD6 is sound: no fewer than 3 and no more than 24 teeth are in the average width\n",
		"\n  note         at 0.300 in from the left of each bar only 2.6 teeth are in the cut: clamp firmly and feed gently there\n",
		"\nAlong the stroke, through each of 2 bars in turn\n",
		"\n0.000 to 0.750  0.000 to 3.969  0.0 to 4.0  0.000333\n",
	} {
		if !strings.Contains(b.String(), want) {
			t.Errorf("no%sin\n%s", want, b.String())
		}
	}
}

// Programs that read the answer find what they found before there were profiles.
func TestJSONKeepsItsMembers(t *testing.T) {
	data, err := json.Marshal(Study(job(t, "HSS4x4x1/4"), Blade{TPI: "3", Low: 3, High: 3}))
	if err != nil {
		t.Fatal(err)
	}
	var got map[string]any
	if err := json.Unmarshal(data, &got); err != nil {
		t.Fatal(err)
	}
	for _, member := range []string{
		"section", "area", "cut_area", "contact_min", "contact_mean", "contact_max", "teeth_min", "teeth_max",
		"feed_per_tooth_min", "feed_per_tooth_mean", "feed_per_tooth_max", "caution", "unit", "lay", "saw_kind",
	} {
		if _, ok := got[member]; !ok {
			t.Errorf("no member %s in %s", member, data)
		}
	}
}
