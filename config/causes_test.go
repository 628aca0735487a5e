package config

import (
	"slices"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"gullet/analyze"
	"gullet/analyze/downtime"
)

// What causes count as: the defaults, what the file says of one of them with the
// rest of it kept, and the shop's own.
func TestMeanings(t *testing.T) {
	c := load(t, `
[[cause]]
name = "fault"
element = "delay"
[[cause]]
name = "coolant"
element = "setup"
group = "fluids"
failure = true
[[cause]]
name = "first-off-inspection"
element = "planned-down"
[[cause]]
name = "gerät-2"
element = "down"
group = "machine"
failure = true
`)
	m := c.Meanings()
	for name, want := range map[analyze.Cause]downtime.Meaning{
		"fault":                {Element: downtime.Delay, Group: "machine", Failure: true},
		"coolant":              {Element: downtime.Setup, Group: "fluids", Failure: true},
		"blade-break":          {Element: downtime.Delay, Group: "blade", Failure: true},
		"first-off-inspection": {Element: downtime.PlannedDown, Group: "other"},
		"gerät-2":              {Element: downtime.Down, Group: "machine", Failure: true},
		"nobody-said":          {Element: downtime.Down, Group: "unexplained"},
	} {
		want.Cause = name
		if diff := cmp.Diff(want, m.Of(name)); diff != "" {
			t.Errorf("%s (-want +got):\n%s", name, diff)
		}
	}
	if got, want := len(m), len(downtime.Defaults())+2; got != want {
		t.Errorf("%d causes, want %d", got, want)
	}
	if diff := cmp.Diff(downtime.NewMeanings(nil), nothing(t).Meanings()); diff != "" {
		t.Errorf("without a file (-want +got):\n%s", diff)
	}
}

// Every cause that a saw sends has a meaning, but the one that says nothing, and
// the name of each default is one that a file may have.
func TestDefaultCausesAreKnown(t *testing.T) {
	names := nothing(t).CauseNames()
	for _, sent := range analyze.Causes() {
		if slices.Contains(names, sent) == (sent == unknownCause) {
			t.Errorf("%s: in %v", sent, names)
		}
	}
	for _, name := range names {
		if _, err := causeName(string(name)); err != nil {
			t.Errorf("%s: %v", name, err)
		}
	}
	for _, m := range downtime.Defaults() {
		if _, err := textOf(1, 32)(m.Group); err != nil {
			t.Errorf("%s: group %q: %v", m.Cause, m.Group, err)
		}
		if !slices.Contains(stopElements(), string(m.Element)) {
			t.Errorf("%s is %s, none of %v", m.Cause, m.Element, stopElements())
		}
	}
}

func TestCause(t *testing.T) {
	c := load(t, "[[cause]]\nname = \"coolant\"\nelement = \"delay\"\n[[cause]]\nname = \"inspection\"\nelement = \"delay\"\n")
	const allowed = `allowed is "blade-break", "blade-pull", "blade-change", "deviation-trip", "setup", "count-done", ` +
		`"out-of-stock", "waiting-material", "waiting-crane", "no-operator", "break-time", "fault", "coolant", "chips", "maintenance", ` +
		`"lockout", "emergency-stop", "unexplained" or "inspection"`
	for name, want := range map[string]string{
		"waiting-crane": "", "inspection": "", "unexplained": "",
		"waiting crane": allowed + `; did you mean "waiting-crane"?`,
		"inspect":       allowed + `; did you mean "inspection"?`,
		"unknown":       allowed,
		"between-cuts":  allowed,
		"":              allowed,
	} {
		got, err := c.Cause(name)
		if want == "" && (err != nil || string(got) != name) {
			t.Errorf("%q: %q, %v", name, got, err)
		}
		if want != "" && (err == nil || err.Error() != want) {
			t.Errorf("%q: %v, want %s", name, err, want)
		}
	}
}

// A time without its offset is on the wall of the shop; of one that comes twice the
// first counts, and one that is skipped is the moment after the jump.
func TestMoment(t *testing.T) {
	c := load(t, "[shop]\nzone = \"America/Chicago\"\n")
	for text, want := range map[string]string{
		"2026-03-02 14:05":             "2026-03-02T20:05:00Z",
		"2026-07-02 14:05":             "2026-07-02T19:05:00Z",
		"2026-11-01 01:30":             "2026-11-01T06:30:00Z",
		"2026-03-08 02:30":             "2026-03-08T08:00:00Z",
		"2026-03-02T14:05:30.25+01:00": "2026-03-02T13:05:30.25Z",
	} {
		got, err := c.Moment(text)
		if err != nil || got.UTC().Format(time.RFC3339Nano) != want {
			t.Errorf("%s: %s, %v; want %s", text, got, err, want)
		}
	}
	for _, text := range []string{"", "yesterday", "14:05", "2026-03-02", "2026-02-30 10:00"} {
		if got, err := c.Moment(text); err == nil {
			t.Errorf("%q is read as %s", text, got)
		}
	}
}
