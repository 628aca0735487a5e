package channel

import (
	_ "embed"
	"encoding/json"
	"errors"
	"fmt"
	"regexp"
	"strings"
	"text/template"
	"time"

	"gullet/analyze/alert"
)

//go:embed default.tmpl
var defaultText string

// Template says how messages are written.
type Template struct {
	shop *Shop
	t    *template.Template
	body bool // the shop has a body of its own
}

// Text is a message as people read it.
type Text struct {
	Subject string // one line
	Body    string
	Caution string // that it ends with
}

// NewTemplate reads a shop's own templates, "" for none, over Gullet's, and tries them
// on every kind of condition and message. The error says in one line what is wrong where.
func NewTemplate(shop *Shop, name, own string) (*Template, error) {
	t := template.New(name).Funcs(template.FuncMap{
		"json": func(v any) (string, error) { b, err := json.Marshal(v); return string(b), err },
		"inc":  func(i int) int { return i + 1 },
		"list": func(title string, lines []string) struct {
			Title string
			Lines []string
		} {
			return struct {
				Title string
				Lines []string
			}{title, lines}
		},
		"plural": func(n int, one, many string) string {
			if n == 1 {
				return one
			}
			return many
		},
	}).Option("missingkey=error")
	t = template.Must(t.Parse(defaultText))
	if own != "" {
		if _, err := t.Parse(own); err != nil {
			return nil, errors.New(oneLine(err.Error()))
		}
	}
	out := &Template{shop: shop, t: t, body: t.Lookup("body") != nil}
	return out, out.try()
}

// Text writes a message for people.
func (t *Template) Text(m *alert.Message) (Text, error) {
	view := t.shop.view(m)
	subject, err := t.run("subject", view)
	if err != nil {
		return Text{}, err
	}
	text, err := t.run("text", view)
	text = strings.TrimSpace(text)
	if !strings.HasSuffix(text, view.Caution) { // a shop's own words do not leave it out
		text += "\n" + view.Caution
	}
	return Text{Subject: oneLine(subject), Body: text + "\n", Caution: view.Caution}, err
}

// JSON writes a message in the shop's own body; nil where it has none.
func (t *Template) JSON(m *alert.Message) ([]byte, error) {
	if !t.body {
		return nil, nil
	}
	view := t.shop.view(m)
	text, err := t.run("body", view)
	if err != nil {
		return nil, err
	}
	if !json.Valid([]byte(text)) {
		return nil, errors.New(`template "body" does not make valid JSON; quote texts with the function json, as {{json .Count}}`)
	}
	quoted, err := json.Marshal(view.Caution)
	if err == nil && !strings.Contains(text, string(quoted[1:len(quoted)-1])) {
		err = errors.New(`template "body" leaves out the caution; put {{json .Caution}} where people read it`)
	}
	return []byte(text), err
}

func (t *Template) run(name string, v *View) (string, error) {
	var b strings.Builder
	if err := t.t.ExecuteTemplate(&b, name, v); err != nil {
		return "", errors.New(oneLine(err.Error()))
	}
	return b.String(), nil
}

// try writes a sample of everything that can be told.
func (t *Template) try() error {
	for _, m := range Samples() {
		_, err := t.Text(&m)
		if err == nil {
			_, err = t.JSON(&m)
		}
		if err != nil {
			return fmt.Errorf("%s (with a sample of %s)", regexp.MustCompile(`^template: `).ReplaceAllString(err.Error(), ""), m.Key)
		}
	}
	return nil
}

// Samples are messages of an invented shop: each kind of condition in each phase, many at
// once, what awaits a shift, and a test. Their keys say what they are.
func Samples() []alert.Message {
	at := time.Date(2026, 3, 3, 20, 5, 0, 0, time.UTC)
	message := func(key string, items ...alert.Item) alert.Message {
		m := alert.Message{ID: 1, Channel: "office", Key: key, At: at, Expires: at.Add(12 * time.Hour), Items: items, Standing: map[string]int{"severe": 1, "warning": 2, "notice": 0}}
		for i := range items {
			m.Severity = max(m.Severity, items[i].Severity)
		}
		if len(items) == 1 {
			m.Thread = fmt.Sprint(items[0].Condition)
		}
		return m
	}
	var list []alert.Message
	var all []alert.Item
	for i, s := range alert.Specs() {
		item := alert.Item{
			Condition: int64(17 + i), Version: 1, Phase: alert.PhaseRaised, Key: alert.Key{Kind: s.Kind}, Severity: s.Rule.Severity,
			Since: at.Add(-20 * time.Minute), Raised: at.Add(-time.Minute), Level: s.Rule.Raise, Unit: s.Unit,
			Words:  alert.Words{What: "a sample of " + string(s.Kind), Sure: "by 12 cuts of this blade", Check: []string{"the guides", "the band tension"}, Path: "messages"},
			Reason: fmt.Sprintf("%s: %g, raised by its rule", s.Unit, s.Rule.Raise),
		}
		if s.Saw {
			item.Key.Saw, item.Key.Of, item.Words.Blade = "s2", "B-0417", "B-0417"
			item.Words.Advice, item.Words.Risky = "Advised change: before job 5512. Spare of this type on the shelf: 2.", true
		}
		all = append(all, item)
		for _, phase := range []alert.Phase{alert.PhaseRaised, alert.PhaseUpdated, alert.PhaseCleared} {
			item.Phase = phase
			if phase == alert.PhaseCleared {
				item.Cleared = at
			}
			list = append(list, message(string(s.Kind)+" "+string(phase), item))
		}
	}
	escalated := all[0]
	escalated.Escalated = true
	digest := message("digest")
	digest.Digest = &alert.Digest{
		Shift: "late", Start: at.Add(-5 * time.Minute), End: at.Add(8 * time.Hour), Risky: true,
		Changes: []string{"s2 · blade B-0417 · before job 5512, window 16:10-19:40"}, Spares: []string{"1-1/4 x 0.042 3/4 bimetal: 2 on the shelf"},
		Downtime: []string{"5 saws stood 412 of 4,200 min of their shifts", "most for out-of-stock: 160 min in 4 stops", "not explained: 35 min in 2 stops"},
	}
	empty := message("digest of nothing")
	empty.Digest = &alert.Digest{Shift: "early", Start: at, End: at.Add(8 * time.Hour)}
	test := message("test")
	test.Test = true
	return append(list, message("escalated", escalated), message("several at once", all[:4]...), message("many at once", append(all, all...)...), digest, empty, test)
}
