package ingest

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"strings"
	"time"
	"unicode/utf8"

	"github.com/go-json-experiment/json/jsontext"

	"gullet/analyze"
)

// Decoder turns messages into readings by the contract. It keeps the sections
// it has seen, since a saw cuts the same few all day. Not safe for concurrent
// use.
type Decoder struct {
	options  Options
	sections sectionCache
	json     jsontext.Decoder
	buffer   bytes.Buffer
}

// NewDecoder returns a decoder for the shop's choices.
func NewDecoder(o Options) *Decoder {
	if o.MaxPayload <= 0 {
		o.MaxPayload = defaultMaxPayload
	}
	if o.Oldest <= 0 {
		o.Oldest = defaultOldest
	}
	if o.Ahead <= 0 {
		o.Ahead = defaultAhead
	}
	if o.FromAxis == nil {
		o.FromAxis = func(string) bool { return false }
	}
	return &Decoder{options: o}
}

// Decode reads one message. It never fails: what cannot be read comes back as
// a Rejection that holds the message and says in one line what was found,
// where, and what is allowed. received is the time of receipt, against which
// the message's own time is judged. Decode does not keep payload, nor change
// it.
func (d *Decoder) Decode(topic string, payload []byte, retained bool, received time.Time) analyze.Arrival {
	received = received.UTC().Truncate(time.Microsecond)
	reading, no := d.read(topic, payload, received)
	if no != nil {
		head := payload
		if len(payload) > d.options.MaxPayload {
			head = payload[:min(headSize, d.options.MaxPayload)]
		}
		return analyze.Arrival{Rejection: &analyze.Rejection{
			Topic: topic, Payload: bytes.Clone(head), Size: len(payload),
			Retained: retained, Received: received, Code: no.code, Reason: no.reason,
		}}
	}
	reading.Received = received
	reading.Retained = retained
	return analyze.Arrival{Reading: reading}
}

// refusal says why a message is not a reading.
type refusal struct {
	code   analyze.RejectCode
	reason string
}

func refuse(code analyze.RejectCode, format string, args ...any) *refusal {
	return &refusal{code, fmt.Sprintf(format, args...)}
}

func (d *Decoder) read(topic string, payload []byte, received time.Time) (*analyze.Reading, *refusal) {
	saw, kind, no := splitTopic(topic)
	if no != nil {
		return nil, no
	}
	if len(payload) > d.options.MaxPayload {
		return nil, refuse(analyze.RejectOversize, "%s: the message has %d bytes, at most %d are allowed", kind, len(payload), d.options.MaxPayload)
	}
	m := message{kind: kind, saw: saw, decoder: d}
	if no := d.split(&m, payload); no != nil {
		return nil, no
	}
	return m.reading(received)
}

// splitTopic takes the saw's full name and the kind from a topic: the last two
// levels, with the site before them.
func splitTopic(topic string) (string, analyze.Kind, *refusal) {
	bad := func(format string, args ...any) (string, analyze.Kind, *refusal) {
		return "", "", refuse(analyze.RejectTopic, `topic "`+show(topic)+`": `+format, args...)
	}
	if !utf8.ValidString(topic) {
		return bad("not UTF-8")
	}
	end := strings.LastIndexByte(topic, '/')
	if end < 0 {
		return bad("must end with the saw and the kind, like saws/s3/cut")
	}
	path, kind := topic[:end], analyze.Kind(topic[end+1:])
	site, saw := "", path
	if i := strings.LastIndexByte(path, '/'); i >= 0 {
		site, saw = path[:i], path[i+1:]
		if site == "" {
			return bad("has an empty level")
		}
	}
	switch {
	case topic[0] == '$':
		return bad("starts with $, which is the broker's own")
	case strings.Contains("/"+path+"/", "//"):
		return bad("has an empty level")
	case strings.ContainsAny(path, "+#"):
		return bad("has a wildcard (+ or #) in a name")
	case hasControl(path):
		return bad("has a control character")
	case utf8.RuneCountInString(saw) > maxSaw:
		return bad("the saw's name is longer than %d characters", maxSaw)
	case utf8.RuneCountInString(site) > maxSite:
		return bad("the site is longer than %d characters", maxSite)
	}
	if _, ok := bodies[kind]; !ok {
		return bad("the last level must be one of %s", list(analyze.Kinds()))
	}
	return analyze.SawName(site, saw), kind, nil
}

