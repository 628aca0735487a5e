package vigil

import (
	"errors"
	"math"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"gullet/analyze/alert"
)

func TestOwn(t *testing.T) {
	free := func() (float64, error) { return 41, nil }
	for _, c := range []struct {
		name  string
		state OwnState
		kind  alert.Kind
		of    string
		level float64 // none: no fact
		says  string
	}{
		{"the broker is there", OwnState{Free: free}, alert.BrokerLost, "", none, ""},
		{"the broker is lost", OwnState{Free: free, BrokerLost: at(5)}, alert.BrokerLost, "", 15, "no connection to the broker since 06:05, 15 min"},
		{"room on the disk", OwnState{Free: free}, alert.DiskFull, "", 41, "41 % of the disk of the database is free"},
		{"nobody knows how full", OwnState{Free: func() (float64, error) { return 0, errors.New("no such file") }}, alert.DiskFull, "", math.NaN(), "is not known"},
		{"a sound database", OwnState{Free: free}, alert.DatabaseError, "", none, ""},
		{"a database in trouble", OwnState{Free: free, Database: errors.New("page 7\nis damaged")}, alert.DatabaseError, "", 1, "the database is in trouble: page 7 is damaged"},
		{"a channel fails", OwnState{Free: free, Failing: map[string]time.Time{"mail": at(0), "hook": at(18)}}, alert.DeliveryFailing, "mail", 20, "channel mail takes no messages since 06:00, 20 min"},
		{"another fails", OwnState{Free: free, Failing: map[string]time.Time{"mail": at(0), "hook": at(18)}}, alert.DeliveryFailing, "hook", 2, "channel hook"},
	} {
		t.Run(c.name, func(t *testing.T) {
			look := (&Looker{Config: shopConfig(t)}).Own(c.state, at(20))
			var f *alert.Fact
			for i := range look.Facts {
				if look.Facts[i].Kind == c.kind && look.Facts[i].Of == c.of {
					f = &look.Facts[i]
				}
			}
			if f == nil || c.level == none {
				if f != nil || c.level != none {
					t.Fatalf("fact %+v, want level %v", f, c.level)
				}
				return
			}
			if f.Level != c.level && !(math.IsNaN(f.Level) && math.IsNaN(c.level)) || !strings.Contains(f.Words.What, c.says) || !f.At.IsZero() {
				t.Errorf("fact %+v, want %v and %q", f, c.level, c.says)
			}
		})
	}
}

func TestDiskFree(t *testing.T) {
	if percent, err := DiskFree(t.TempDir()); err != nil || !(percent > 0 && percent <= 100) {
		t.Errorf("%v %% free (%v), want more than 0 and at most 100", percent, err)
	}
	if _, err := DiskFree(filepath.Join(t.TempDir(), "nowhere")); err == nil {
		t.Error("the disk of a file that is not there: no error")
	}
}
