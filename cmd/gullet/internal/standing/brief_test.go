package standing

import (
	"strings"
	"testing"
	"time"

	"gullet/analyze"
	"gullet/cmd/gullet/internal/figures"
)

func TestBrief(t *testing.T) {
	share := ptrTo(0.5)
	told := func(r Report) Report {
		r.From, r.To, r.Zone, r.LongFrom = "2026-03-02", "2026-03-02", "UTC", 10
		r.All.Calendar, r.All.Minutes.Production = 1440, 400
		return r
	}
	for _, c := range []struct {
		name   string
		report Report
		want   []string // parts, one for each line
	}{
		{"a long stop", told(Report{Standing: Minutes{60, 3}, Pareto: []Cause{{Cause: "fault", Share: share}, {Cause: "coolant", Share: share}},
			Long: []Stop{{Saw: "s1", From: time.Date(2026, 3, 2, 13, 40, 0, 0, time.UTC), Minutes: 45, Cause: "fault"}}}),
			[]string{"stood unplanned for 60 min in 3 stops on 2026-03-02", "Every stop has its cause.", "The longest: s1 from 13:40, 45 min, fault."}},
		{"none is long", told(Report{Standing: Minutes{6, 2}, Pareto: []Cause{{Cause: "fault"}}}), []string{"all for fault", "Every stop", "No unplanned stop was of 10 min or more."}},
		{"none at all", told(Report{}), []string{"No unplanned stop is known", "No unplanned stop was of 10 min or more."}},
		{"nothing told", Report{From: "2026-03-02", To: "2026-03-02", Zone: "UTC"}, []string{"No reading tells anything of the saws"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			got := c.report.Brief(figures.Style{Zone: time.UTC})
			if len(got) != len(c.want) {
				t.Fatalf("lines %q, want %d", got, len(c.want))
			}
			for i := range got {
				if !strings.Contains(got[i], c.want[i]) {
					t.Errorf("line %d is %q, want %q in it", i+1, got[i], c.want[i])
				}
			}
		})
	}
	r := told(Report{Standing: Minutes{6, 2}, Pareto: []Cause{{Cause: analyze.Cause("fault")}}})
	r.All.Minutes.Unknown = 90
	if got := r.Brief(figures.Style{Zone: time.UTC}); !strings.HasSuffix(got[2], "; no reading tells of 90 min of the shifts.") {
		t.Errorf("%q does not say what is not known", got)
	}
}

func ptrTo(x float64) *float64 { return &x }
