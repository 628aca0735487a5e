package sim

import (
	"bufio"
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"iter"
	"strings"
	"time"
	"unicode/utf8"
)

// Line is one message on its way to a broker.
type Line struct {
	Topic   string          `json:"topic"`
	Payload json.RawMessage `json:"payload"` // the bytes as published, which need not be JSON
	Retain  bool            `json:"retain"`
	At      time.Time       `json:"-"` // moment of publishing, simulated; not written to the file
}

// MaxLine is the longest line ReadLines takes, in bytes.
const MaxLine = 64 << 20

// Write writes one line of JSON: {"topic":…,"payload":…,"retain":…}. A payload
// that is one JSON object without a line break stands as it is, byte for byte;
// any other (a test of bad input) becomes a JSON string of its text. It fails
// on a payload that is not UTF-8, which a JSON string cannot carry.
func Write(w io.Writer, l Line) error {
	if err := checkTopic(l.Topic); err != nil {
		return err
	}
	payload := []byte(l.Payload)
	if !standsInPlace(payload) {
		if !utf8.Valid(payload) {
			return fmt.Errorf("write a line for %s: the payload is not UTF-8", l.Topic)
		}
		payload = quote(string(payload))
	}
	var b bytes.Buffer
	fmt.Fprintf(&b, `{"topic":%s,"payload":%s,"retain":%t}`+"\n", quote(l.Topic), payload, l.Retain)
	if _, err := w.Write(b.Bytes()); err != nil {
		return fmt.Errorf("write a line for %s: %w", l.Topic, err)
	}
	return nil
}

// ReadLines reads what Write wrote; blank lines are passed over. A line that
// cannot be read yields an error that begins with its number, counted from 1,
// and reading goes on with the next; only a failing reader or a line longer
// than MaxLine ends it early.
func ReadLines(r io.Reader) iter.Seq2[Line, error] {
	return func(yield func(Line, error) bool) {
		sc := bufio.NewScanner(r)
		sc.Buffer(make([]byte, 0, 64<<10), MaxLine)
		n := 0
		for sc.Scan() {
			n++
			text := bytes.TrimSpace(sc.Bytes())
			if len(text) == 0 {
				continue
			}
			l, err := parseLine(text)
			if err != nil {
				err = fmt.Errorf("line %d: %w", n, err)
			}
			if !yield(l, err) {
				return
			}
		}
		if err := sc.Err(); err != nil {
			yield(Line{}, fmt.Errorf("line %d: %w", n+1, err))
		}
	}
}

// parseLine reads one line. Its payload is a copy, the caller's buffer is free.
func parseLine(text []byte) (Line, error) {
	var l Line
	if err := json.Unmarshal(text, &l); err != nil {
		return Line{}, fmt.Errorf(`not a line like {"topic":"saws/s1/cut","payload":{…},"retain":false}: %w`, err)
	}
	if err := checkTopic(l.Topic); err != nil {
		return Line{}, err
	}
	if len(l.Payload) == 0 {
		return Line{}, errors.New(`no "payload": an object, or a string with the payload's text, is wanted`)
	}
	if l.Payload[0] == '"' {
		var s string
		if err := json.Unmarshal(l.Payload, &s); err != nil {
			return Line{}, fmt.Errorf("read the payload's text: %w", err)
		}
		l.Payload = json.RawMessage(s)
	}
	return l, nil
}

// checkTopic refuses what MQTT does not let a message be published to.
func checkTopic(t string) error {
	switch {
	case t == "":
		return errors.New(`no "topic": a topic like "saws/s1/cut" is wanted`)
	case strings.ContainsAny(t, "+#\x00"):
		return fmt.Errorf("topic %q: a message cannot be published to a topic with +, # or a NUL", t)
	}
	return nil
}

// standsInPlace reports whether the payload may be written into a line as it is.
func standsInPlace(p []byte) bool {
	return len(p) > 0 && p[0] == '{' && p[len(p)-1] == '}' && utf8.Valid(p) && json.Valid(p) && bytes.IndexByte(p, '\n') < 0
}

// quote is s as a JSON string.
func quote(s string) []byte {
	b, _ := json.Marshal(s) // a string always marshals
	return b
}
