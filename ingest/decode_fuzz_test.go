package ingest

import (
	"math"
	"strings"
	"testing"
	"time"
	"unicode"
	"unicode/utf8"

	"gullet/analyze"
	"gullet/analyze/section"
)

// FuzzDecode: whatever comes, there is a sound reading or a rejection with a
// line a person can read, and the same message gives the same answer again.
// Seeds are in testdata/fuzz/FuzzDecode.
func FuzzDecode(f *testing.F) {
	received := time.Date(2026, 3, 2, 20, 3, 25, 0, time.UTC)
	d := NewDecoder(Options{MaxPayload: 4096, FromAxis: func(saw string) bool { return strings.HasSuffix(saw, "axis") }})
	f.Fuzz(func(t *testing.T, topic string, payload []byte) {
		a := d.Decode(topic, payload, false, received)
		if (a.Reading == nil) == (a.Rejection == nil) {
			t.Fatalf("reading %v and rejection %v", a.Reading, a.Rejection)
		}
		again := d.Decode(topic, payload, false, received)
		if (again.Reading == nil) != (a.Reading == nil) || a.Rejection != nil && a.Rejection.Reason != again.Rejection.Reason {
			t.Fatal("a second reading differs from the first")
		}
		if a.Rejection != nil {
			soundRejection(t, a.Rejection, len(payload))
			return
		}
		soundReading(t, a.Reading, received)
	})
}

func soundRejection(t *testing.T, r *analyze.Rejection, size int) {
	line := func(r rune) bool { return !unicode.IsPrint(r) && r != ' ' }
	if r.Reason == "" || len(r.Reason) > 2000 || !utf8.ValidString(r.Reason) || strings.ContainsFunc(r.Reason, line) {
		t.Errorf("reason %q is no line for a person", r.Reason)
	}
	if r.Size != size || len(r.Payload) > 4096 {
		t.Errorf("size %d, kept %d, want %d, at most 4096", r.Size, len(r.Payload), size)
	}
}

func soundReading(t *testing.T, r *analyze.Reading, received time.Time) {
	if r.Saw == "" || strings.ContainsAny(r.Saw, "+#\x00") || r.ID == "" && r.Seq == nil {
		t.Errorf("identity %q %q %v", r.Saw, r.ID, r.Seq)
	}
	if r.At.Before(received.Add(-defaultOldest)) || r.At.After(received.Add(defaultAhead)) || r.At.Nanosecond()%1000 != 0 || r.At.Location() != time.UTC {
		t.Errorf("at %s", r.At)
	}
	bodies := 0
	for _, set := range []bool{r.Cut != nil, r.Blade != nil, r.State != nil, r.Alive != nil} {
		if set {
			bodies++
		}
	}
	if bodies != 1 {
		t.Errorf("%d bodies", bodies)
	}
	if r.Cut != nil {
		soundCut(t, r)
	}
}

func soundCut(t *testing.T, r *analyze.Reading) {
	c := r.Cut
	for name, v := range map[string]*float64{
		"seconds": c.Seconds, "square": c.Square, "height": c.Height, "band speed": c.BandSpeed,
		"feed": c.Feed, "limit": c.Limit, "area": c.Area(r.Kind), "travel": c.Travel(),
	} {
		if v != nil && (!(*v >= 0) || math.IsInf(*v, 0)) {
			t.Errorf("%s is %v", name, *v)
		}
	}
	if !(math.Abs(c.Mitre) < maxMitre) || c.Count < 1 || !(c.From >= 0 && c.From < 1) || c.Done != nil && *c.Done < c.From {
		t.Errorf("mitre %v, count %d, from %v, done %v", c.Mitre, c.Count, c.From, c.Done)
	}
	if strings.HasPrefix(c.Section, "{") {
		if _, err := section.FromJSON([]byte(c.Section), 1); err != nil {
			t.Errorf("kept section %s: %v", c.Section, err)
		}
	}
	if r.Kind != analyze.KindBreak && (c.Seconds == nil || c.Square == nil) {
		t.Errorf("seconds %v, square %v", c.Seconds, c.Square)
	}
}
