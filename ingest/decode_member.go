package ingest

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"github.com/go-json-experiment/json/jsontext"

	"gullet/analyze"
)

// message is one message on its way to a reading. Its methods read one member
// each; the first thing that is wrong stays in refusal, and the rest does no
// harm.
type message struct {
	kind    analyze.Kind
	saw     string
	decoder *Decoder
	values  [memberCount]string // JSON as sent, "" when not sent
	extra   []byte              // unknown members, an object without its closing brace
	mm      bool
	refusal *refusal
}

func (m *message) refuse(code analyze.RejectCode, format string, args ...any) {
	if m.refusal == nil {
		m.refusal = refuse(code, string(m.kind)+": "+format, args...)
	}
}

// scale is how much of the message's unit makes one of Gullet's own.
func (m *message) scale(q quantity) float64 {
	if m.mm {
		return metric[q]
	}
	return 1
}

// number reads a number within l, in the unit it was sent in. sent is false
// when there is none or it is refused.
func (m *message) number(i member, l limit) (v float64, sent bool) {
	s := m.values[i]
	if s == "" {
		return 0, false
	}
	if c := s[0]; c != '-' && (c < '0' || c > '9') {
		m.refuse(analyze.RejectType, "%s is %s, must be a number", i, show(s))
		return 0, false
	}
	// A number too large for a float64 comes back infinite and is out of range.
	v, _ = strconv.ParseFloat(s, 64)
	if scale := m.scale(l.of); !l.holds(v, scale) {
		m.refuse(analyze.RejectRange, "%s is %s%s, must be %s", i, show(s), m.unit(l.of), l.allowed(scale))
		return 0, false
	}
	return v, true
}

// measure reads a number into *into, in Gullet's own unit, and returns into;
// nil when there is none.
func (m *message) measure(i member, into *float64) *float64 {
	v, sent := m.number(i, limits[i])
	if !sent {
		return nil
	}
	*into = v / m.scale(limits[i].of)
	return into
}

// whole reads an integer; other when there is none. 12.0 is an integer too,
// since some controllers know no other numbers.
func (m *message) whole(i member, other int64) int64 {
	v, sent := m.number(i, limits[i])
	if !sent {
		return other
	}
	if v != math.Trunc(v) {
		m.refuse(analyze.RejectType, "%s is %s, must be a whole number", i, show(m.values[i]))
		return other
	}
	// Digits are read as they stand: above 2^53 a float64 would round them.
	if n, err := strconv.ParseInt(string(m.values[i]), 10, 64); err == nil {
		if n > maxWhole {
			m.refuse(analyze.RejectRange, "%s is %s, must be at most %d", i, show(m.values[i]), int64(maxWhole))
		}
		return n
	}
	return int64(v)
}

// maxWhole is the largest number up to which JSON numbers are exact everywhere
// (RFC 8259 section 6): 2^53.
const maxWhole = 1 << 53

// unit is the name of a quantity's unit in this message, with a space before.
func (m *message) unit(q quantity) string {
	if m.mm {
		return unitNames[q][1]
	}
	return unitNames[q][0]
}

// text reads a string of at most most characters; "" when there is none.
func (m *message) text(i member, most int) string {
	s := m.values[i]
	if s == "" {
		return ""
	}
	if s[0] != '"' {
		m.refuse(analyze.RejectType, "%s is %s, must be text", i, show(s))
		return ""
	}
	t := unquote(s)
	if hasControl(t) {
		m.refuse(analyze.RejectType, "%s is %s, must not have control characters", i, show(s))
		return ""
	}
	if n := utf8.RuneCountInString(t); n > most {
		m.refuse(analyze.RejectRange, "%s has %d characters, at most %d are allowed", i, n, most)
		return ""
	}
	return t
}

// label reads a text that names something. Space around it does not count:
// controllers with fixed fields pad, and "B127 " would become a second blade.
func (m *message) label(i member, most int) string { return strings.TrimSpace(m.text(i, most)) }

