package config

import (
	"fmt"
	"io"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"

	"gullet/analyze/shift"
)

// Print writes the whole effective configuration as TOML with the origin of
// every value behind it. Read back as a file it gives the same configuration,
// except that a user, a password or a query in the broker's URL is hidden, and what
// stands behind the host in that of a webhook;
// files that hold secrets are named, never opened. A key without a value is
// written as a comment.
func (l *Loaded) Print(w io.Writer) error {
	var p printer
	p.line("# "+l.about(), "")
	section := ""
	for _, s := range l.scalars {
		in, name, _ := strings.Cut(s.key, ".")
		if in != section {
			section = in
			p.header("[" + in + "]")
		}
		value := s.value
		if s.key == "mqtt.broker" {
			value = l.MQTT.BrokerShown()
		}
		p.line(name+" = "+literal(value), s.at.String())
	}
	for _, li := range lists() {
		for _, r := range l.rows {
			if r.list == li.name {
				p.row(li, r)
			}
		}
	}
	return p.flush(w)
}

func (l *Loaded) about() string {
	if l.File == "" {
		return "no file read; behind each value stands where it came from"
	}
	return fmt.Sprintf("file read: %q; behind each value stands where it came from", l.File)
}

// printer collects lines so that the origins can stand in one column.
type printer struct{ lines [][2]string }

func (p *printer) line(text, origin string) { p.lines = append(p.lines, [2]string{text, origin}) }

func (p *printer) header(text string) {
	p.line("", "")
	p.line(text, "")
}

func (p *printer) row(li list, r row) {
	p.header("[[" + li.name + "]]")
	for _, f := range li.fields {
		value, ok := r.values[f.name]
		if r.foreign(f.name) {
			continue
		}
		if !ok {
			p.line("# "+f.name+" =", "not set")
			continue
		}
		p.line(f.name+" = "+literal(value), r.origins[f.name].String())
	}
}

// originColumn is where origins begin, unless the value is longer.
const originColumn = 48

func (p *printer) flush(w io.Writer) error {
	var b strings.Builder
	for _, line := range p.lines {
		b.WriteString(line[0])
		if line[1] != "" {
			b.WriteString(strings.Repeat(" ", max(1, originColumn-utf8.RuneCountInString(line[0]))))
			b.WriteString("# " + line[1])
		}
		b.WriteByte('\n')
	}
	if _, err := io.WriteString(w, b.String()); err != nil {
		return fmt.Errorf("print the configuration: %w", err)
	}
	return nil
}

// literal writes a checked value as TOML.
func literal(value any) string {
	switch v := value.(type) {
	case string:
		// Checked texts have no control characters, so quotes and backslashes
		// are all there is to escape.
		return `"` + strings.NewReplacer(`\`, `\\`, `"`, `\"`).Replace(v) + `"`
	case []string:
		return listOf(v)
	case []shift.Date:
		return listOf(v)
	case []shift.Span:
		return listOf(v)
	case shift.Clock:
		return literal(v.String())
	case shift.Span:
		return literal(v.String())
	case HiddenURL:
		return literal(v.String())
	case time.Duration:
		return literal(duration(v))
	case byteSize:
		return literal(v.String())
	case float64:
		return strconv.FormatFloat(v, 'f', -1, 64)
	}
	return fmt.Sprint(value)
}

// listOf writes values as a list of their texts.
func listOf[T any](values []T) string {
	items := make([]string, len(values))
	for i, v := range values {
		items[i] = literal(fmt.Sprint(v))
	}
	return "[" + strings.Join(items, ", ") + "]"
}
