package config

import (
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"gullet/analyze/alert"
)

const twoSaws = "[[saw]]\nname = \"s1\"\n[[saw]]\nname = \"plant-2/saws/s2\"\n"

// Without a file every kind has its own rule, but for the two that the shop says
// something of elsewhere.
func TestAlertRulesWithoutRows(t *testing.T) {
	rules := nothing(t).AlertRules()
	for _, spec := range alert.Specs() {
		if diff := cmp.Diff(spec.Rule, rules.Of(spec.Kind, "s1")); diff != "" {
			t.Errorf("%s, -by default +in force:\n%s", spec.Kind, diff)
		}
	}
	rules = load(t, "[shop]\nsilent_after = \"90s\"\nskew_warning = \"10s\"\n").AlertRules()
	if got := rules.Of(alert.Silent, ""); got.Raise != 1.5 || got.Clear != 1.5 || got.Rest != time.Minute {
		t.Errorf("silent %+v", got)
	}
	if got := rules.Of(alert.ClockSkew, ""); got.Raise != 10 || got.Clear != 5 {
		t.Errorf("clock-skew %+v", got)
	}
}

// A row replaces what it says. Those of saws are laid over that of the shop, in
// whatever order they stand.
func TestAlertRules(t *testing.T) {
	spec := func(k alert.Kind) alert.Rule { return alert.SpecOf(k).Rule }
	with := func(r alert.Rule, change func(*alert.Rule)) alert.Rule { change(&r); return r }
	levels := func(k alert.Kind, raise, clear float64) alert.Rule {
		return with(spec(k), func(r *alert.Rule) { r.Raise, r.Clear = raise, clear })
	}
	row := func(kind, rest string) string { return "[[alert]]\nkind = \"" + kind + "\"\n" + rest + "\n" }
	tests := map[string]struct {
		text string
		kind alert.Kind
		saw  string
		want alert.Rule
	}{
		"everything": {
			row("silent", "off = true\nraise = 20\nclear = 10\nhold = \"1s\"\nrest = \"2s\"\nagain = \"3m\"\nfresh = \"4m\"\nseverity = \"severe\""), alert.Silent, "s1",
			alert.Rule{Off: true, Raise: 20, Clear: 10, Hold: time.Second, Rest: 2 * time.Second, Again: 3 * time.Minute, Fresh: 4 * time.Minute, Severity: alert.Severe},
		},
		"nothing": {row("silent", ""), alert.Silent, "", spec(alert.Silent)},
		"what a row cannot say stays": {
			row("blade-break", "severity = \"notice\""), alert.BladeBreak, "", with(spec(alert.BladeBreak), func(r *alert.Rule) { r.Severity = alert.Notice }),
		},
		"clear follows raise by the ratio":      {row("change-window", "raise = 4"), alert.ChangeWindow, "", levels(alert.ChangeWindow, 4, 12)},
		"down to where nothing can be better":   {row("repeated-trips", "raise = 1"), alert.RepeatedTrips, "", levels(alert.RepeatedTrips, 1, 1)},
		"up to where nothing can be better":     {row("disk-nearly-full", "raise = 90"), alert.DiskFull, "", levels(alert.DiskFull, 90, 90)},
		"at 0 there is a ratio too":             {row("change-window", "raise = 0"), alert.ChangeWindow, "", levels(alert.ChangeWindow, 0, 0)},
		"clear follows raise by the difference": {row("reorder", "raise = 3"), alert.Reorder, "", levels(alert.Reorder, 3, 3)},
		"clear alone":                           {row("limit-reached", "clear = 0.5"), alert.LimitReached, "", levels(alert.LimitReached, 1, 0.5)},
		"silent beats silent_after":             {"[shop]\nsilent_after = \"5m\"\n" + row("silent", "raise = 60"), alert.Silent, "", levels(alert.Silent, 60, 60)},
		"of a saw, over the shop's": {
			row("silent", "saws = [\"plant-2/saws/s2\"]\nhold = \"1m\"") + row("silent", "raise = 40\nclear = 20"), alert.Silent, "plant-2/saws/s2",
			with(levels(alert.Silent, 40, 20), func(r *alert.Rule) { r.Hold = time.Minute }),
		},
		"of another saw": {row("silent", "saws = [\"plant-2/saws/s2\"]\nhold = \"1m\""), alert.Silent, "s1", spec(alert.Silent)},
		"of a saw nobody configured": {
			row("silent", "saws = [\"s1\"]\noff = true") + row("silent", "raise = 40"), alert.Silent, "s9", levels(alert.Silent, 40, 40),
		},
		"on again for a saw": {row("silent", "off = true") + row("silent", "saws = [\"s1\"]\noff = false"), alert.Silent, "s1", spec(alert.Silent)},
	}
	for name, tt := range tests {
		t.Run(name, func(t *testing.T) {
			if diff := cmp.Diff(tt.want, load(t, twoSaws+tt.text).AlertRules().Of(tt.kind, tt.saw)); diff != "" {
				t.Errorf("-want +got:\n%s", diff)
			}
		})
	}
}

// Wherever a shop raises an alert, when nothing else is said it is not over at once.
func TestClearIsNeverWorseThanRaise(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		spec := rapid.SampledFrom(alert.Specs()).Draw(t, "kind")
		raise := rapid.Float64Range(spec.Least, spec.Most).Draw(t, "raise")
		row := AlertRow{Kind: spec.Kind, Raise: &raise}
		rule := row.over(spec.Rule)
		better := rule.Clear <= rule.Raise
		if spec.Falls {
			better = rule.Clear >= rule.Raise
		}
		if rule.Raise != raise || !better || rule.Clear < spec.Least || rule.Clear > spec.Most {
			t.Fatalf("raised at %v, over at %v", rule.Raise, rule.Clear)
		}
	})
}
