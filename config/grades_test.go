package config

import (
	"math"
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"

	"gullet/analyze"
)

// The shop's reference table, section 4.2 of the domain notes (band speed read
// in a handbook where marked, all else common practice), row by row, with the
// life range in thousands of in². For eight materials the severity is given
// instead of following from the range (demo shop, section 10 of the notes).
func TestDefaultGradesFollowTheTable(t *testing.T) {
	const given, handbook, practice = 0, "handbook", "common practice"
	tests := []struct {
		names             []string
		speed             float64
		rateLow, rateHigh float64
		lifeLow, lifeHigh float64
		severity          float64
		source            string
		spelling          string // as a saw may send it
	}{
		{[]string{"A36", "A572", "A992"}, 270, 4, 8, 5, 10, 1.3, handbook, "a36 shapes"},
		{[]string{"A500", "HSS", "pipe"}, 275, 3, 7, 4, 8, 1.5, practice, "a500 hss"},
		{[]string{"1018", "1026"}, 300, 8, 12, 8, 15, 1, handbook, ""},
		{[]string{"1008", "1015", "1020", "1025"}, 320, 8, 12, 8, 15, 1, handbook, ""},
		{[]string{"1045"}, 220, 6, 9, 6, 12, 1, handbook, ""},
		{[]string{"1117"}, 340, 10, 14, 10, 16, given, handbook, ""},
		{[]string{"1144"}, 280, 8, 12, 8, 14, given, handbook, ""},
		{[]string{"12L14"}, 425, 12, 16, 12, 20, given, handbook, "12l14"},
		{[]string{"1213", "1215"}, 400, 12, 16, 12, 20, given, handbook, ""},
		{[]string{"4130"}, 270, 6, 9, 7, 11, given, handbook, ""},
		{[]string{"4140"}, 250, 6, 8, 6, 10, 1.25, handbook, "4140 Annealed"},
		{[]string{"4140PH"}, 180, 3.5, 5.5, 3.5, 7, 2, practice, "4140 ph"},
		{[]string{"4150", "8640"}, 200, 4, 6, 4, 8, given, handbook, ""},
		{[]string{"4340"}, 220, 5, 7, 5, 8, given, handbook, "4340 annealed"},
		{[]string{"8620"}, 240, 6, 8, 6, 11, given, handbook, ""},
		{[]string{"52100", "E52100"}, 160, 4, 6, 4, 7, given, handbook, ""},
		{[]string{"O1"}, 200, 3.5, 5, 3.5, 6, given, handbook, "o1"},
		{[]string{"A2"}, 180, 3, 5, 3, 6, given, handbook, "a2"},
		{[]string{"H13"}, 190, 3, 5, 3, 6, given, handbook, "h 13"},
		{[]string{"S7"}, 125, 3, 4.5, 3, 5, given, handbook, ""},
		{[]string{"M2"}, 100, 1.5, 3, 2, 4, given, handbook, ""},
		{[]string{"D2"}, 90, 1.5, 3, 2, 4, given, handbook, ""},
		{[]string{"304"}, 120, 2, 3.5, 3, 6, 3.2, handbook, ""},
		{[]string{"316"}, 100, 2, 3, 2.5, 5, 3.2, practice, "316l"},
		{[]string{"410"}, 145, 3, 4.5, 4, 7, given, practice, ""},
		{[]string{"17-4PH", "17-4"}, 85, 1.5, 3, 2, 5, 3.8, practice, "17-4 PH Cond. A"},
		{[]string{"2205"}, 75, 1, 2, 1.5, 3, given, practice, "2205 duplex"},
		{[]string{"718", "625"}, 65, 0.5, 1.2, 0.6, 2, 11, practice, "Alloy 718"},
		{[]string{"Ti-6Al-4V"}, 70, 0.8, 1.8, 0.8, 2.5, given, handbook, "ti-6al-4v"},
		{[]string{"pure titanium"}, 80, 0.8, 1.8, 0.8, 2.5, given, handbook, ""},
		{[]string{"6061-T6", "7075"}, 500, 15, 30, 20, 20, given, practice, "6061"},
		{[]string{"brass 360"}, 450, 10, 20, 15, 15, given, practice, "Brass360"},
		{[]string{"grey iron"}, 160, 5, 9, 5, 10, given, practice, "Gray Iron Class 40"},
		{[]string{"65-45-12"}, 185, 5, 8, 5, 9, given, practice, "ductile 65-45-12"},
		{[]string{"80-55-06"}, 130, 4, 6, 5, 9, given, practice, "ductile 80-55-06"},
	}
	c := nothing(t)
	seen := map[string]bool{}
	for _, tt := range tests {
		names := tt.names
		if tt.spelling != "" {
			names = append(names, tt.spelling)
		}
		for _, name := range names {
			g, ok := c.GradeOf(name)
			if !ok {
				t.Errorf("%s: not known", name)
				continue
			}
			seen[g.Name] = true
			// The reference is 1018, whose lives range from 8,000 to 15,000 in².
			severity := tt.severity
			if severity == given {
				severity = (8 + 15) / (tt.lifeLow + tt.lifeHigh)
			}
			if g.BandSpeed != tt.speed || math.Abs(g.Rate-(tt.rateLow+tt.rateHigh)/2) > 1e-9 ||
				math.Abs(g.Severity-severity) > 0.0051 || g.Source != tt.source {
				t.Errorf("%s: %+v; want speed %v, rate %v to %v, severity %.3f, source %q",
					name, g, tt.speed, tt.rateLow, tt.rateHigh, severity, tt.source)
			}
		}
	}
	for _, g := range c.Grades {
		if !seen[g.Name] {
			t.Errorf("%s is in no row of the table", g.Name)
		}
	}
}

