package config

import (
	"errors"
	"fmt"
	"math"
	"net/url"
	"strings"
	"time"

	"gullet/analyze/alert"
)

// Alerts is what holds for all alerts.
type Alerts struct {
	Enabled bool   `mapstructure:"enabled"` // conditions are looked for, also when no channel is told
	Link    string `mapstructure:"link"`    // stands before the path of a page in a message, "" for no links; no slash at its end
}

// AlertRow is what the file says of one kind of alert. What it leaves out is nil and
// stays as it was.
type AlertRow struct {
	Kind     alert.Kind
	Saws     []string // none is the whole shop
	Off      *bool
	Raise    *float64
	Clear    *float64
	Hold     *time.Duration
	Rest     *time.Duration
	Again    *time.Duration
	Fresh    *time.Duration
	Severity *alert.Severity
}

// AlertRules is when what Gullet finds becomes an alert: what the kinds say by default,
// the file's rows for the shop over it, and over these its rows for single saws.
func (c *Config) AlertRules() *alert.Rules {
	rules := &alert.Rules{Shop: map[alert.Kind]alert.Rule{}, Saws: map[alert.Kind]map[string]alert.Rule{}}
	for _, spec := range alert.Specs() {
		rules.Shop[spec.Kind] = spec.Rule
	}
	// What the shop says of its saws' pages holds for its alerts, until a row says otherwise.
	rules.Shop[alert.Silent] = moved(alert.Silent, rules.Shop[alert.Silent], c.Shop.SilentAfter.Minutes())
	rules.Shop[alert.ClockSkew] = moved(alert.ClockSkew, rules.Shop[alert.ClockSkew], c.Shop.SkewWarning.Seconds())
	for _, row := range c.AlertRows {
		if len(row.Saws) == 0 {
			rules.Shop[row.Kind] = row.over(rules.Shop[row.Kind])
		}
	}
	for _, row := range c.AlertRows {
		for _, saw := range row.Saws {
			if rules.Saws[row.Kind] == nil {
				rules.Saws[row.Kind] = map[string]alert.Rule{}
			}
			rules.Saws[row.Kind][saw] = row.over(rules.Shop[row.Kind])
		}
	}
	return rules
}

// moved is a rule that raises at another level. It clears as far from there as the kind
// does by default: by the ratio, or by the difference where the default raises at 0.
func moved(kind alert.Kind, rule alert.Rule, raise float64) alert.Rule {
	byDefault := alert.SpecOf(kind).Rule
	rule.Raise = raise
	if byDefault.Raise == 0 {
		rule.Clear = raise + byDefault.Clear
	} else {
		rule.Clear = raise * (byDefault.Clear / byDefault.Raise) // so rounded, a ratio of 1 gives raise itself
	}
	return rule
}

// over is a rule with what the row says over it.
func (row *AlertRow) over(rule alert.Rule) alert.Rule {
	if row.Raise != nil {
		spec := alert.SpecOf(row.Kind)
		rule = moved(row.Kind, rule, *row.Raise)
		rule.Clear = min(max(rule.Clear, spec.Least), spec.Most)
	}
	put(&rule.Off, row.Off)
	put(&rule.Clear, row.Clear)
	put(&rule.Hold, row.Hold)
	put(&rule.Rest, row.Rest)
	put(&rule.Again, row.Again)
	put(&rule.Fresh, row.Fresh)
	put(&rule.Severity, row.Severity)
	return rule
}

func put[T any](to *T, value *T) {
	if value != nil {
		*to = *value
	}
}

// value is what a row says of a key, nil when it does not.
func value[T any](r row, key string) *T {
	if v, ok := r.values[key].(T); ok {
		return &v
	}
	return nil
}

// alert is the row as what it says of a kind.
func (r row) alert() AlertRow {
	out := AlertRow{
		Kind: alert.Kind(r.text("kind")), Saws: r.texts("saws"), Off: value[bool](r, "off"),
		Raise: r.number("raise"), Clear: r.number("clear"), Hold: value[time.Duration](r, "hold"), Rest: value[time.Duration](r, "rest"),
		Again: value[time.Duration](r, "again"), Fresh: value[time.Duration](r, "fresh"),
	}
	if name := r.text("severity"); name != "" {
		out.Severity = new(alert.Severity)
		*out.Severity = severity(name)
	}
	return out
}

// severity is that of a name that was checked when it was read.
func severity(name string) (s alert.Severity) {
	if s.UnmarshalText([]byte(name)) != nil {
		return alert.Notice
	}
	return s
}

// level reads a number. What it may be depends on the kind and is checked with it.
func level(raw any) (any, error) {
	x, err := numberOf(-math.MaxFloat64, math.MaxFloat64, "")(raw)
	if err != nil {
		return nil, errors.New("allowed is a number in the unit of the kind")
	}
	return x, nil
}

// link reads the address that Gullet's pages have for who gets a message.
func link(raw any) (any, error) {
	s, ok := raw.(string)
	if ok && s == "" {
		return s, nil
	}
	u, err := webAddress(s)
	if err != nil {
		return nil, err
	}
	if u.User != nil || u.RawQuery != "" || u.ForceQuery {
		return nil, errors.New("allowed is an address without a user, a password or a query: everybody who gets a message reads it")
	}
	return strings.TrimRight(s, "/"), nil
}

