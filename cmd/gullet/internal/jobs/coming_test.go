package jobs

import (
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"gullet/analyze/section"
)

// coming is how the tests read: a shop of two saws in a zone whose clock goes on an
// hour on 8 March 2026 at 2:00 and back on 1 November.
func coming(t *testing.T) ComingList {
	zone, err := time.LoadLocation("America/Chicago")
	if err != nil {
		t.Fatal(err)
	}
	return ComingList{
		List: List{File: "a.csv", Grades: grades}, Zone: zone,
		Saws: func(name string) bool { return slices.Contains([]string{"s1", "s2"}, name) },
	}
}

func TestReadComing(t *testing.T) {
	round := section.Section{Shape: section.Round, Diameter: 6, Designation: "RD6"}
	plain := func(change func(*Coming)) []Coming {
		c := Coming{Job: Job{Name: "A", Text: "RD6", Section: round, Pass: section.Pass{Count: 1}}, Pieces: 1}
		change(&c)
		return []Coming{c}
	}
	utc := func(text string) time.Time {
		at, err := time.Parse(time.RFC3339, text)
		if err != nil {
			t.Fatal(err)
		}
		return at
	}
	for _, c := range []struct {
		name, text string
		want       []Coming
	}{
		{"what it needs", "job,section,pieces\nA,RD6,1\n", plain(func(*Coming) {})},
		{"empty fields", "job,section,pieces,saw,grade,mitre,bars,due\nA,RD6,1,,,,,\n", plain(func(*Coming) {})},
		{"all of it", "due,bars,pieces,mitre,section,grade,saw,customer,job\n2026-03-02T14:00:00-06:00,3,40,-22.5, rd6,steel,s2,x,A\n", plain(func(c *Coming) {
			c.Saw, c.Grade, c.Material, c.Pieces, c.Pass.Mitre, c.Pass.Count, c.Due = "s2", &steel, "steel", 40, -22.5, 3, utc("2026-03-02T20:00:00Z")
		})},
		{"the most", "job,section,pieces\nA,RD6,1000000\n", plain(func(c *Coming) { c.Pieces = 1_000_000 })},
		{"a date is the end of that day", "job,section,pieces,due\nA,RD6,1,2026-03-02\n", plain(func(c *Coming) { c.Due = utc("2026-03-03T06:00:00Z") })},
		{"of a day of 23 hours", "job,section,pieces,due\nA,RD6,1,2026-03-08\n", plain(func(c *Coming) { c.Due = utc("2026-03-09T05:00:00Z") })},
		{"of a day of 25 hours", "job,section,pieces,due\nA,RD6,1,2026-11-01\n", plain(func(c *Coming) { c.Due = utc("2026-11-02T06:00:00Z") })},
		{"an object", "job,section,pieces\nA,\"{ \"\"shape\"\":\n \"\"round\"\", \"\"diameter\"\": 6 }\",1\n", plain(func(c *Coming) {
			c.Text, c.Section.Designation = `{"shape":"round","diameter":6}`, ""
		})},
	} {
		t.Run(c.name, func(t *testing.T) {
			got, err := ReadComing(strings.NewReader(c.text), coming(t))
			if diff := cmp.Diff(c.want, got, cmpopts.EquateApproxTime(0)); diff != "" || err != nil {
				t.Errorf("%v (-want +got):\n%s", err, diff)
			}
		})
	}
}

