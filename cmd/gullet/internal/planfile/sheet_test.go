package planfile

import (
	"bytes"
	"encoding/xml"
	"errors"
	"io"
	"slices"
	"strings"
	"testing"
	"time"

	"gullet/cmd/gullet/internal/golden"
	"gullet/cmd/gullet/internal/sheets"
)

// page reads a sheet: its words, and how many there are of each element.
func page(t *testing.T, p *Plan) (words string, elements map[string]int) {
	t.Helper()
	content, err := Sheet(p)
	if err != nil {
		t.Fatal(err)
	}
	d := xml.NewDecoder(bytes.NewReader(content))
	d.Strict, d.Entity = false, xml.HTMLEntity
	elements = map[string]int{}
	for {
		token, err := d.Token()
		if errors.Is(err, io.EOF) {
			return words, elements
		}
		if err != nil {
			t.Fatal(err)
		}
		switch at := token.(type) {
		case xml.StartElement:
			elements[at.Name.Local]++
			for _, a := range at.Attr {
				if a.Name.Local == "class" && a.Value == "tick" {
					elements["tick"]++
				}
				if a.Name.Local == "src" || a.Name.Local == "href" {
					t.Errorf("%s needs %s", at.Name.Local, a.Value)
				}
			}
		case xml.CharData:
			words += string(at)
		}
	}
}

func TestASheetNamesEverySawAndTicksEveryChange(t *testing.T) {
	for name, p := range odd(t) {
		t.Run(name, func(t *testing.T) {
			words, elements := page(t, p)
			if elements["tick"] != len(p.Changes()) {
				t.Errorf("%d boxes to tick, want one for each of %d changes", elements["tick"], len(p.Changes()))
			}
			if elements["script"] > 0 {
				t.Error("a name became a script")
			}
			for i := range p.Saws {
				if !strings.Contains(words, sheets.Readable(p.Saws[i].Saw)) {
					t.Errorf("saw %q is not named", p.Saws[i].Saw)
				}
			}
			for _, want := range []string{p.caution(), "Mon 2 Mar 2026 12:40 CST", "Good until the next plan"} {
				if !strings.Contains(words, want) {
					t.Errorf("it does not say %q", want)
				}
			}
			if at := strings.Index(words, p.caution()); len(p.Changes()) > 0 && at > strings.Index(words, "Blade to take off") {
				t.Error("want the caution above the changes")
			}
		})
	}
}

func TestEverySawStandsOnceOnASheet(t *testing.T) {
	for name, p := range odd(t) {
		s := p.sheet()
		list := append(slices.Clone(s.RunOn), s.None...)
		for _, shift := range s.Shifts {
			list = append(list, shift.Changes...)
		}
		stands := map[string]int{}
		for _, at := range list {
			stands[at.Saw]++
		}
		for i := range p.Saws {
			if n := stands[p.Saws[i].Saw]; n != 1 {
				t.Errorf("%s: saw %q stands %d times, want once", name, p.Saws[i].Saw, n)
			}
		}
	}
}

func TestASheetOpensWithASentence(t *testing.T) {
	runOn := odd(t)["no changes"]
	if got, want := runOn.lead(nil), "No change is advised within the plan, but of 1 of 2 saws nothing can be advised; why stands below."; got != want {
		t.Errorf("without changes, and one saw unknown: %q, want %q", got, want)
	}
	runOn.Saws = runOn.Saws[:1]
	if got, want := runOn.lead(nil), "No blade change is advised before Mon 9 Mar 13:40."; got != want {
		t.Errorf("without changes: %q, want %q", got, want)
	}
	for _, c := range []struct {
		saws int
		want string
	}{
		{3, "2 blade changes are advised before Mon 9 Mar 13:40. For 1 of them the shelf holds no blade."},
		{1, "1 blade change is advised before Mon 9 Mar 13:40."},
		{0, "No saw has sent a reading that could be stored, so nothing can be advised."},
	} {
		p := shop(t)
		p.Saws = p.Saws[:c.saws]
		if got := p.lead(p.Changes()); got != c.want {
			t.Errorf("%d saws: %q, want %q", c.saws, got, c.want)
		}
	}
}

// A fitter sees the changes of his shift together, that at its end too.
func TestChangesStandByShift(t *testing.T) {
	p := shop(t)
	late := time.Date(2026, 3, 3, 4, 0, 0, 0, time.UTC) // 22:00, the end of late and the beginning of night
	for _, c := range []struct {
		what string
		at   time.Time
		end  bool
		want string
	}{
		{"in a shift", late.Add(-time.Hour), false, "Mon 2 Mar, late"},
		{"at the end of a shift", late, true, "Mon 2 Mar, late"},
		{"as a job begins in the next", late, false, "Mon 2 Mar, night"},
		{"after midnight", late.Add(3 * time.Hour), false, "Mon 2 Mar, night"},
	} {
		a := *p.Saws[0].Advise
		a.At, a.Shift = &c.at, nil
		if c.end {
			a.Shift = ptr("end of late")
		}
		p.Saws[0].Advise = &a
		if got := p.shift(&p.Saws[0]); got != c.want {
			t.Errorf("%s: %q, want %q", c.what, got, c.want)
		}
	}
	rules := p.Calendar.Effective()
	p.Calendar.Rules = rules[:1]
	if got := p.shift(&p.Saws[0]); got != "Tue 3 Mar, outside the shifts" {
		t.Errorf("in no shift: %q", got)
	}
	p = shop(t)
	p.Saws[0].Advise.At, p.Saws[0].Advise.Shift = ptr(monday.Add(time.Minute)), nil
	shifts := p.shifts(p.Changes())
	if len(shifts) != 1 || shifts[0].Name != "Mon 2 Mar, early" || shifts[0].Work != "2 changes, 30 min" || len(shifts[0].Changes) != 2 {
		t.Errorf("shifts %+v, want two changes in one", shifts)
	}
}

func TestSheetIsGolden(t *testing.T) {
	all := odd(t)
	for name, p := range map[string]*Plan{"plan.html": all["all"], "empty.html": all["no saws"]} {
		content, err := Sheet(p)
		if err != nil {
			t.Fatal(err)
		}
		golden.Check(t, name, string(content))
	}
}
