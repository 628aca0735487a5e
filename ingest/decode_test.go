package ingest

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"gullet/analyze"
	"gullet/analyze/section"
)

// received is a few seconds after the times the messages of these tests carry.
var received = time.Date(2026, 3, 2, 20, 3, 25, 0, time.UTC)

// head is what every message needs.
const head = `"id":"a","at":"2026-03-02T14:03:21-06:00"`

func accept(t *testing.T, topic, payload string, o Options) *analyze.Reading {
	t.Helper()
	a := NewDecoder(o).Decode(topic, []byte(payload), false, received)
	if a.Rejection != nil {
		t.Fatalf("%s rejected: %s", payload, a.Rejection.Reason)
	}
	return a.Reading
}

func ptr[T any](v T) *T { return &v }

var near = cmp.Comparer(func(a, b float64) bool { return math.Abs(a-b) <= 1e-12*math.Max(1, math.Abs(a)) })

func TestDecodeReadsEveryMemberOfACut(t *testing.T) {
	got := accept(t, "plant-2/saws/s3/cut", `{"id":"c1","seq":418,"at":"2026-03-02T14:03:21.1234567-06:00","units":"in",
		"seconds":147.2,"section":{"shape":"rect","width":4,"height":3},"area":12.1,"count":2,"mitre":-45,"grade":" A992 ",
		"band_speed":265,"feed":3.1,"pressure":410,"deviation":-0.004,"blade":"B0127","job":"J\u00e9-1","piece":"B12-3",
		"purpose":"trim","from":0.25,"coolant":{"ph": 8.9},"done":1}`, Options{})
	want := &analyze.Reading{
		Saw: "plant-2/saws/s3", Kind: analyze.KindCut, ID: "c1", Seq: ptr(int64(418)),
		At:       time.Date(2026, 3, 2, 20, 3, 21, 123456000, time.UTC), // µs: the rest is cut off
		Received: received,
		Cut: &analyze.Cut{
			Seconds: ptr(147.2), Section: `{"shape":"rect","width":4,"height":3}`, Square: ptr(12.0), Height: ptr(3.0),
			Count: 2, Mitre: -45, Grade: "A992", BandSpeed: ptr(265.0), Feed: ptr(3.1), Pressure: ptr(410.0),
			Deviation: ptr(-0.004), Serial: "B0127", Job: "Jé-1", Piece: "B12-3", Purpose: analyze.PurposeTrim, From: 0.25,
		},
		Extra: []byte(`{"coolant":{"ph":8.9},"done":1}`), // a finished cut knows no done
	}
	if diff := cmp.Diff(want, got, near); diff != "" {
		t.Error(diff)
	}
}

