package ingest

import (
	"bytes"
	"os"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/santhosh-tekuri/jsonschema/v6"

	"gullet/analyze"
	"gullet/analyze/section"
)

// schemas compiles the schema of every kind from the file that is shipped.
func schemas(t *testing.T) map[string]*jsonschema.Schema {
	t.Helper()
	file, err := os.ReadFile("../config/messages.schema.json")
	if err != nil {
		t.Fatal(err)
	}
	doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(file))
	if err != nil {
		t.Fatal(err)
	}
	c := jsonschema.NewCompiler()
	c.AssertFormat()
	if err := c.AddResource("messages.schema.json", doc); err != nil {
		t.Fatal(err)
	}
	kinds := map[string]*jsonschema.Schema{"": c.MustCompile("messages.schema.json")}
	for _, k := range analyze.Kinds() {
		kinds[string(k)] = c.MustCompile("messages.schema.json#/$defs/" + string(k))
	}
	return kinds
}

func fits(t *testing.T, s *jsonschema.Schema, payload string) error {
	t.Helper()
	v, err := jsonschema.UnmarshalJSON(strings.NewReader(payload))
	if err != nil {
		t.Fatalf("%s: %v", payload, err)
	}
	return s.Validate(v)
}

// examples pulls the examples of each kind from the document: the lines of the
// fenced blocks under the kind's heading.
func examples(t *testing.T) map[string][]string {
	t.Helper()
	found := map[string][]string{}
	kind, fenced := "", false
	for line := range strings.Lines(Messages) {
		line = strings.TrimSpace(line)
		switch {
		case strings.HasPrefix(line, "## "):
			kind, _, _ = strings.Cut(strings.TrimPrefix(line, "## "), ":")
		case strings.HasPrefix(line, "```"):
			fenced = !fenced
		case fenced:
			found[kind] = append(found[kind], line)
		}
	}
	return found
}

// Every example that people copy is accepted, and says what the schema says.
func TestExamplesAreAcceptedAndFitTheSchema(t *testing.T) {
	all, found := schemas(t), examples(t)
	d := NewDecoder(Options{})
	if len(found) != len(analyze.Kinds()) {
		t.Errorf("examples under %d headings, want one for each of %d kinds", len(found), len(analyze.Kinds()))
	}
	for _, k := range analyze.Kinds() {
		if len(found[string(k)]) == 0 {
			t.Errorf("no example of %s", k)
		}
		for _, e := range found[string(k)] {
			if err := fits(t, all[string(k)], e); err != nil {
				t.Errorf("%s %s: %v", k, e, err)
			}
			if err := fits(t, all[""], e); err != nil {
				t.Errorf("whole schema, %s: %v", e, err)
			}
			a := d.Decode("saws/s3/"+string(k), []byte(e), false, received)
			if a.Rejection != nil {
				t.Errorf("%s rejected: %s", e, a.Rejection.Reason)
			} else if a.Reading.Extra != nil {
				t.Errorf("%s has members the contract does not name: %s", e, a.Reading.Extra)
			}
		}
	}
}

// Decoder and schema agree on what is wrong, where a schema can say it.
func TestSchemaRejectsWhatTheDecoderRejects(t *testing.T) {
	all := schemas(t)
	for _, c := range badMessages() {
		if c.bare {
			continue
		}
		if err := fits(t, all[c.kind], c.payload); err == nil {
			t.Errorf("%s: the schema accepts %s", c.name, c.payload)
		}
	}
}

