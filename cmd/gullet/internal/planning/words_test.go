package planning

import "testing"

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
