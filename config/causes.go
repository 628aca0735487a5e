package config

import (
	"errors"
	"fmt"
	"regexp"
	"slices"
	"unicode/utf8"

	"gullet/analyze"
	"gullet/analyze/downtime"
)

// otherGroup is that of a cause of which nobody said who can do something about it.
const otherGroup = "other"

// unknownCause is what a saw sends when nobody told it.
const unknownCause = "unknown"

// Meanings is what the causes of a stop count as in this shop.
func (c *Config) Meanings() downtime.Meanings { return downtime.NewMeanings(c.Causes) }

// CauseNames lists every cause that means something in this shop: those Gullet
// knows from the start, then the shop's own.
func (c *Config) CauseNames() []analyze.Cause {
	var names []analyze.Cause
	for _, list := range [][]downtime.Meaning{downtime.Defaults(), c.Causes} {
		for _, m := range list {
			if !slices.Contains(names, m.Cause) {
				names = append(names, m.Cause)
			}
		}
	}
	return names
}

// Cause reads the name of a cause that a person gives to a stop. The error says
// which are allowed: not the time between cuts, which is no stop.
func (c *Config) Cause(name string) (analyze.Cause, error) {
	allowed := words(slices.DeleteFunc(c.CauseNames(), func(c analyze.Cause) bool { return c == downtime.BetweenCuts }))
	if _, err := oneOf(allowed...)(name); err != nil {
		return "", err
	}
	return analyze.Cause(name), nil
}

var causePattern = regexp.MustCompile(`^[\p{Ll}0-9]+(-[\p{Ll}0-9]+)*$`)

// causeName reads the name of a cause that the shop says the meaning of.
func causeName(raw any) (any, error) {
	s, _ := raw.(string)
	if s == unknownCause {
		return nil, fmt.Errorf("allowed is any cause but this one: a stop for which nobody gave a cause is %q", downtime.Unexplained)
	}
	if utf8.RuneCountInString(s) > 64 || !causePattern.MatchString(s) {
		return nil, errors.New("allowed are lower-case words with hyphens between, such as \"waiting-crane\", up to 64 characters")
	}
	return s, nil
}

// stopElements are the elements of time that a stop may count as.
func stopElements() []string {
	return words([]downtime.Element{downtime.Setup, downtime.Delay, downtime.Down, downtime.PlannedDown})
}

// overDefaultCauses is the default causes with the file's over them. A row must say
// what its cause counts as, also of one that is known: that is what rows are for.
func overDefaultCauses(rows []row) []row {
	var defaults []row
	for _, m := range downtime.Defaults() {
		d := row{list: "cause", values: map[string]any{
			"name": string(m.Cause), "element": string(m.Element), "group": m.Group, "failure": m.Failure,
		}, origins: map[string]origin{}}
		if slices.ContainsFunc(rows, func(r row) bool { return r.text("name") == string(m.Cause) }) {
			delete(d.values, "element")
		}
		defaults = append(defaults, d)
	}
	out := layOver(defaults, rows)
	for _, r := range out[len(defaults):] {
		for key, value := range map[string]any{"group": otherGroup, "failure": false} {
			if _, ok := r.values[key]; !ok {
				r.values[key] = value
			}
		}
	}
	return out
}

// meaning is the row as what its cause counts as.
func (r row) meaning() downtime.Meaning {
	failure, _ := r.values["failure"].(bool)
	return downtime.Meaning{
		Cause: analyze.Cause(r.text("name")), Element: downtime.Element(r.text("element")),
		Group: r.text("group"), Failure: failure,
	}
}