// word reads one of the allowed words; other when there is none.
func word[T ~string](m *message, i member, allowed []T, other T) T {
	s := m.values[i]
	if s == "" {
		return other
	}
	if s[0] == '"' {
		if at := slices.Index(allowed, T(unquote(s))); at >= 0 {
			return allowed[at]
		}
	}
	m.refuse(analyze.RejectType, "%s is %s, must be one of %s", i, show(s), list(allowed))
	return other
}

// truth reads true or false.
func (m *message) truth(i member) bool {
	s := m.values[i]
	if s != "true" && s != "false" {
		m.refuse(analyze.RejectType, "%s is %s, must be true or false", i, show(s))
	}
	return s == "true"
}

// time reads when it happened, and judges it against the time of receipt.
func (m *message) time(received time.Time) time.Time {
	const form = "a time with its offset from UTC (RFC 3339), like 2026-03-02T14:03:21.5-06:00"
	s := m.values[memAt]
	if s[0] != '"' {
		m.refuse(analyze.RejectType, "at is %s, must be %s", show(s), form)
		return time.Time{}
	}
	// UnmarshalText is the strict reading of RFC 3339; time.Parse lets a comma
	// and single digits through.
	var t time.Time
	if err := t.UnmarshalText([]byte(unquote(s))); err != nil {
		m.refuse(analyze.RejectType, "at is %s, must be %s", show(s), form)
		return time.Time{}
	}
	t = t.UTC().Truncate(time.Microsecond)
	oldest, newest := received.Add(-m.decoder.options.Oldest), received.Add(m.decoder.options.Ahead)
	if t.Before(oldest) || t.After(newest) {
		m.refuse(analyze.RejectRange, "at is %s, received %s; must be at most %s before and %s after", show(s),
			received.Format(time.RFC3339), span(m.decoder.options.Oldest), span(m.decoder.options.Ahead))
	}
	return t
}

// span spells a duration in days or hours when it is whole ones.
func span(d time.Duration) string {
	switch day := 24 * time.Hour; {
	case d > day && d%day == 0:
		return fmt.Sprintf("%d days", d/day)
	case d%time.Hour == 0:
		return fmt.Sprintf("%d h", d/time.Hour)
	}
	return d.String()
}

// unquote is the text that a valid JSON string stands for; anything else is
// returned as it is. It copies only where there are escapes.
func unquote(s string) string {
	if s[0] != '"' {
		return s
	}
	if strings.IndexByte(s, '\\') < 0 {
		return s[1 : len(s)-1]
	}
	b, _ := jsontext.AppendUnquote(nil, s) // the decoder has accepted it
	return string(b)
}

// hasControl reports whether s has a control character or a line break.
func hasControl(s string) bool {
	for i := 0; i < len(s); i++ {
		if c := s[i]; c < ' ' || c >= 0x7f {
			return strings.ContainsFunc(s[i:], func(r rune) bool {
				return unicode.IsControl(r) || r == '\u2028' || r == '\u2029'
			})
		}
	}
	return false
}

const (
	shown     = 40  // characters of a value that a reason repeats
	longWords = 240 // characters of another package's reason
)

// show makes what was sent fit to print: short, on one line, no characters
// that a terminal obeys.
func show(s string) string { return printable(s, shown) }

func printable(s string, most int) string {
	var b strings.Builder
	n := 0
	for i, r := range s {
		if n == most {
			b.WriteString("…")
			break
		}
		n++
		switch {
		case r == utf8.RuneError && !strings.HasPrefix(s[i:], "\ufffd"):
			fmt.Fprintf(&b, `\x%02x`, s[i])
		case r == '\n' || r == '\r' || r == '\t':
			b.WriteByte(' ')
		case !strconv.IsPrint(r):
			fmt.Fprintf(&b, `\u%04x`, r)
		default:
			b.WriteRune(r)
		}
	}
	return b.String()
}

// list spells the allowed words.
func list[T ~string](words []T) string {
	s := make([]string, len(words))
	for i, w := range words {
		s[i] = string(w)
	}
	return strings.Join(s, ", ")
}

// plainNumber spells a limit without an exponent or a long tail of digits.
func plainNumber(v float64) string {
	return strconv.FormatFloat(math.Round(v*1e4)/1e4, 'f', -1, 64)
}