func TestDecodeReadsTheOtherKinds(t *testing.T) {
	cases := map[string]struct {
		kind, body string
		want       analyze.Reading
	}{
		"a trip knows limit and done": {"trip", `"seconds":88,"area":7.65,"deviation":0.051,"limit":0.05,"done":0.62`,
			analyze.Reading{Cut: &analyze.Cut{Seconds: ptr(88.0), Square: ptr(7.65), Count: 1, Deviation: ptr(0.051),
				Limit: ptr(0.05), Done: ptr(0.62), Purpose: analyze.PurposePart}}},
		"a break needs nothing": {"break", `"limit":0.05`,
			analyze.Reading{Cut: &analyze.Cut{Count: 1, Purpose: analyze.PurposePart, Where: analyze.PlaceUnknown}, Extra: []byte(`{"limit":0.05}`)}},
		"a break says where": {"break", `"where":"weld"`,
			analyze.Reading{Cut: &analyze.Cut{Count: 1, Purpose: analyze.PurposePart, Where: analyze.PlaceWeld}}},
		"a blade fitted": {"blade", `"action":"fit","blade":"B1 ","type":"3/4"`,
			analyze.Reading{Blade: &analyze.BladeChange{Action: analyze.ActionFit, Serial: "B1", Type: "3/4"}}},
		"a blade removed": {"blade", `"action":"remove","blade":"B1","reason":"broke-body"`,
			analyze.Reading{Blade: &analyze.BladeChange{Action: analyze.ActionRemove, Serial: "B1", Reason: analyze.ReasonBrokeBody}}},
		"a blade removed, nobody says why": {"blade", `"action":"remove","blade":"B1"`,
			analyze.Reading{Blade: &analyze.BladeChange{Action: analyze.ActionRemove, Serial: "B1", Reason: analyze.ReasonUnknown}}},
		"a state":            {"state", `"state":"idle"`, analyze.Reading{State: &analyze.StateChange{State: analyze.StateIdle}}},
		"a state with cause": {"state", `"state":"stopped","cause":"chips"`, analyze.Reading{State: &analyze.StateChange{State: analyze.StateStopped, Cause: "chips"}}},
		"a birth":            {"alive", `"online":true`, analyze.Reading{Alive: &analyze.Alive{Online: true}}},
		"a will":             {"alive", `"online":false`, analyze.Reading{Alive: &analyze.Alive{}}},
	}
	for name, c := range cases {
		t.Run(name, func(t *testing.T) {
			c.want.Saw, c.want.Kind, c.want.ID = "s3", analyze.Kind(c.kind), "a"
			c.want.At, c.want.Received = time.Date(2026, 3, 2, 20, 3, 21, 0, time.UTC), received
			got := accept(t, "saws/s3/"+c.kind, "{"+head+","+c.body+"}", Options{})
			if diff := cmp.Diff(&c.want, got, near); diff != "" {
				t.Error(diff)
			}
		})
	}
}

func TestDecodeConvertsMillimetres(t *testing.T) {
	got := accept(t, "saws/s3/trip", `{`+head+`,"units":"mm","seconds":95,"section":{"shape":"rect","width":50.8,"height": 25.4,"lay":"turned"},
		"area":1290.32,"band_speed":76.2,"feed":63.5,"pressure":400,"deviation":-1.27,"limit":1.016,"mitre":45}`, Options{}).Cut
	want := &analyze.Cut{
		Seconds: ptr(95.0), Section: got.Section, Square: ptr(2.0), Height: ptr(2.0), Count: 1, Mitre: 45,
		BandSpeed: ptr(250.0), Feed: ptr(2.5), Pressure: ptr(400.0), Deviation: ptr(-0.05), Limit: ptr(0.04), Purpose: analyze.PurposePart,
	}
	if diff := cmp.Diff(want, got, near); diff != "" {
		t.Error(diff)
	}
	// Whoever reads the kept section again need not know in what it was sent.
	again, err := section.FromJSON([]byte(got.Section), 1)
	if err != nil || again.Area() != *got.Square {
		t.Errorf("kept section %s: area %v, want %v (%v)", got.Section, again.Area(), *got.Square, err)
	}
	weight := accept(t, "saws/s3/cut", `{`+head+`,"units":"mm","seconds":95,"section":{"shape":"weight","per_ft":34,"density":0.29}}`, Options{}).Cut
	if want := `{"shape":"weight","per_ft":34,"density":0.29}`; weight.Section != want {
		t.Errorf("weight became %s, want %s", weight.Section, want)
	}
}

// A message in millimetres means what the same one in inches means.
func TestDecodeUnitsRoundTrip(t *testing.T) {
	d := NewDecoder(Options{})
	rapid.Check(t, func(t *rapid.T) {
		width := rapid.Float64Range(0.1, 60).Draw(t, "width")
		feed := rapid.Float64Range(0.01, 499).Draw(t, "feed")
		speed := rapid.Float64Range(1, 9999).Draw(t, "speed")
		deviation := rapid.Float64Range(-0.99, 0.99).Draw(t, "deviation")
		read := func(units string, length, perMinute float64) *analyze.Cut {
			p := fmt.Sprintf(`{%s,"units":%q,"seconds":9,"section":{"shape":"rect","width":%g,"height":%g},"feed":%g,"band_speed":%g,"deviation":%g}`,
				head, units, width*length, length, feed*length, speed*perMinute, deviation*length)
			a := d.Decode("saws/s3/cut", []byte(p), false, received)
			if a.Rejection != nil {
				t.Fatalf("%s: %s", p, a.Rejection.Reason)
			}
			a.Reading.Cut.Section = ""
			return a.Reading.Cut
		}
		if diff := cmp.Diff(read("in", 1, 1), read("mm", 25.4, 0.3048), near); diff != "" {
			t.Fatal(diff)
		}
	})
}

