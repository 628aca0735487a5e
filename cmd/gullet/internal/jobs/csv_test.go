package jobs

import (
	"errors"
	"math"
	"strings"
	"testing"
	"testing/iotest"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"gullet/analyze"
	"gullet/analyze/section"
)

// steel is the one grade of these tests.
var steel = analyze.Grade{Name: "steel", Class: "mild", Severity: 1, BandSpeed: 250, Rate: 8}

func grades(name string) (analyze.Grade, bool) { return steel, name == steel.Name }

func TestReadRefuses(t *testing.T) {
	fromAxis := List{FromAxis: true}
	for _, c := range []struct {
		name, text string
		list       List
		want       string
	}{
		{"nothing", "", List{}, "a.csv: the file is empty: allowed is a header line that names at least the column section"},
		{"a header alone", "section,job\n", List{}, "a.csv: no job stands below the header line"},
		{"no section", "job,Section\na,RD6\n", List{}, `a.csv, line 1: the column section is missing; found "job", "Section"`},
		{"semicolons", "section;job\nRD6;a\n", List{}, `a.csv, line 1: the column section is missing; found "section;job"`},
		{"a column twice", "section,mitre, mitre\nRD6,1,2\n", List{}, `a.csv, line 1, column mitre: the column stands there twice, allowed is once`},

		{"a section not told", "job,section\na,\n", List{}, `a.csv, line 2, column section: designation "": it is empty, allowed is one such as W12x26 or RD6`},
		{"an unknown section", "section\nRD6\nW99x1\n", List{}, `a.csv, line 3, column section: designation "W99x1": nominal depth is 99 in, allowed is 1 to 48 in`},
		{"an object that is none", "section\n\"{\"\"shape\"\":\"\"round\"\"}\"\n", List{}, "a.csv, line 2, column section: section: round: diameter is missing, it needs diameter"},

		{"an object that moves the cursor", "section\n\"{\"\"shape\"\":\"\"a\u009b2J\"\",\"\"shape\"\":\"\"round\"\",\"\"diameter\"\":6}\"\n", List{}, `a.csv, line 2, column section: found "{\"shape\":\"a\u009b2J\",\"shape\":\"round\",\"diamete", allowed is printable text`},

		{"a mitre that is no number", "section,mitre\nRD6,steep\n", List{}, `a.csv, line 2, column mitre: found "steep", allowed is more than -85 and less than 85 degrees from a square cut, or nothing for 0`},
		{"a mitre no saw reaches", "section,mitre\nRD6,85\n", List{}, `a.csv, line 2, column mitre: found "85", allowed is more than -85 and less than 85 degrees from a square cut, or nothing for 0`},
		{"a mitre NaN", "section,mitre\nRD6,NaN\n", List{}, `a.csv, line 2, column mitre: found "NaN", allowed is more than -85 and less than 85 degrees from a square cut, or nothing for 0`},
		{"a mitre from the axis along the bar", "section,mitre\nRD6,0\n", fromAxis, `a.csv, line 2, column mitre: found "0", allowed is more than 5 and less than 175 degrees on the saw's scale, or nothing for a square cut`},
		{"no bars", "section,count\nRD6,0\n", List{}, `a.csv, line 2, column count: found "0", allowed is 1 to 1000 bars, or nothing for 1`},
		{"half a bar", "section,count\nRD6,1.5\n", List{}, `a.csv, line 2, column count: found "1.5", allowed is 1 to 1000 bars, or nothing for 1`},
		{"too many bars", "section,count\nRD6,99999999999999999999\n", List{}, `a.csv, line 2, column count: found "99999999999999999999", allowed is 1 to 1000 bars, or nothing for 1`},
		{"a lay of another shape", "section,lay\nW12x26,tent\n", List{}, `a.csv, line 2, column lay: beam: lay is "tent", allowed are web-vertical, web-horizontal`},
		{"a lay of a round", "section,lay\nRD6,turned\n", List{}, `a.csv, line 2, column lay: round: lay is "turned", but this shape has none: leave it out`},
		{"an unknown grade", "section,grade\nRD6,kryptonite\n", List{}, `a.csv, line 2, column grade: found "kryptonite", allowed is a configured grade, which gullet check --print lists, or nothing`},
		{"a name that moves the cursor", "section,job\nRD6,a\x1b[2J\n", List{}, `a.csv, line 2, column job: found "a\x1b[2J", allowed is one line of at most 64 characters, or nothing`},
		{"a name of two lines", "section,job\nRD6,\"a\nb\"\n", List{}, `a.csv, line 2, column job: found "a\nb", allowed is one line of at most 64 characters, or nothing`},
		{"a long name", "section,job\nRD6," + strings.Repeat("ä", 65) + "\n", List{}, `a.csv, line 2, column job: found "` + strings.Repeat("ä", 40) + `", allowed is one line of at most 64 characters, or nothing`},

		{"a short line", "section,job\nRD6,a\nRD6\n", List{}, "a.csv, line 3, found 1 field, allowed is 2 as in the header line"},
		{"a long line", "section\nRD6,a\n", List{}, "a.csv, line 2, found 2 fields, allowed is 1 as in the header line"},
		{"a quote within a field", "section\nRD6\"\n", List{}, "a.csv, line 2: bare \" in non-quoted-field: a text with a comma or a quote stands in double quotes, quotes within it doubled"},
		{"a line after quoted line breaks", "section,x\nRD6,\"a\nb\"\nRD0,\n", List{}, `a.csv, line 4, column section: designation "RD0": round: diameter is 0 in, allowed is 0.001 to 120 in`},
		{"the first wrong thing is told", "section,job,mitre,count\nRD6,a,x,0\n", List{}, `a.csv, line 2, column mitre: found "x", allowed is more than -85 and less than 85 degrees from a square cut, or nothing for 0`},
	} {
		t.Run(c.name, func(t *testing.T) {
			c.list.File, c.list.Grades = "a.csv", grades
			got, err := Read(strings.NewReader(c.text), c.list)
			if err == nil {
				t.Fatalf("accepted: %+v", got)
			}
			if err.Error() != c.want {
				t.Errorf("error\n%s, want\n%s", err, c.want)
			}
		})
	}
}