func TestReadComingRefuses(t *testing.T) {
	const due = "a date such as 2026-03-02, a time with its offset such as 2026-03-02T14:00:00-06:00, or nothing"
	for _, c := range []struct{ name, text, want string }{
		{"nothing", "", "a.csv: the file is empty: allowed is a header line that names at least the columns job and section and pieces"},
		{"no pieces column", "job,section\nA,RD6\n", `a.csv, line 1: the column pieces is missing; found "job", "section"`},
		{"no job", "job,section,pieces\n", "a.csv: no job stands below the header line"},
		{"no name", "job,section,pieces\n,RD6,1\n", `a.csv, line 2, column job: found "", allowed is one line of 1 to 64 characters`},
		{"a long name", "job,section,pieces\n" + strings.Repeat("x", 65) + ",RD6,1\n", `a.csv, line 2, column job: found "` + strings.Repeat("x", 40) + `", allowed is one line of 1 to 64 characters`},
		{"a name twice", "job,section,pieces\nA,RD6,1\nB,RD6,1\nA,RD4,1\n", `a.csv, line 4, column job: found "A", allowed is a name that stands once, and line 2 has it`},
		{"a section not known", "job,section,pieces\nA,XX6,1\n", `a.csv, line 2, column section: designation "XX6": `},
		{"half a piece", "job,section,pieces\nA,RD6,1.5\n", `a.csv, line 2, column pieces: found "1.5", allowed is 1 to 1000000 pieces`},
		{"no piece", "job,section,pieces\nA,RD6,0\n", `a.csv, line 2, column pieces: found "0", allowed is 1 to 1000000 pieces`},
		{"pieces not told", "job,section,pieces\nA,RD6,\n", `a.csv, line 2, column pieces: found "", allowed is 1 to 1000000 pieces`},
		{"a slip in the pieces", "job,section,pieces\nA,RD6,1000001\n", `a.csv, line 2, column pieces: found "1000001", allowed is 1 to 1000000 pieces`},
		{"another saw", "job,section,pieces,saw\nA,RD6,1,S1\n", `a.csv, line 2, column saw: found "S1", allowed is a saw that is configured or has sent a reading, capitals as there, or nothing for any`},
		{"a grade not known", "job,section,pieces,grade\nA,RD6,1,stell\n", `a.csv, line 2, column grade: found "stell", allowed is a configured grade, which gullet check --print lists, or nothing`},
		{"a mitre along the bar", "job,section,pieces,mitre\nA,RD6,1,90\n", `a.csv, line 2, column mitre: found "90", allowed is more than -85 and less than 85 degrees from a square cut, or nothing for 0`},
		{"no bars", "job,section,pieces,bars\nA,RD6,1,0\n", `a.csv, line 2, column bars: found "0", allowed is 1 to 1000 bars, or nothing for 1`},
		{"a date of another country", "job,section,pieces,due\nA,RD6,1,3/2/2026\n", `a.csv, line 2, column due: found "3/2/2026", allowed is ` + due},
		{"a day there is not", "job,section,pieces,due\nA,RD6,1,2026-02-30\n", `a.csv, line 2, column due: found "2026-02-30", allowed is ` + due},
		{"a time without its offset", "job,section,pieces,due\nA,RD6,1,2026-03-02T14:00:00\n", `a.csv, line 2, column due: found "2026-03-02T14:00:00", allowed is ` + due},
		{"a date nobody means", "job,section,pieces,due\nA,RD6,1,0026-03-02\n", `a.csv, line 2, column due: found "0026-03-02", allowed is ` + due},
	} {
		t.Run(c.name, func(t *testing.T) {
			got, err := ReadComing(strings.NewReader(c.text), coming(t))
			if err == nil {
				t.Fatalf("accepted: %+v", got)
			}
			if text := err.Error(); text != c.want && !(strings.HasSuffix(c.want, ": ") && strings.HasPrefix(text, c.want)) {
				t.Errorf("error\n%s, want\n%s", text, c.want)
			}
		})
	}
}

// FuzzReadComing: whatever is in the file, an error of one line that names it, or
// jobs that can be stored: their section, as it is kept, reads as the same section.
func FuzzReadComing(f *testing.F) {
	for _, text := range []string{
		"job,section,pieces,due\nA,W12x26,3,2026-03-02\n", "job,section,pieces\nA,\"{\"\"shape\"\":\"\"weight\"\",\"\"per_ft\"\":26}\",1\n",
		"job,section,pieces,bars,mitre\nA,L4x4x1/2,1e3,2,-45\n", "job,section,pieces\nA,\"{\"\"shape\"\":\"\"round\"\",\"\"diameter\"\": 6e0 }\",1\n", "job,section,pieces,due\nA,RD6,1,2026-03-02T14:00:00Z\n",
	} {
		f.Add(text)
	}
	l := ComingList{List: List{File: "a.csv", Grades: grades}, Zone: time.UTC, Saws: func(string) bool { return true }}
	f.Fuzz(func(t *testing.T, text string) {
		all, err := ReadComing(strings.NewReader(text), l)
		if err != nil {
			if !strings.HasPrefix(err.Error(), "a.csv") || strings.Contains(err.Error(), "\n") {
				t.Errorf("error %q, want one line that begins with the file", err)
			}
			return
		}
		for i := range all {
			c := &all[i]
			again, err := ReadSection(c.Text, false)
			if err != nil || again.Area() != c.Section.Area() {
				t.Errorf("%q is kept as %q, which reads %v, %v", c.Section.Designation, c.Text, again, err)
			}
			if c.Name == "" || c.Pieces < 1 || c.Pass.Count < 1 {
				t.Errorf("%+v", c)
			}
		}
	})
}