func TestDecodeSectionAndArea(t *testing.T) {
	cases := map[string]struct {
		members, section string
		square           float64
	}{
		// 2t(B+H-2t) less the corners; tables give 3.37 on the design wall (from memory: AISC).
		"the section counts, not the table's design wall": {`"section":"HSS4x4x1/4","area":3.37`, "HSS4X4X1/4", 2*0.25*7.5 - (4-math.Pi)*(0.25-0.0625)},
		"a designation in its canonical spelling":         {`"section":" w12 x 26 "`, "W12X26", 26 / 3.4},
		"an area alone": {`"area":7.5`, "", 7.5},
	}
	for name, c := range cases {
		t.Run(name, func(t *testing.T) {
			got := accept(t, "saws/s3/cut", `{`+head+`,"seconds":9,`+c.members+`}`, Options{}).Cut
			if !strings.EqualFold(got.Section, c.section) {
				t.Errorf("section %s, want %s", got.Section, c.section)
			}
			if math.Abs(*got.Square-c.square) > 1e-9 {
				t.Errorf("square area %v, want %v", *got.Square, c.square)
			}
		})
	}
}

func TestDecodeMitreFromAxis(t *testing.T) {
	axis := Options{FromAxis: func(saw string) bool { return saw == "s3" }}
	cases := []struct {
		topic, mitre string
		want         float64
		fromAxis     bool
	}{
		{"saws/s3/cut", `,"mitre":90`, 0, true},
		{"saws/s3/cut", `,"mitre":30`, 60, true},
		{"saws/s3/cut", `,"mitre":135`, -45, true},
		{"saws/s3/cut", ``, 0, false},
		{"saws/s4/cut", `,"mitre":30`, 30, false},
	}
	for _, c := range cases {
		got := accept(t, c.topic, `{`+head+`,"seconds":9,"area":7`+c.mitre+`}`, axis).Cut
		if got.Mitre != c.want || got.FromAxis != c.fromAxis {
			t.Errorf("%s%s: %v, from axis %v; want %v, %v", c.topic, c.mitre, got.Mitre, got.FromAxis, c.want, c.fromAxis)
		}
	}
}

func TestDecodeNamesTheSaw(t *testing.T) {
	for topic, want := range map[string]string{
		"saws/s3/cut":            "s3",
		"s3/cut":                 "s3",
		"plant-2/saws/s3/cut":    "plant-2/saws/s3",
		"plant-2/s3/cut":         "plant-2/s3",
		"saws/Säge 3/cut":        "Säge 3",
		"saws/" + x(64) + "/cut": x(64),
	} {
		if got := accept(t, topic, `{`+head+`,"seconds":9,"area":7}`, Options{}).Saw; got != want {
			t.Errorf("%s is saw %q, want %q", topic, got, want)
		}
	}
}

func TestDecodeMarksRetained(t *testing.T) {
	d := NewDecoder(Options{})
	for _, retained := range []bool{true, false} {
		if a := d.Decode("saws/s3/alive", []byte(`{`+head+`,"online":true}`), retained, received); a.Reading.Retained != retained {
			t.Errorf("reading: retained %v, want %v", a.Reading.Retained, retained)
		}
		if a := d.Decode("saws/s3/alive", nil, retained, received); a.Rejection.Retained != retained {
			t.Errorf("rejection: retained %v, want %v", a.Rejection.Retained, retained)
		}
	}
}

