package sim

import (
	"bytes"
	"errors"
	"io"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"
)

func TestLineRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		payload := rapid.OneOf(
			rapid.String(),
			rapid.SampledFrom([]string{`{"a": 1}`, "{\n}", `{"a":`, `"text"`, `[1]`, `null`, `{"b":"<&>"}`, ``, `{} `}),
		).Draw(t, "payload")
		want := Line{
			Topic:   rapid.StringMatching(`[a-z/]{1,12}`).Draw(t, "topic"),
			Payload: []byte(payload), Retain: rapid.Bool().Draw(t, "retain"),
		}
		var b bytes.Buffer
		if err := Write(&b, want); err != nil {
			t.Fatal(err)
		}
		if n := strings.Count(b.String(), "\n"); n != 1 {
			t.Fatalf("%d line breaks in %q", n, b.String())
		}
		for got, err := range ReadLines(&b) {
			if err != nil {
				t.Fatal(err)
			}
			if got.Topic != want.Topic || got.Retain != want.Retain || string(got.Payload) != payload {
				t.Fatalf("got %q %q, want %q %q", got.Topic, got.Payload, want.Topic, payload)
			}
		}
	})
}

func TestObjectStandsInPlace(t *testing.T) {
	var b bytes.Buffer
	if err := Write(&b, Line{Topic: "saws/s1/cut", Payload: []byte(`{"seconds": 9}`)}); err != nil {
		t.Fatal(err)
	}
	want := `{"topic":"saws/s1/cut","payload":{"seconds": 9},"retain":false}` + "\n"
	if diff := cmp.Diff(want, b.String()); diff != "" {
		t.Error(diff)
	}
}

func TestReadLinesGoesOnAfterABadLine(t *testing.T) {
	in := strings.Join([]string{
		`{"topic":"saws/s1/cut","payload":{},"retain":false}`,
		``,
		`{"topic":"saws/s1/cut","payload":{`,
		`{"payload":{}}`,
		`{"topic":"saws/+/cut","payload":{}}`,
		`{"topic":"saws/s1/cut"}`,
		`{"topic":"saws/s1/alive","payload":{},"retain":true}`,
	}, "\n")
	var got []string
	for l, err := range ReadLines(strings.NewReader(in)) {
		if err != nil {
			got = append(got, err.Error()[:strings.Index(err.Error(), ":")])
			continue
		}
		got = append(got, l.Topic)
	}
	want := []string{"saws/s1/cut", "line 3", "line 4", "line 5", "line 6", "saws/s1/alive"}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Error(diff)
	}
}

func TestReadLinesTellsOfAFailingReader(t *testing.T) {
	broken := errors.New("disk gone")
	r := io.MultiReader(strings.NewReader("{\"topic\":\"a/b\",\"payload\":{}}\n"), failing{broken})
	var last error
	for _, err := range ReadLines(r) {
		last = err
	}
	if !errors.Is(last, broken) || !strings.HasPrefix(last.Error(), "line 2: ") {
		t.Errorf("last error %v, want line 2 and the reader's own", last)
	}
}

type failing struct{ err error }

func (f failing) Read([]byte) (int, error) { return 0, f.err }

func TestReadLinesStopsWhenAsked(t *testing.T) {
	line := `{"topic":"a/b","payload":{}}` + "\n"
	n := 0
	for range ReadLines(strings.NewReader(line + line)) {
		n++
		break
	}
	if n != 1 {
		t.Errorf("%d lines after a break", n)
	}
}

func TestWriteRefuses(t *testing.T) {
	for name, l := range map[string]Line{
		"no topic":           {Payload: []byte(`{}`)},
		"a wildcard":         {Topic: "saws/#", Payload: []byte(`{}`)},
		"bytes not text":     {Topic: "saws/s1/cut", Payload: []byte{0xff}},
		"broken UTF-8 in {}": {Topic: "saws/s1/cut", Payload: []byte("{\"a\":\"\xff\"}")},
	} {
		t.Run(name, func(t *testing.T) {
			var b bytes.Buffer
			if err := Write(&b, l); err == nil || b.Len() > 0 {
				t.Errorf("wrote %q, error %v", b.String(), err)
			}
		})
	}
	if err := Write(failingWriter{}, Line{Topic: "a", Payload: []byte(`{}`)}); !errors.Is(err, io.ErrShortWrite) {
		t.Errorf("error %v does not carry the writer's", err)
	}
}

type failingWriter struct{}

func (failingWriter) Write([]byte) (int, error) { return 0, io.ErrShortWrite }

// Whatever the file holds, reading ends without a panic and every line that
// reads can be written and read again.
func FuzzReadLines(f *testing.F) {
	f.Add([]byte(`{"topic":"saws/s1/cut","payload":{"id":"1"},"retain":true}`))
	f.Add([]byte(`{"topic":"saws/s1/cut","payload":"{\"id\":","retain":false}`))
	f.Add([]byte("{\n[]\n\"\"\n{\"topic\":null,\"payload\":null}"))
	f.Fuzz(func(t *testing.T, data []byte) {
		for l, err := range ReadLines(bytes.NewReader(data)) {
			if err != nil {
				continue
			}
			var b bytes.Buffer
			if Write(&b, l) != nil {
				continue // not UTF-8
			}
			for again, err := range ReadLines(&b) {
				if err != nil || string(again.Payload) != string(l.Payload) {
					t.Fatalf("%q became %q, error %v", l.Payload, again.Payload, err)
				}
			}
		}
	})
}