// webAddress reads an address of a page. Its errors do not show it.
func webAddress(s string) (*url.URL, error) {
	allowed := errors.New("allowed is an address such as \"http://gullet.shop:9480\", with the scheme http or https")
	u, err := url.Parse(s)
	if err != nil || !plain(s) || strings.TrimSpace(s) != s || len(s) > 4096 || u.Scheme != "http" && u.Scheme != "https" || !hostName(u.Hostname()) ||
		u.Fragment != "" || strings.HasSuffix(u.Host, ":") || u.Port() != "" && !portNumber(u.Port(), 1) {
		return nil, allowed
	}
	return u, nil
}

// checkAlerts refuses rows that say twice what holds, are for saws that nobody
// configured or that their kind is not of, and levels that no such alert can have. A row
// in which a key is missing or wrong is looked at no further.
func (l *loader) checkAlerts(out *Loaded) {
	rules := out.AlertRules()
	said := map[alert.Key]row{} // who says what of a kind and a saw
	for _, r := range out.rows {
		if r.list != "alert" || !r.has("kind") || len(r.broken) > 0 {
			continue
		}
		spec := alert.SpecOf(alert.Kind(r.text("kind")))
		saws := r.texts("saws")
		if len(saws) > 0 && !spec.Saw {
			l.problems.add(r.origins["saws"], r.path+".saws", "found with kind %q, which is of no single saw; allowed is a row without saws", spec.Kind)
			continue
		}
		l.checkSawNames(out, r, "saws", saws)
		l.checkSaidOnce(r, spec.Kind, said)
		l.checkLevels(r, spec, rules)
	}
}

// checkSaidOnce refuses a second row for the same kind and saw: which of them holds
// would depend on their order.
func (l *loader) checkSaidOnce(r row, kind alert.Kind, said map[alert.Key]row) {
	for _, key := range keysOf(kind, r.texts("saws")) {
		earlier, ok := said[key]
		if !ok {
			said[key] = r
			continue
		}
		where, of := "kind", "the shop"
		if key.Saw != "" {
			where, of = "saws", key.Saw
		}
		l.problems.add(r.origins[where], r.path+"."+where, "found %q for %s, which is in %s (%s) too; allowed is one row for a kind and a saw",
			kind, of, earlier.path, earlier.at)
	}
}

// keysOf is a kind with each of the saws, or with none for the shop.
func keysOf(kind alert.Kind, saws []string) []alert.Key {
	if len(saws) == 0 {
		return []alert.Key{{Kind: kind}}
	}
	var keys []alert.Key
	for _, saw := range saws {
		keys = append(keys, alert.Key{Kind: kind, Saw: saw})
	}
	return keys
}

// checkLevels refuses levels that the kind cannot have, and one to clear at that is
// worse than the one to raise at: the alert would be raised and closed for ever.
func (l *loader) checkLevels(r row, spec alert.Spec, rules *alert.Rules) {
	for _, key := range []string{"raise", "clear"} {
		if x := r.number(key); x != nil {
			if _, err := numberOf(spec.Least, spec.Most, spec.Unit)(*x); err != nil {
				l.problems.add(r.origins[key], r.path+"."+key, "found %v with kind %q; %v", *x, spec.Kind, err)
				return
			}
		}
	}
	clearAt := r.number("clear")
	if clearAt == nil {
		return
	}
	for _, key := range keysOf(spec.Kind, r.texts("saws")) {
		raise := rules.Of(key.Kind, key.Saw).Raise
		side := "up to"
		if spec.Falls {
			side = "from"
		}
		if spec.Falls && *clearAt < raise || !spec.Falls && *clearAt > raise {
			l.problems.add(r.origins["clear"], r.path+".clear", "found %v, which is worse than where the alert is raised; allowed is a number %s %v (%s)",
				*clearAt, side, raise, spec.Unit)
			return
		}
	}
}

// withDefaults gives a row what it leaves out.
func (r row) withDefaults(defaults map[string]any) {
	for key, value := range defaults {
		if _, ok := r.values[key]; !ok && !r.broken[key] {
			r.values[key] = value // the origin that is not there is the default's
		}
	}
}

// kindNames reads kinds of alerts.
func kindNames(raw any) (any, error) {
	return wordsOf("kinds", []string{string(alert.BladeBreak), string(alert.TripLikely)}, alert.Kinds())(raw)
}

// wordsOf reads a list of at least one of a few words.
func wordsOf(what string, example, words []string) reader {
	one := oneOf(words...)
	return func(raw any) (any, error) {
		items, _ := raw.([]any)
		if len(items) == 0 {
			return nil, fmt.Errorf("allowed is a list of %s such as %s", what, literal(example))
		}
		var out []string
		for i, item := range items {
			s, err := one(item)
			if err != nil {
				return nil, fmt.Errorf("item %d is %s: %w", i+1, found(item), err)
			}
			out = append(out, s.(string))
		}
		return out, nil
	}
}
