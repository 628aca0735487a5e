package shiftreport

import (
	"math"
	"strings"

	"gullet/cmd/gullet/internal/standing"
)

// tenth is a number to one decimal: minutes are not known better.
func tenth(x float64) float64 { return math.Round(10*x) / 10 }

// areaUnknown reports whether nothing is known of what the saw cut.
func (s *Saw) areaUnknown() bool {
	return s.Area == 0 && (s.AreaUnknown > 0 || s.Report.Minutes.Unknown > 0)
}

// silent reports whether no reading tells anything of the saw's time in shifts.
func (s *Saw) silent() bool {
	m := &s.Report.Minutes
	return m.Unknown > 0 && m.Unknown == scheduled(m)
}

// why tells of the cells of a saw that are empty why they are.
func (s *Saw) why() string {
	if s.Off {
		return "the saw has no such shift"
	}
	if s.silent() {
		return "no reading tells anything of the saw"
	}
	var list []string
	if s.areaUnknown() {
		list = append(list, "area: no pass has a known one")
	}
	if why := s.Report.Model.Availability.Why; why != "" {
		list = append(list, "availability: "+why)
	}
	return strings.Join(list, "; ")
}

func whyNoMean(s *standing.SawReport) string {
	var list []string
	if s.MTBF.Why != "" {
		list = append(list, "MTBF: "+s.MTBF.Why)
	}
	if s.MTTR.Why != "" {
		list = append(list, "MTTR: "+s.MTTR.Why)
	}
	return strings.Join(list, "; ")
}

// reports are those of the saws, and of all together where there are several.
func (r *Report) reports() (list []*standing.SawReport) {
	for i := range r.Saws {
		list = append(list, r.Saws[i].Report)
	}
	if len(list) > 1 {
		list = append(list, &r.Downtime.All)
	}
	return list
}