// Decoder and schema agree on what lies just inside the bounds.
func TestSchemaAndDecoderAcceptTheBounds(t *testing.T) {
	all := schemas(t)
	d := NewDecoder(Options{})
	for _, c := range []struct{ kind, payload string }{
		{"cut", with(`"seconds":107999.9,"area":1.77,"count":1000,"mitre":84.9,"from":0.999`)},
		{"cut", with(`"seconds":107999.9,"area":20000`)},
		{"cut", with(`"seconds":1e-3,"area":1e-3,"count":1.0,"mitre":-84.9,"from":0,"seq":9007199254740992`)},
		{"cut", with(`"units":"mm","seconds":240,"area":12903200,"band_speed":3048,"feed":12700,"deviation":-25.4,"pressure":100000`)},
		{"cut", with(`"units":"in","seconds":9,"area":7,"band_speed":10000,"feed":500,"deviation":1,"pressure":0`)},
		{"cut", sawn(`"grade":"","job":"` + strings.Repeat("é", 256) + `","blade":""`)},
		{"trip", sawn(`"deviation":0,"limit":1,"done":1`)},
		{"trip", sawn(`"units":"mm","deviation":25.4,"limit":25.4,"done":0`)},
		{"break", with(`"from":0.4,"done":0.4`)},
		{"alive", `{"id":"` + strings.Repeat("é", 64) + `","at":"2026-03-02T14:03:21.000000001+14:00","online":false}`},
		{"state", `{"seq":0,"at":"2026-03-02T14:03:21Z","state":"off","cause":"break-time"}`},
	} {
		if err := fits(t, all[c.kind], c.payload); err != nil {
			t.Errorf("schema: %s: %v", c.payload, err)
		}
		if a := d.Decode("saws/s3/"+c.kind, []byte(c.payload), false, received); a.Rejection != nil {
			t.Errorf("decoder: %s: %s", c.payload, a.Rejection.Reason)
		}
	}
}

// Every shape in every lay is accepted by the decoder and by the schema, and
// both are in the document.
func TestSchemaAndDecoderKnowEveryShape(t *testing.T) {
	all := schemas(t)
	d := NewDecoder(Options{})
	dimensions := map[section.Shape]string{
		section.Round: `"diameter":4`, section.Rect: `"width":4,"height":4`, section.Hex: `"flats":4`,
		section.RoundTube: `"diameter":4,"wall":0.25`, section.RectTube: `"width":4,"height":4,"wall":0.25,"outer_radius":0.5`,
		section.Angle: `"leg1":4,"leg2":3,"thickness":0.5`, section.Weight: `"per_ft":34,"density":0.29`,
	}
	for _, s := range []section.Shape{section.Channel, section.Beam, section.Tee} {
		dimensions[s] = `"depth":12,"flange_width":6,"flange_thickness":0.4,"web_thickness":0.25`
	}
	for _, shape := range section.Shapes() {
		lays := []string{""}
		for _, lay := range section.Lays(shape) {
			lays = append(lays, `,"lay":"`+string(lay)+`"`)
			if !strings.Contains(Messages, string(lay)) {
				t.Errorf("messages.md does not name lay %s", lay)
			}
		}
		if !strings.Contains(Messages, "\n    "+string(shape)+" ") {
			t.Errorf("messages.md does not name shape %s", shape)
		}
		for _, lay := range lays {
			payload := with(`"seconds":9,"section":{"shape":"` + string(shape) + `",` + dimensions[shape] + lay + `}`)
			if err := fits(t, all["cut"], payload); err != nil {
				t.Errorf("schema: %s: %v", payload, err)
			}
			if a := d.Decode("saws/s3/cut", []byte(payload), false, received); a.Rejection != nil {
				t.Errorf("decoder: %s: %s", payload, a.Rejection.Reason)
			}
		}
	}
}

// The document names what the decoder knows, and fits a terminal.
func TestMessagesNamesEverything(t *testing.T) {
	var words []string
	words = append(words, memberNames[:]...)
	for _, w := range causeWords {
		words = append(words, string(w))
	}
	for _, w := range reasonWords {
		words = append(words, string(w))
	}
	for _, w := range analyze.RejectCodes() {
		words = append(words, string(w))
	}
	words = append(words, "version "+ContractVersion)
	for _, w := range words {
		if !strings.Contains(Messages, w) {
			t.Errorf("messages.md does not name %s", w)
		}
	}
	for line := range strings.Lines(Messages) {
		if n := utf8.RuneCountInString(strings.TrimRight(line, "\n")); n > 80 && line[0] != '{' {
			t.Errorf("%d columns: %s", n, line)
		}
	}
}