func TestRead(t *testing.T) {
	round := section.Section{Shape: section.Round, Diameter: 6, Designation: "RD6"}
	other := steel
	other.Name = "other"
	plain := func(change func(*Job)) []Job {
		j := Job{Name: "line 2", Text: "RD6", Section: round, Pass: section.Pass{Count: 1, Saw: analyze.FixedFrame}}
		change(&j)
		return []Job{j}
	}
	for _, c := range []struct {
		name, text string
		list       List
		want       []Job
	}{
		{"a section alone", "section\nRD6\n", List{}, plain(func(*Job) {})},
		{"a byte order mark", "\ufeffsection\nRD6\n", List{}, plain(func(*Job) {})},
		{"line ends of another system", "section\r\nRD6\r\n", List{}, plain(func(*Job) {})},
		{"no last line end", "section\nRD6", List{}, plain(func(*Job) {})},
		{"any order, columns of no concern, spaces", "customer, count , job,,section,\nx, 5 , A-1 ,,RD6,\n", List{}, plain(func(j *Job) { j.Name, j.Pass.Count = "A-1", 5 })},
		{"a name as long as may be", "section,job\nRD6," + strings.Repeat("ä", 64) + "\n", List{}, plain(func(j *Job) { j.Name = strings.Repeat("ä", 64) })},
		{"empty fields", "section,job,mitre,count,lay,grade\nRD6,,,,,\n", List{}, plain(func(*Job) {})},
		{"a mitre", "section,mitre\nRD6,-45\n", List{}, plain(func(j *Job) { j.Pass.Mitre = -45 })},
		{"a mitre from the axis", "section,mitre\nRD6,60\n", List{FromAxis: true}, plain(func(j *Job) { j.Pass.Mitre = 30 })},
		{"no mitre is square on any scale", "section,mitre\nRD6,\n", List{FromAxis: true}, plain(func(*Job) {})},
		{"a grade", "section,grade\nRD6,steel\n", List{Grade: &other}, plain(func(j *Job) { j.Grade = &steel })},
		{"the grade of the rest", "section,grade\nRD6,\n", List{Grade: &other}, plain(func(j *Job) { j.Grade = &other })},
		{"an object of two lines", "section\n\"{\"\"shape\"\":\n\t\"\"round\"\",\"\"diameter\"\":6}\"\n", List{}, plain(func(j *Job) {
			j.Text, j.Section = `{"shape": "round","diameter":6}`, section.Section{Shape: section.Round, Diameter: 6}
		})},
		{"an object in mm", "section,lay\n\"{\"\"shape\"\":\"\"rect\"\",\"\"width\"\":50.8,\"\"height\"\":25.4}\",turned\n", List{Metric: true}, plain(func(j *Job) {
			j.Text = `{"shape":"rect","width":50.8,"height":25.4}`
			j.Section = section.Section{Shape: section.Rect, Lay: section.Turned, Width: 2, Height: 1}
		})},
	} {
		t.Run(c.name, func(t *testing.T) {
			c.list.File, c.list.Grades, c.list.Saw = "a.csv", grades, analyze.FixedFrame
			got, err := Read(strings.NewReader(c.text), c.list)
			if diff := cmp.Diff(c.want, got, cmpopts.EquateApprox(1e-12, 0)); diff != "" || err != nil {
				t.Errorf("%v (-want +got):\n%s", err, diff)
			}
		})
	}
}

