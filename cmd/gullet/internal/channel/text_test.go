package channel

import (
	"fmt"
	"strings"
	"testing"
	"time"
	"unicode"

	"pgregory.net/rapid"

	"gullet/analyze/alert"
	"gullet/cmd/gullet/internal/golden"
)

const testCaution = "CAUTION: lock out by your site's procedure."

func newShop(t testing.TB) *Shop {
	zone, err := time.LoadLocation("America/Chicago")
	if err != nil {
		t.Fatal(err)
	}
	return &Shop{Zone: zone, Link: "http://gullet.shop.example/", Caution: testCaution}
}

func plain(t testing.TB) *Template {
	t.Helper()
	out, err := NewTemplate(newShop(t), "default", "")
	if err != nil {
		t.Fatal(err)
	}
	return out
}

func TestTexts(t *testing.T) {
	var b strings.Builder
	for _, m := range Samples() {
		text, err := plain(t).Text(&m)
		if err != nil {
			t.Fatal(err)
		}
		fmt.Fprintf(&b, "==== %s\n%s\n----\n%s", m.Key, text.Subject, text.Body)
	}
	golden.Check(t, "texts.txt", b.String())
}

func TestTheCautionGoesWithAdviceOnWhichSomebodyReachesForTheBand(t *testing.T) {
	for _, m := range Samples() {
		text, err := plain(t).Text(&m)
		if err != nil {
			t.Fatal(err)
		}
		risky := m.Digest != nil && m.Digest.Risky
		for _, item := range m.Items {
			risky = risky || item.Words.Risky && item.Phase != alert.PhaseCleared
		}
		if got := strings.HasSuffix(text.Body, testCaution+"\n"); got != risky {
			t.Errorf("%s: the caution is there: %v", m.Key, got)
		}
		if !risky && !strings.HasSuffix(text.Body, advice+"\n") {
			t.Errorf("%s: not said to be advice only:\n%s", m.Key, text.Body)
		}
	}
}

// Whatever words a condition has, its subject is one line, fit for a header.
func TestSubjectsAreOneLine(t *testing.T) {
	tmpl := plain(t)
	rapid.Check(t, func(t *rapid.T) {
		m := Samples()[0]
		words := rapid.StringOf(rapid.OneOf(rapid.Rune(), rapid.SampledFrom([]rune("\r\n\x00\x7f\u2028{{"))))
		m.Items[0].Words.What, m.Items[0].Key.Saw, m.Items[0].Words.Blade = words.Draw(t, "what"), words.Draw(t, "saw"), words.Draw(t, "blade")
		text, err := tmpl.Text(&m)
		if err != nil {
			t.Fatal(err)
		}
		if strings.ContainsFunc(text.Subject, unicode.IsControl) || strings.ContainsAny(text.Subject, "\u2028\u2029") {
			t.Fatalf("subject %q", text.Subject)
		}
	})
}

func TestAShopsOwnWordsNeverLeaveTheCautionOut(t *testing.T) {
	own, err := NewTemplate(newShop(t), "own.tmpl", `{{define "text"}}{{.Count}}{{end}}`)
	if err != nil {
		t.Fatal(err)
	}
	text, err := own.Text(&Samples()[0])
	if err != nil || !strings.HasSuffix(text.Body, "\n"+testCaution+"\n") || strings.Count(text.Body, testCaution) != 1 {
		t.Errorf("%q, %v", text.Body, err)
	}
}

func TestAShopsOwnTemplate(t *testing.T) {
	for _, c := range []struct{ name, file, want string }{
		{"a text of its own", `{{define "text"}}{{range .Lines}}{{.Where}}{{.Words.What}}{{end}}{{end}}`, ""},
		{"a body of its own", `{{define "body"}}{"msg": {{json .Count}}, "n": {{len .Lines}}, "note": {{json .Caution}}}{{end}}`, ""},
		{"a body without the caution", `{{define "body"}}{"msg": {{json .Count}}}{{end}}`, `leaves out the caution; put {{json .Caution}}`},
		{"broken", `{{define "text"}}{{if}}{{end}}`, `own.tmpl:1: missing value for if`},
		{"no such field", `{{define "text"}}a{{range .Lines}}{{.Blad}}{{end}}{{end}}`, `can't evaluate field Blad in type channel.Line (with a sample of change-window raised)`},
		{"fails on a digest only", `{{define "subject"}}{{if .Digest}}{{.Nope}}{{end}}{{end}}`, `own.tmpl:1:36`},
		{"no JSON", `{{define "body"}}{"msg": {{.Count}}}{{end}}`, `template "body" does not make valid JSON`},
		{"a function that there is not", `{{define "text"}}{{upper .Count}}{{end}}`, `function "upper" not defined`},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := NewTemplate(newShop(t), "own.tmpl", c.file)
			switch {
			case c.want == "" && err != nil, c.want != "" && err == nil:
				t.Fatalf("error %v", err)
			case err != nil && (!strings.Contains(err.Error(), c.want) || strings.Contains(err.Error(), "\n")):
				t.Errorf("error %q, want %q in one line", err, c.want)
			}
		})
	}
}
