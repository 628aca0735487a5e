package jobs

import (
	"encoding/csv"
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
	"pgregory.net/rapid"

	"gullet/analyze"
	"gullet/analyze/section"
)

// anyJob draws a job that a saw can cut, of the shapes shops order most.
func anyJob(t *rapid.T) Job {
	text := rapid.SampledFrom([]string{
		"RD6", "RD1/2", "SQ2", "FL1/2x4", "HEX2", "PIPE4STD", "HSS4x4x1/4", "HSS12x8x1/2", "L4x4x1/2", "L6x4x1/2", "W12x26", "W36x150", "C8x11.5", "WT6x25",
	}).Draw(t, "section")
	s, err := section.Parse(text)
	if err != nil {
		t.Fatal(err)
	}
	if lays := section.Lays(s.Shape); len(lays) > 0 {
		s.Lay = rapid.SampledFrom(lays).Draw(t, "lay")
		if s.Check() != nil {
			s.Lay = lays[0] // no square bar
		}
	}
	j := Job{Text: text, Section: s, Pass: section.Pass{Count: rapid.IntRange(1, 6).Draw(t, "count"), Saw: rapid.SampledFrom(analyze.SawKinds()).Draw(t, "saw")}}
	if j.Pass.Saw != analyze.FixedFrame {
		j.Pass.Mitre = rapid.Float64Range(-60, 60).Draw(t, "mitre")
	}
	return j
}

// anyBlade draws a blade with all that is needed for the feed per tooth.
func anyBlade(t *rapid.T) Blade {
	b := Blade{TPI: "drawn", Low: rapid.Float64Range(0.5, 14).Draw(t, "coarse"), Speed: rapid.Float64Range(50, 400).Draw(t, "speed")}
	b.High = b.Low * rapid.Float64Range(1, 1.6).Draw(t, "variation")
	if rapid.Bool().Draw(t, "feed is held") {
		b.Feed = rapid.Float64Range(0.1, 10).Draw(t, "feed")
	} else {
		b.Rate = rapid.Float64Range(0.5, 30).Draw(t, "rate")
	}
	return b
}

func TestSharesSumToOne(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a := Study(anyJob(t), anyBlade(t))
		var stroke, area float64
		for _, s := range a.Shares {
			stroke, area = stroke+s.Stroke, area+s.Area
		}
		if math.Abs(stroke-1) > 1e-9 || math.Abs(area-1) > 1e-9 {
			t.Errorf("of the stroke %g, of the area %g, want 1", stroke, area)
		}
	})
}

// The profile, the thinnest place and the figures for the whole agree.
func TestProfileAgreesWithTheWhole(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a := Study(anyJob(t), anyBlade(t))
		if len(a.Profile) == 0 || len(a.Profile) > rows {
			t.Fatalf("%d lines, want 1 to %d", len(a.Profile), rows)
		}
		var most, mostTeeth float64
		least := math.Inf(1)
		for _, s := range a.Profile {
			most, mostTeeth = max(most, s.ContactMax), max(mostTeeth, s.TeethMax)
			if s.BiteMin != nil {
				least = min(least, *s.BiteMin)
			}
		}
		near := cmpopts.EquateApprox(1e-9, 0)
		got := []float64{most, mostTeeth, least}
		if diff := cmp.Diff([]float64{*a.ContactMax, *a.TeethMax, *a.BiteMin}, got, near); diff != "" {
			t.Errorf("most contact and teeth, least bite: -whole +profile:\n%s", diff)
		}
		// The least contact of the whole is never above the mean (Contact.Min).
		if diff := cmp.Diff(*a.TeethMin, min(a.Thinnest.TeethMin, *a.TeethCoarse), near); diff != "" {
			t.Errorf("fewest teeth: -whole +thinnest:\n%s", diff)
		}
	})
}

// Twice the teeth to the inch: twice the teeth in the cut, each fed half as much,
// where the teeth are is the same, and fewer strip.
func TestTeethGoWithThePitch(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		j, b := anyJob(t), anyBlade(t)
		coarse := Study(j, b)
		b.Low, b.High = 2*b.Low, 2*b.High
		fine := Study(j, b)
		near := cmpopts.EquateApprox(1e-9, 0)
		want := []float64{2 * *coarse.TeethMin, 2 * *coarse.TeethMax, 2 * *coarse.TeethCoarse, *coarse.BiteMean / 2, *coarse.BiteMax / 2, coarse.Thinnest.From}
		got := []float64{*fine.TeethMin, *fine.TeethMax, *fine.TeethCoarse, *fine.BiteMean, *fine.BiteMax, fine.Thinnest.From}
		if diff := cmp.Diff(want, got, near); diff != "" {
			t.Errorf("-want +got:\n%s", diff)
		}
		order := []string{Strips, Sound, Fills}
		if slices.Index(order, fine.Verdict) < slices.Index(order, coarse.Verdict) {
			t.Errorf("%q at a pitch, %q at one of twice the teeth", coarse.Verdict, fine.Verdict)
		}
	})
}