// split takes the payload apart into m: the values of the members the kind
// knows, and the others together. It looks at the syntax only.
//
// jsontext is driven by hand because that takes half the time of unmarshalling
// into a struct and leaves each value at hand for the reason of a rejection.
// It refuses duplicate names and invalid UTF-8 by itself.
func (d *Decoder) split(m *message, payload []byte) *refusal {
	if len(payload) == 0 {
		return refuse(analyze.RejectJSON, "%s: the message is empty, must be one JSON object", m.kind)
	}
	known := bodies[m.kind].known
	// One string for the whole message: the reading's strings are parts of it.
	text := string(payload)
	d.buffer = *bytes.NewBuffer(payload)
	d.json.Reset(&d.buffer)
	if k := d.json.PeekKind(); k != jsontext.KindBeginObject && k != jsontext.KindInvalid {
		return refuse(analyze.RejectJSON, "%s: the message is %s, must be one JSON object", m.kind, show(text))
	}
	if _, err := d.json.ReadToken(); err != nil {
		return m.notJSON(text, err)
	}
	for d.json.PeekKind() == jsontext.KindString {
		name, err := d.next(text)
		if err != nil {
			return m.notJSON(text, err)
		}
		value, err := d.next(text)
		if err != nil {
			return m.notJSON(text, err)
		}
		if (value[0] == '{' || value[0] == '[') && nesting(value) > maxDepth {
			return refuse(analyze.RejectJSON, "%s: %s is nested deeper than %d levels", m.kind, show(name), maxDepth)
		}
		if i, ok := known[unquote(name)]; ok {
			m.values[i] = value
		} else {
			m.keep(name, value)
		}
	}
	if _, err := d.json.ReadToken(); err != nil {
		return m.notJSON(text, err)
	}
	end := d.json.InputOffset()
	if _, err := d.json.ReadToken(); err != io.EOF {
		return refuse(analyze.RejectJSON, "%s: more follows after the object: %s", m.kind, show(strings.TrimSpace(text[end:])))
	}
	return nil
}

// next reads one name or value and returns the part of text that spells it.
func (d *Decoder) next(text string) (string, error) {
	v, err := d.json.ReadValue()
	if err != nil {
		return "", err
	}
	end := int(d.json.InputOffset())
	return text[end-len(v) : end], nil
}

// notJSON says where the payload stops being JSON.
func (m *message) notJSON(text string, err error) *refusal {
	at := 0
	var syntax *jsontext.SyntacticError
	if errors.As(err, &syntax) {
		at = min(int(syntax.ByteOffset), len(text))
	}
	switch {
	case !utf8.ValidString(text):
		return refuse(analyze.RejectJSON, "%s: the message is not UTF-8 at byte %d", m.kind, invalidUTF8(text))
	case nesting(text) > maxDepth+1:
		return refuse(analyze.RejectJSON, "%s: nested deeper than %d levels", m.kind, maxDepth)
	case errors.Is(err, jsontext.ErrDuplicateName):
		return refuse(analyze.RejectJSON, "%s: %s is given twice", m.kind, show(syntax.JSONPointer.LastToken()))
	case errors.Is(err, io.ErrUnexpectedEOF), at >= len(text):
		return refuse(analyze.RejectJSON, "%s: the message breaks off after %d bytes", m.kind, len(text))
	}
	return refuse(analyze.RejectJSON, "%s: not JSON at byte %d: %s", m.kind, at, show(text[at:]))
}

// invalidUTF8 is the place of the first byte that is not UTF-8.
func invalidUTF8(s string) int {
	for i, r := range s {
		if r == utf8.RuneError {
			if _, size := utf8.DecodeRuneInString(s[i:]); size == 1 {
				return i
			}
		}
	}
	return len(s)
}

// nesting is how deep the objects and arrays in a JSON text are nested.
func nesting(text string) int {
	level, deepest, quoted := 0, 0, false
	for i := 0; i < len(text); i++ {
		switch c := text[i]; {
		case quoted && c == '\\':
			i++
		case c == '"':
			quoted = !quoted
		case quoted:
		case c == '{', c == '[':
			level++
			deepest = max(deepest, level)
		case c == '}', c == ']':
			level--
		}
	}
	return deepest
}

// keep puts a member nobody knows aside.
func (m *message) keep(name, value string) {
	if m.extra == nil {
		m.extra = append(m.extra, '{')
	} else {
		m.extra = append(m.extra, ',')
	}
	m.extra = append(m.extra, name...)
	m.extra = append(m.extra, ':')
	m.extra = append(m.extra, value...)
}