// What one message holds must not reach into the next, although the decoder
// and its buffers are used again.
func TestDecodeLeavesThePayloadAlone(t *testing.T) {
	d := NewDecoder(Options{})
	payload := []byte(`{` + head + `,"seconds":9,"section":"W12x26","job":"first","more":[1]}`)
	before := bytes.Clone(payload)
	rejection := d.Decode("saws/s3/none", payload, false, received).Rejection
	first := d.Decode("saws/s3/cut", payload, false, received).Reading
	if !bytes.Equal(payload, before) {
		t.Errorf("payload became %s", payload)
	}
	copy(payload, bytes.Repeat([]byte{'#'}, len(payload)))
	second := d.Decode("saws/s3/cut", []byte(`{`+head+`,"seconds":9,"section":"W12x26"}`), false, received).Reading
	if !bytes.Equal(rejection.Payload, before) {
		t.Errorf("rejection now holds %s", rejection.Payload)
	}
	if first.Cut.Job != "first" || string(first.Extra) != `{"more":[1]}` || second.Cut.Section != first.Cut.Section {
		t.Errorf("first reading now has job %q, extra %s, section %q", first.Cut.Job, first.Extra, first.Cut.Section)
	}
}

func TestDecodeKeepsTheHeadOfAnOversizeMessage(t *testing.T) {
	payload := []byte(`{"note":"` + strings.Repeat("x", 10<<20) + `"}`)
	r := NewDecoder(Options{}).Decode("saws/s3/cut", payload, false, received).Rejection
	if r == nil || r.Code != analyze.RejectOversize || r.Size != len(payload) || !bytes.Equal(r.Payload, payload[:headSize]) {
		t.Fatalf("rejection of 10 MB: %+v", r)
	}
	small := []byte(`{"note":1}`)
	r = NewDecoder(Options{}).Decode("saws/s3/cut", bytes.Clone(small), false, received).Rejection
	if r.Size != len(small) || !bytes.Equal(r.Payload, small) || r.Topic != "saws/s3/cut" || !r.Received.Equal(received) {
		t.Errorf("rejection of a small message: %+v", r)
	}
}

// The cache is bounded in number and in the length of what it keeps, and a
// spelling in millimetres is not the same in inches.
func TestDecodeSectionCache(t *testing.T) {
	d := NewDecoder(Options{})
	cut := func(units, section string) *analyze.Reading {
		return d.Decode("saws/s3/cut", []byte(`{`+head+`,"units":"`+units+`","seconds":90,"section":`+section+`}`), false, received).Reading
	}
	for i := range 3 * maxSections {
		cut("in", fmt.Sprintf(`{"shape":"round","diameter":%g}`, 1+float64(i)/1000))
	}
	if n := len(d.sections[0]); n == 0 || n > maxSections {
		t.Errorf("%d sections kept, want 1 to %d", n, maxSections)
	}
	kept := len(d.sections[0])
	cut("in", `{"shape":"round",`+strings.Repeat(" ", maxSpelling)+`"diameter":61}`)
	if len(d.sections[0]) != kept {
		t.Error("a long spelling was kept")
	}
	const round = `{"shape":"round","diameter":50}`
	for range 2 { // the second time from the cache
		in, mm := *cut("in", round).Cut.Square, *cut("mm", round).Cut.Square
		if math.Abs(in/mm-645.16) > 1e-9 {
			t.Errorf("50 in has %v in², 50 mm %v in²: ratio %v, want 645.16", in, mm, in/mm)
		}
	}
}

// Members nobody knows are kept as they were sent, whatever they are.
func TestDecodeKeepsUnknownMembers(t *testing.T) {
	d := NewDecoder(Options{})
	rapid.Check(t, func(t *rapid.T) {
		extra := rapid.MapOfN(rapid.StringMatching(`x[a-z"\\é ]{0,8}`), rapid.Float64Range(-1e9, 1e9), 1, 8).Draw(t, "extra")
		b, _ := json.Marshal(extra)
		a := d.Decode("saws/s3/alive", []byte(`{`+head+`,"online":true,`+string(b[1:])), false, received)
		if a.Rejection != nil {
			t.Fatal(a.Rejection.Reason)
		}
		var got map[string]float64
		if err := json.Unmarshal(a.Reading.Extra, &got); err != nil {
			t.Fatal(err)
		}
		if diff := cmp.Diff(extra, got); diff != "" {
			t.Fatal(diff)
		}
	})
}

func x(n int) string { return strings.Repeat("x", n) }
