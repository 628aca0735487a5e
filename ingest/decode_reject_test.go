package ingest

import (
	"flag"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"gullet/analyze"
)

var update = flag.Bool("update", false, "write the golden files anew")

// badMessage breaks the contract in one way. bare means that the schema cannot
// see it: the topic, the syntax, the clock, and whatever needs a table or two
// members at once.
type badMessage struct {
	name    string
	topic   string // "" is saws/s3/ and the kind
	kind    string
	payload string
	code    analyze.RejectCode
	bare    bool
}

// with is a message of a kind that is right but for the members given.
func with(members string) string { return "{" + head + "," + members + "}" }

// sawn is a cut or trip that is right but for the members given.
func sawn(members string) string { return with(`"seconds":9,"area":7,` + members) }

func badMessages() []badMessage {
	const (
		topic, syntax, missing = analyze.RejectTopic, analyze.RejectJSON, analyze.RejectMissing
		kind, outside, section = analyze.RejectType, analyze.RejectRange, analyze.RejectSection
	)
	good := sawn(`"count":1`)
	return []badMessage{
		{"one level", "cut", "cut", good, topic, true},
		{"empty topic", "/", "cut", good, topic, true},
		{"empty saw", "saws//cut", "cut", good, topic, true},
		{"empty site level", "a//s3/cut", "cut", good, topic, true},
		{"leading slash", "/s3/cut", "cut", good, topic, true},
		{"wildcard saw", "saws/+/cut", "cut", good, topic, true},
		{"wildcard in a name", "saws/s#3/cut", "cut", good, topic, true},
		{"broker's own", "$SYS/s3/cut", "cut", good, topic, true},
		{"NUL in saw", "saws/s\x003/cut", "cut", good, topic, true},
		{"topic not UTF-8", "saws/s\xff/cut", "cut", good, topic, true},
		{"long saw", "saws/" + x(65) + "/cut", "cut", good, topic, true},
		{"long site", x(129) + "/s3/cut", "cut", good, topic, true},
		{"unknown kind", "saws/s3/cuts", "cut", good, topic, true},
		{"kind in capitals", "saws/s3/Cut", "cut", good, topic, true},

		{"oversize", "", "cut", with(`"note":"` + x(defaultMaxPayload) + `"`), analyze.RejectOversize, true},

		{"empty", "", "cut", "", syntax, true},
		{"array", "", "cut", `[1,2]`, syntax, true},
		{"null", "", "cut", `null`, syntax, true},
		{"NaN", "", "cut", sawn(`"deviation":NaN`), syntax, true},
		{"infinity", "", "cut", sawn(`"deviation":-Infinity`), syntax, true},
		{"single quotes", "", "cut", `{'id':'a'}`, syntax, true},
		{"cut short", "", "cut", `{"id":"a","at":"20`, syntax, true},
		{"two objects", "", "cut", good + "\n" + good, syntax, true},
		{"given twice", "", "cut", sawn(`"mitre":1,"mitre":2`), syntax, true},
		{"given twice inside", "", "cut", sawn(`"x":{"y":1,"y":2}`), syntax, true},
		{"payload not UTF-8", "", "cut", sawn("\"job\":\"\xc3\x28\""), syntax, true},
		{"half a surrogate", "", "cut", sawn(`"job":"\ud800"`), syntax, true},
		{"deep", "", "cut", sawn(`"x":` + strings.Repeat("[", 11) + strings.Repeat("]", 11)), syntax, true},
		{"very deep", "", "cut", sawn(`"x":` + strings.Repeat("[", 90_000) + strings.Repeat("]", 90_000)), syntax, true},

		{"nothing at all", "", "cut", `{}`, missing, false},
		{"no seconds", "", "cut", with(`"area":7`), missing, false},
		{"no section or area", "", "cut", with(`"seconds":9`), missing, false},
		{"name in capitals", "", "cut", with(`"Seconds":9,"area":7`), missing, false},
		{"no identity", "", "alive", `{"at":"2026-03-02T14:03:21Z","online":true}`, missing, false},
		{"trip without deviation", "", "trip", sawn(`"limit":0.05`), missing, false},
		{"trip without limit", "", "trip", sawn(`"deviation":0.05`), missing, false},
		{"blade without serial", "", "blade", with(`"action":"fit"`), missing, false},
		{"state without state", "", "state", with(`"cause":"setup"`), missing, false},
		{"alive without online", "", "alive", with(`"on":true`), missing, false},

		{"number as text", "", "cut", with(`"seconds":"212","area":7`), kind, false},
		{"null member", "", "cut", sawn(`"deviation":null`), kind, false},
		{"text as number", "", "cut", sawn(`"job":4471`), kind, false},
		{"half a bar", "", "cut", sawn(`"count":1.5`), kind, false},
		{"half a seq", "", "cut", sawn(`"seq":1.5`), kind, false},
		{"unknown purpose", "", "cut", sawn(`"purpose":"scrap"`), kind, false},
		{"unknown units", "", "cut", sawn(`"units":"cm"`), kind, false},
		{"unknown cause", "", "state", with(`"state":"stopped","cause":"lunch"`), kind, false},
		{"unknown place", "", "break", with(`"where":"tooth"`), kind, false},
		{"online as text", "", "alive", with(`"online":"yes"`), kind, false},
		{"control character", "", "cut", sawn(`"job":"a\u0007b"`), kind, false},
		{"line separator", "", "cut", sawn(`"job":"a\u2028b"`), kind, false},
		{"reason for fitting", "", "blade", with(`"action":"fit","blade":"B1","reason":"dull"`), kind, false},
		{"section as number", "", "cut", with(`"seconds":9,"section":6`), kind, false},
		{"time as number", "", "cut", `{"id":"a","at":1772481801,"seconds":9,"area":7}`, kind, false},
		{"time without offset", "", "cut", `{"id":"a","at":"2026-03-02T14:03:21","seconds":9,"area":7}`, kind, false},
		{"day without time", "", "cut", `{"id":"a","at":"2026-03-02","seconds":9,"area":7}`, kind, false},
		{"30 February", "", "cut", `{"id":"a","at":"2026-02-30T14:03:21Z","seconds":9,"area":7}`, kind, false},

		{"cut of 0 s", "", "cut", with(`"seconds":0,"area":7`), outside, false},
		{"cut of 30 h", "", "cut", with(`"seconds":108000,"area":7`), outside, false},
		{"face of many bars", "", "cut", with(`"seconds":9000,"area":7000,"count":1000,"mitre":84`), outside, true},
		{"faster than any band", "", "cut", with(`"seconds":0.001,"area":7`), outside, true},
		{"seq above 2^53", "", "cut", sawn(`"seq":9007199254740993`), outside, false},
		{"negative seconds", "", "cut", with(`"seconds":-4,"area":7`), outside, false},
		{"huge number", "", "cut", with(`"seconds":1e999,"area":7`), outside, false},
		{"deviation of 10 in", "", "cut", sawn(`"deviation":10`), outside, false},
		{"deviation in mm", "", "cut", sawn(`"units":"mm","deviation":-254`), outside, false},
		{"limit of 0", "", "trip", sawn(`"deviation":0.1,"limit":0`), outside, false},
		{"mitre of 85", "", "cut", sawn(`"mitre":85`), outside, true}, // the schema allows it from the axis
		{"mitre of -85", "", "cut", sawn(`"mitre":-85`), outside, false},
		{"no bars", "", "cut", sawn(`"count":0`), outside, false},
		{"too many bars", "", "cut", sawn(`"count":1001`), outside, false},
		{"band stands still", "", "cut", sawn(`"band_speed":0`), outside, false},
		{"feed", "", "cut", sawn(`"feed":501`), outside, false},
		{"pressure", "", "cut", sawn(`"pressure":-1`), outside, false},
		{"no area", "", "cut", with(`"seconds":9,"area":0`), outside, false},
		{"area in mm2", "", "cut", with(`"seconds":9,"units":"mm","area":12903201`), outside, false},
		{"all was cut before", "", "cut", sawn(`"from":1`), outside, false},
		{"more than done", "", "break", with(`"done":1.01`), outside, false},
		{"done less than from", "", "break", with(`"from":0.5,"done":0.4`), outside, true},
		{"negative seq", "", "cut", sawn(`"seq":-1`), outside, false},
		{"seq beyond doubles", "", "cut", sawn(`"seq":9007199254740994`), outside, false},
		{"empty id", "", "alive", `{"id":"","at":"2026-03-02T14:03:21Z","online":true}`, outside, false},
		{"long id", "", "alive", `{"id":"` + x(65) + `","at":"2026-03-02T14:03:21Z","online":true}`, outside, false},
		{"long job", "", "cut", sawn(`"job":"` + x(257) + `"`), outside, false},
		{"long serial", "", "cut", sawn(`"blade":"` + x(65) + `"`), outside, false},
		{"blank serial", "", "blade", with(`"action":"fit","blade":"  "`), outside, false},
		{"two years ago", "", "cut", `{"id":"a","at":"2024-03-02T14:03:21Z","seconds":9,"area":7}`, outside, true},
		{"a year ahead", "", "cut", `{"id":"a","at":"2027-03-02T14:03:21Z","seconds":9,"area":7}`, outside, true},

		{"designation with an escape sequence", "", "cut", with(`"seconds":9,"section":"QQ7\u001b[31m"`), kind, true},
		{"unreadable designation", "", "cut", with(`"seconds":9,"section":"Q12"`), section, true},
		{"empty designation", "", "cut", with(`"seconds":9,"section":""`), section, false},
		{"no such shape", "", "cut", with(`"seconds":9,"section":{"shape":"oval","width":3}`), section, false},
		{"dimension missing", "", "cut", with(`"seconds":9,"section":{"shape":"rect","width":3}`), section, false},
		{"dimension of another shape", "", "cut", with(`"seconds":9,"section":{"shape":"round","diameter":3,"wall":1}`), section, false},
		{"negative dimension", "", "cut", with(`"seconds":9,"section":{"shape":"round","diameter":-3}`), section, false},
		{"wall without a hole", "", "cut", with(`"seconds":9,"section":{"shape":"round-tube","diameter":3,"wall":2}`), section, true},
		{"area of another bar", "", "cut", with(`"seconds":9,"section":"W12x26","area":15.3`), section, true},
		{"area in another unit", "", "cut", with(`"seconds":9,"units":"mm","section":"W12x26","area":7.65`), section, true},
	}
}

