package planning

import (
	"testing"
	"time"

	"gullet/analyze/deviation"
)

// Every kind of finding is the blade's or one that the plan points to.
func TestFindingsThatANewBladeMayNotClear(t *testing.T) {
	blades := map[deviation.Kind]bool{deviation.BladeWear: true, deviation.Lot: true}
	for _, kind := range deviation.Kinds() {
		stands := findings([]deviation.Finding{{Kind: kind, Since: opened, Chance: 0.97}})
		if (len(stands) == 1) == blades[kind] {
			t.Errorf("%s: %+v", kind, stands)
		}
		if over := findings([]deviation.Finding{{Kind: kind, Since: opened, Last: opened.Add(time.Hour), Chance: 0.97}}); len(over) != 0 {
			t.Errorf("%s, which is over: %+v", kind, over)
		}
	}
}

func TestLookFirst(t *testing.T) {
	s := Saw{Saw: "s2", Advise: &Advice{Reason: "it is time"}}
	if s.LookFirst() != "" || s.Because() != "it is time" {
		t.Errorf("without a finding: %q, because %q", s.LookFirst(), s.Because())
	}
	s.Findings = findings([]deviation.Finding{{Kind: deviation.SensorFault, Chance: 0.93}, {Kind: deviation.SawAlignment, Chance: 0.999}, {Kind: deviation.BladeWear, Chance: 0.99}})
	const want = "look first at the sensor (sensor, 93 % sure) and the saw, which seems out of line (saw-alignment, over 99 % sure), which a new blade may not clear: gullet trend --saw s2"
	if s.LookFirst() != want || s.Because() != "it is time; "+want {
		t.Errorf("%q, because %q, want %q", s.LookFirst(), s.Because(), want)
	}
}