// No name means two grades, every grade passes the checks a shop's own would,
// and the grades of a class wear a blade alike: within a factor of 1.5, which is
// what keeps a class's lives comparable at all.
func TestDefaultGradesAreConsistent(t *testing.T) {
	owner := map[string]string{}
	least, most := map[string]float64{}, map[string]float64{}
	for _, g := range defaultGrades() {
		for _, name := range append([]string{g.Name}, g.Others...) {
			if other, ok := owner[fold(name)]; ok {
				t.Errorf("%q means both %s and %s", name, other, g.Name)
			}
			owner[fold(name)] = g.Name
		}
		if least[g.Class] == 0 {
			least[g.Class] = g.Severity
		}
		least[g.Class] = min(least[g.Class], g.Severity)
		most[g.Class] = max(most[g.Class], g.Severity)
	}
	for class := range least {
		if most[class] > 1.5*least[class] {
			t.Errorf("class %q holds severities from %v to %v", class, least[class], most[class])
		}
	}
	l := nothing(t)
	grades := slices.DeleteFunc(l.rows, func(r row) bool { return r.list != "grade" })
	for _, r := range grades {
		for _, f := range lists()[2].fields {
			raw := r.values[f.name]
			if texts, ok := raw.([]string); ok {
				items := make([]any, len(texts))
				for i, s := range texts {
					items[i] = s
				}
				raw = items
			}
			if _, err := f.read(raw); err != nil {
				t.Errorf("%v: %s: %v", r.values["name"], f.name, err)
			}
		}
	}
}

// The file's grades lie over the defaults by name.
func TestGradesOverDefaults(t *testing.T) {
	c := load(t, `
[[grade]]
name = "4140 ph"
rate = 5

[[grade]]
name = "A992"
class = "heavy-shapes"
severity = 1.4
band_speed = 250
rate = 7

[[grade]]
name = "1045"
others = ["CF45", "1026"]
source = "handbook"
`)
	tests := map[string]struct {
		name string
		want analyze.Grade
	}{
		"a key given replaces, the rest stays, the mixture is the shop's": {"4140prehard", analyze.Grade{
			Name: "4140 ph", Others: []string{"4140 prehard", "4140HT", "4140 28-32 HRC"}, Class: "tough-alloy",
			Severity: 2, BandSpeed: 180, Rate: 5, Source: "shop",
		}},
		"a new grade takes its name from a default's other names": {"a992", analyze.Grade{
			Name: "A992", Class: "heavy-shapes", Severity: 1.4, BandSpeed: 250, Rate: 7, Source: "shop",
		}},
		"and the default keeps the others": {"A572", analyze.Grade{
			Name: "A36", Others: []string{"A36 shapes", "A572", "A572-50"}, Class: "shapes",
			Severity: 1.3, BandSpeed: 270, Rate: 6, Source: "handbook",
		}},
		"an other name moves too": {"1026", analyze.Grade{
			Name: "1045", Others: []string{"CF45", "1026"}, Class: "carbon",
			Severity: 1, BandSpeed: 220, Rate: 7.5, Source: "handbook",
		}},
	}
	for name, tt := range tests {
		t.Run(name, func(t *testing.T) {
			got, ok := c.GradeOf(tt.name)
			if diff := cmp.Diff(tt.want, got); !ok || diff != "" {
				t.Errorf("%s (known %t) -want +got:\n%s", tt.name, ok, diff)
			}
		})
	}
	if got, want := len(c.Grades), len(defaultGrades())+1; got != want {
		t.Errorf("%d grades, want %d: one is new", got, want)
	}
	for _, name := range []string{"MYSTERY-7", "", "4140 ph extra"} {
		if g, ok := c.GradeOf(name); ok {
			t.Errorf("%q is known as %s", name, g.Name)
		}
	}
}