// TestDecodeRejects holds the words a person reads about each broken rule in
// testdata/rejections.golden: one line of code and reason per case.
func TestDecodeRejects(t *testing.T) {
	d := NewDecoder(Options{})
	var got strings.Builder
	seen := map[analyze.RejectCode]bool{}
	for _, c := range badMessages() {
		topic := c.topic
		if topic == "" {
			topic = "saws/s3/" + c.kind
		}
		a := d.Decode(topic, []byte(c.payload), false, received)
		if a.Reading != nil || a.Rejection == nil {
			t.Errorf("%s: accepted", c.name)
			continue
		}
		if a.Rejection.Code != c.code {
			t.Errorf("%s: code %s, want %s (%s)", c.name, a.Rejection.Code, c.code, a.Rejection.Reason)
		}
		seen[a.Rejection.Code] = true
		got.WriteString(c.name + "\n    " + string(a.Rejection.Code) + " | " + a.Rejection.Reason + "\n")
	}
	axis := NewDecoder(Options{FromAxis: func(string) bool { return true }})
	a := axis.Decode("saws/s3/cut", []byte(sawn(`"mitre":0`)), false, received)
	got.WriteString("square by a saw that counts from the axis\n    " + string(a.Rejection.Code) + " | " + a.Rejection.Reason + "\n")

	for _, code := range analyze.RejectCodes() {
		atStore := code == analyze.RejectRetained || code == analyze.RejectReused
		if !seen[code] && !atStore {
			t.Errorf("no case for code %s", code)
		}
	}
	golden(t, "rejections.golden", got.String())
}

func golden(t *testing.T, name, got string) {
	t.Helper()
	path := filepath.Join("testdata", name)
	if *update {
		if err := os.WriteFile(path, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(strings.Split(string(want), "\n"), strings.Split(got, "\n")); diff != "" {
		t.Errorf("%s differs, refresh with -update once you have read it:\n%s", path, diff)
	}
}