// An angle stretches the contact by 1/cos on either kind of saw, and a held
// cutting rate then feeds each tooth by cos less (domain reference, section 2.5).
func TestAnAngleStretchesTheContact(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		j, b := anyJob(t), anyBlade(t)
		b.Rate, b.Feed = 8, 0
		j.Pass.Saw = rapid.SampledFrom([]analyze.SawKind{analyze.SwivelFrame, analyze.TiltingColumn}).Draw(t, "saw that turns")
		mitred := Study(j, b)
		cos := math.Cos(j.Pass.Mitre * math.Pi / 180)
		j.Pass.Mitre = 0
		square := Study(j, b)
		want := []float64{*square.TeethMin / cos, *square.TeethMax / cos, *square.TeethFine / cos, square.CutArea / cos, *square.BiteMax * cos}
		got := []float64{*mitred.TeethMin, *mitred.TeethMax, *mitred.TeethFine, mitred.CutArea, *mitred.BiteMax}
		if diff := cmp.Diff(want, got, cmpopts.EquateApprox(1e-9, 0)); diff != "" {
			t.Errorf("-square × 1/cos +mitred:\n%s", diff)
		}
	})
}

// The list holds every job once, whatever order it is told in, and the jobs of
// one verdict in the order of the list.
func TestAListKeepsEveryJob(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		list := rapid.SliceOfN(rapid.Custom(anyJob), 0, 12).Draw(t, "jobs")
		for i := range list {
			list[i].Name = fmt.Sprintf("%02d", i)
		}
		r := StudyList(list, anyBlade(t))
		var names []string
		for i, a := range r.Jobs {
			names = append(names, a.Job)
			if i == 0 {
				continue
			}
			if before := r.Jobs[i-1]; before.rank() > a.rank() || before.rank() == a.rank() && before.Job > a.Job {
				t.Errorf("%s (%s) stands before %s (%s)", before.Job, before.Verdict, a.Job, a.Verdict)
			}
		}
		slices.Sort(names)
		if len(slices.Compact(names)) != len(list) {
			t.Errorf("%d jobs told, want %d", len(names), len(list))
		}
		stripped := slices.Clone(r.Strips)
		for _, a := range r.Jobs {
			if (a.Verdict == Strips) != slices.Contains(stripped, a.Job) {
				t.Errorf("%s: %q, and stripped are %v", a.Job, a.Verdict, stripped)
			}
		}
	})
}

// What a list says is what is read, whatever the mitre scale.
func TestAListReadsBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		want := rapid.SliceOfN(rapid.Custom(anyJob), 1, 6).Draw(t, "jobs")
		l := List{File: "a.csv", Saw: analyze.SwivelFrame, FromAxis: rapid.Bool().Draw(t, "from the axis"), Grades: grades}
		var b strings.Builder
		w := csv.NewWriter(&b)
		_ = w.Write([]string{"grade", "lay", "count", "mitre", "section", "job"}) // a strings.Builder does not fail
		for i := range want {
			j := &want[i]
			j.Name, j.Pass.Saw = rapid.StringMatching(`[a-zÄ",;]([a-zÄ" ,;-]{0,20}[a-zÄ",;])?`).Draw(t, "name"), l.Saw
			grade, mitre := "", j.Pass.Mitre
			if rapid.Bool().Draw(t, "grade told") {
				grade, j.Grade = steel.Name, &steel
			}
			if l.FromAxis {
				mitre = FromAxis(mitre)
			}
			_ = w.Write([]string{grade, string(j.Section.Lay), fmt.Sprint(j.Pass.Count), fmt.Sprint(mitre), j.Text, j.Name})
		}
		w.Flush()
		got, err := Read(strings.NewReader(b.String()), l)
		if diff := cmp.Diff(want, got, cmpopts.EquateApprox(0, 1e-9)); diff != "" || err != nil {
			t.Errorf("%v (-want +got):\n%s\n%s", err, diff, b.String())
		}
	})
}

func BenchmarkStudy(b *testing.B) {
	s, err := section.Parse("HSS4x4x1/4")
	if err != nil {
		b.Fatal(err)
	}
	j := Job{Text: "HSS4x4x1/4", Section: s, Pass: section.Pass{Count: 1, Saw: analyze.FixedFrame}}
	b.ReportAllocs()
	for b.Loop() {
		if Study(j, Blade{TPI: "3", Low: 3, High: 3}).Verdict == "" {
			b.Fatal("no verdict")
		}
	}
}
