package config

import (
	"cmp"
	"errors"
	"fmt"
	"slices"
	"strings"
)

// layer is one source of values; a higher one wins.
type layer int

const (
	fromDefault layer = iota
	fromFile
	fromEnv
	fromFlag
)

// origin is where a value was written.
type origin struct {
	layer layer
	name  string // the file as it was named, the variable or the flag; "" for a default
	line  int    // in the file, from 1; 0 when it has none
}

// String is the origin as people are shown it: "default", "gullet.toml:12",
// "GULLET_MQTT_BROKER", "--broker".
func (o origin) String() string {
	switch {
	case o.layer == fromDefault:
		return "default"
	case o.line > 0:
		return fmt.Sprintf("%s:%d", o.name, o.line)
	}
	return o.name
}

// problem is one thing a person has to mend, in one line.
type problem struct {
	at   origin
	key  string // "" when it is not about one key
	text string // what was found and what is allowed
}

func (p problem) Error() string {
	if p.key == "" {
		return fmt.Sprintf("%s: %s", p.at, p.text)
	}
	return fmt.Sprintf("%s: %s: %s", p.at, p.key, p.text)
}

// problems collects what is wrong, so that all of it is reported at once.
type problems []problem

func (ps *problems) add(at origin, key, format string, args ...any) {
	*ps = append(*ps, problem{at, key, fmt.Sprintf(format, args...)})
}

// err joins the problems in the order a person reads: by layer, then by line.
// It is nil when there are none.
func (ps problems) err() error {
	sorted := slices.Clone(ps)
	slices.SortStableFunc(sorted, func(a, b problem) int {
		return cmp.Or(cmp.Compare(a.at.layer, b.at.layer), cmp.Compare(a.at.line, b.at.line),
			cmp.Compare(a.at.name, b.at.name), cmp.Compare(a.key, b.key))
	})
	errs := make([]error, len(sorted))
	for i, p := range sorted {
		errs[i] = p
	}
	return errors.Join(errs...)
}

// didYouMean names the word nearest to what was typed, as the end of a
// sentence; "" when none is near enough to be a slip of the finger.
func didYouMean(typed string, words []string) string {
	best, least := "", max(1, min(3, len(typed)/3))+1
	for _, w := range words {
		d := distance(strings.ToLower(typed), strings.ToLower(w))
		// A word cut short ("password" for "password_file") or drawn out ("inch"
		// for "in") is no slip of the finger, but as plain to see.
		if len(typed) >= 3 && strings.HasPrefix(w, typed) || len(w) >= 2 && strings.HasPrefix(typed, w) {
			d = 1
		}
		if d < least {
			best, least = w, d
		}
	}
	if best == "" {
		return ""
	}
	return fmt.Sprintf("; did you mean %q?", best)
}

// distance is the number of letters to insert, drop, change or swap with a
// neighbour to make b of a (optimal string alignment).
func distance(a, b string) int {
	// Keys and words are short; a longer text is not a slip of one of them.
	if len(a) > 64 || len(b) > 64 {
		return 64
	}
	d := make([][]int, len(a)+1)
	for i := range d {
		d[i] = make([]int, len(b)+1)
		d[i][0] = i
	}
	for j := range d[0] {
		d[0][j] = j
	}
	for i := 1; i <= len(a); i++ {
		for j := 1; j <= len(b); j++ {
			change := 1
			if a[i-1] == b[j-1] {
				change = 0
			}
			d[i][j] = min(d[i-1][j]+1, d[i][j-1]+1, d[i-1][j-1]+change)
			if i > 1 && j > 1 && a[i-1] == b[j-2] && a[i-2] == b[j-1] {
				d[i][j] = min(d[i][j], d[i-2][j-2]+1)
			}
		}
	}
	return d[len(a)][len(b)]
}