func TestReadTellsAFailureToRead(t *testing.T) {
	broken := errors.New("the disk is gone")
	_, err := Read(iotest.ErrReader(broken), List{File: "a.csv"})
	if want := "read a.csv: the disk is gone"; !errors.Is(err, broken) || err.Error() != want {
		t.Errorf("error %v, want %s", err, want)
	}
}

// Whatever is in the file: an error of one line that names it, or jobs that can
// be counted and written.
func FuzzRead(f *testing.F) {
	for _, text := range []string{
		"job,section,mitre,count,lay,grade\nA,W12x26,45,2,web-horizontal,steel\n,RD6,,,,\n",
		"section\n\"{\"\"shape\"\":\"\"weight\"\",\"\"per_ft\"\":26}\"\n", "\ufeffsection\nL4x4x1/2\n", "section,mitre\nRD6,NaN\n", "section\n\"", "a\x00,section\nb\n",
	} {
		f.Add(text, 0.5, 0.75)
	}
	f.Fuzz(func(t *testing.T, text string, low, high float64) {
		list, err := Read(strings.NewReader(text), List{File: "a.csv", Saw: analyze.SwivelFrame, Grades: grades})
		if err != nil {
			if !strings.HasPrefix(err.Error(), "a.csv") || strings.Contains(err.Error(), "\n") {
				t.Errorf("error %q, want one line that begins with the file", err)
			}
			return
		}
		if !(low >= 0.1 && low <= high && high <= 50) {
			return
		}
		r := StudyList(list, Blade{TPI: "any", Low: low, High: high})
		var b strings.Builder
		if err := r.Write(&b); err != nil || strings.Count(b.String(), "\n") != 3+len(list) || !printable(strings.ReplaceAll(b.String(), "\n", "")) {
			t.Errorf("%v, want a title and a line for each of %d jobs in\n%s", err, len(list), b.String())
		}
		for i := range r.Jobs {
			a := &r.Jobs[i]
			if (a.Verdict == "") == (a.Why == "") || a.TeethMin != nil && !(*a.TeethMin > 0 && !math.IsInf(*a.TeethMax, 0)) {
				t.Errorf("%+v: want a verdict or why there is none, and teeth", a)
			}
		}
	})
}
