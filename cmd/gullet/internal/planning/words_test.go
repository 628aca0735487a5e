package planning

import (
	"strings"
	"testing"
	"time"
)

func TestOnlyChangesAreListed(t *testing.T) {
	r := shown()
	list := r.Changes()
	if len(list) != 1 || list[0].Saw != "s1" {
		t.Fatalf("changes %v, want that of s1 alone: s3 is to be run on, and of s2 nothing is known", list)
	}
	r.Saws[1].Advise.Change, r.Saws[1].Advise.At, r.Saws[1].Advise.Shift = true, ptr(r.MadeAt), ptr("end of day, 2026-03-04")
	if list = r.Changes(); len(list) != 2 || list[0].Saw != "s3" {
		t.Errorf("changes %v, want s3 first, whose change is sooner", list)
	}
}

func TestWhereAChangeFalls(t *testing.T) {
	for want, a := range map[string]Advice{
		"run on":                 {Shift: ptr("end of day")},
		"now":                    {Change: true},
		"before job J-2":         {Change: true, BeforeJob: ptr("J-2"), Shift: ptr("end of day")},
		"after job J-2":          {Change: true, AfterJob: ptr("J-2"), Shift: ptr("end of day")},
		"end of day, 2026-03-04": {Change: true, Shift: ptr("end of day, 2026-03-04")},
	} {
		if got := a.Where(); got != want {
			t.Errorf("%+v is %q, want %q", a, got, want)
		}
	}
}

func TestBecauseTellsOfAMove(t *testing.T) {
	a := Advice{Reason: "wear"}
	if got := a.Because(); got != "wear" {
		t.Errorf("%q, want the reason alone", got)
	}
	a.Moved = ptr("moved from Mon 2 Mar, late")
	if got := a.Because(); got != "wear; moved from Mon 2 Mar, late" {
		t.Errorf("%q, want the move, too", got)
	}
}

// A due date means the end of that day, and is told as that day and not the next.
func TestDueText(t *testing.T) {
	zone := time.FixedZone("", -6*3600)
	for at, want := range map[string]string{
		"2026-03-03T06:00:00Z":      "by the end of Mon 2 Mar",
		"2026-03-02T20:00:00Z":      "Mon 2 Mar 14:00",
		"2026-03-03T00:00:00+00:00": "Mon 2 Mar 18:00",
	} {
		due, err := time.Parse(time.RFC3339, at)
		if err != nil {
			t.Fatal(err)
		}
		if got := DueText(due, zone); got != want {
			t.Errorf("%s: %q, want %q", at, got, want)
		}
	}
}

func TestEnough(t *testing.T) {
	for _, c := range []struct {
		service, lead float64
		want          []string
	}{{0.95, 168, []string{"95 %", "7 days"}}, {0.995, 24, []string{"99.5 %", "1 day "}}, {0.5, 36, []string{"50 %", "36 h"}}} {
		got := (&Report{Service: c.service, Lead: c.lead}).Enough()
		for _, w := range c.want {
			if !strings.Contains(got, w) {
				t.Errorf("service %v, lead %v h: %q, want %q in it", c.service, c.lead, got, w)
			}
		}
	}
}
