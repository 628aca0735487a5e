package planfile

import (
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	"pgregory.net/rapid"

	"gullet/cmd/gullet/internal/golden"
)

// property is one line of an iCalendar as this test reads it, apart from what writes
// it.
type property struct{ name, value string }

// unfolded joins continued lines, RFC 5545 section 3.1.
func unfolded(text string) []string {
	text = strings.ReplaceAll(strings.ReplaceAll(text, "\r\n ", ""), "\r\n\t", "")
	return strings.Split(strings.TrimSuffix(text, "\r\n"), "\r\n")
}

// unescaped reads a value of type TEXT, RFC 5545 section 3.3.11.
func unescaped(value string) string {
	var b strings.Builder
	for i := 0; i < len(value); i++ {
		if value[i] == '\\' && i+1 < len(value) {
			i++
			if value[i] == 'n' || value[i] == 'N' {
				b.WriteByte('\n')
				continue
			}
		}
		b.WriteByte(value[i])
	}
	return b.String()
}

// events reads a calendar and holds its lines to section 3.1.
func events(t *testing.T, content []byte) (list []map[string]string) {
	t.Helper()
	if !strings.HasSuffix(string(content), "\r\n") || strings.Count(string(content), "\n") != strings.Count(string(content), "\r\n") {
		t.Fatal("want every line to end in CR LF")
	}
	for line := range strings.SplitSeq(string(content), "\r\n") {
		if len(line) > 75 || !utf8.ValidString(line) {
			t.Fatalf("line %q of %d bytes, want at most 75 and whole letters", line, len(line))
		}
	}
	var open []string
	parts := 0
	for _, line := range unfolded(string(content)) {
		name, value, ok := strings.Cut(line, ":")
		p := property{name, value}
		switch {
		case !ok:
			t.Fatalf("%q is no property", line)
		case p.name == "BEGIN":
			open = append(open, p.value)
			if len(open) == 2 {
				parts++
			}
			if p.value == "VEVENT" {
				list = append(list, map[string]string{})
			}
		case p.name == "END":
			if len(open) == 0 || open[len(open)-1] != p.value {
				t.Fatalf("%s ends within %v", p.value, open)
			}
			open = open[:len(open)-1]
		case slices.Contains(open, "VEVENT"):
			if _, twice := list[len(list)-1][p.name]; twice {
				t.Fatalf("%s stands twice in an event", p.name)
			}
			list[len(list)-1][p.name] = unescaped(p.value)
		}
	}
	if len(open) > 0 || parts == 0 {
		t.Fatalf("%v never ends, %d parts: want each closed, and one part at least (section 3.6)", open, parts)
	}
	return list
}

func TestEveryChangeIsOneEvent(t *testing.T) {
	for name, p := range odd(t) {
		t.Run(name, func(t *testing.T) {
			list := events(t, ICS(p))
			changes := p.Changes()
			if len(list) != len(changes) {
				t.Fatalf("%d events, want the %d advised changes", len(list), len(changes))
			}
			for i, s := range changes {
				e := list[i]
				from, err := time.Parse("20060102T150405Z", e["DTSTART"])
				until, err2 := time.Parse("20060102T150405Z", e["DTEND"])
				if err != nil || err2 != nil || !from.Equal(s.Advise.At.Truncate(time.Minute)) || until.Sub(from) != p.Change {
					t.Errorf("from %s to %s, want %s for %s", e["DTSTART"], e["DTEND"], s.Advise.At, p.Change)
				}
				if e["DTSTAMP"] != "20260302T184020Z" {
					t.Errorf("stamped %s, want when the plan was made", e["DTSTAMP"])
				}
				for _, want := range []string{s.Advise.Reason, "zero energy", "gloves for a still band, never near a moving one", "coiled band", "no safety function", "Have on hand", "Window", "Odds"} {
					if !strings.Contains(e["DESCRIPTION"], want) {
						t.Errorf("the description does not say %q:\n%s", want, e["DESCRIPTION"])
					}
				}
			}
		})
	}
}

func TestNamesComeBackFromACalendar(t *testing.T) {
	for name, want := range map[string]string{
		`a,b;c\d"`: `a,b;c\d"`, "пила №3 🪚": "пила №3 🪚", "a\nb\r\nc\rd": "a\nb\nc\nd", "a\tb": "a\tb",
		"bell\a\x7f": "bell\ufffd\ufffd", "\xff": "\ufffd", `\n`: `\n`,
	} {
		if got := events(t, ICS(named(t, name)))[0]["LOCATION"]; got != want {
			t.Errorf("%q came back as %q, want %q", name, got, want)
		}
	}
}

// A calendar that takes in a later plan moves the event of a blade that is still on.
func TestAnEventMovesWithItsFitting(t *testing.T) {
	first := shop(t)
	before := events(t, ICS(first))
	first.Saws[1].Advise.At = ptr(first.Saws[1].Advise.At.Add(time.Hour))
	first.MadeAt = first.MadeAt.Add(time.Minute)
	after := events(t, ICS(first))
	for i := range before {
		was, _ := strconv.Atoi(before[i]["SEQUENCE"])
		is, _ := strconv.Atoi(after[i]["SEQUENCE"])
		if before[i]["UID"] != after[i]["UID"] || is <= was {
			t.Errorf("event %s of sequence %d became %s of %d, want the same and a higher one", before[i]["UID"], was, after[i]["UID"], is)
		}
	}
	if before[0]["UID"] == before[1]["UID"] {
		t.Error("two saws have the same event")
	}
	first.Saws[0].Fitting = ptr(int64(43))
	if renewed := events(t, ICS(first)); renewed[1]["UID"] == after[1]["UID"] {
		t.Error("the event of the next blade is that of the one before")
	}
}

// Examples of RFC 5545 (from memory): the long line of section 3.1, the text of
// section 3.3.11.
func TestExamplesOfTheStandard(t *testing.T) {
	folded := "DESCRIPTION:This is a lo\r\n ng description\r\n  that exists on a long line.\r\n"
	if got := unfolded(folded)[0]; got != "DESCRIPTION:This is a long description that exists on a long line." {
		t.Errorf("the reader of this test unfolds section 3.1 to %q", got)
	}
	text, value := "Project XYZ Final Review\nConference Room - 3B\nCome Prepared.", `Project XYZ Final Review\nConference Room - 3B\nCome Prepared.`
	if got := escape(text); got != value {
		t.Errorf("section 3.3.11: %q, want %q", got, value)
	}
	if got := unescaped(value); got != text {
		t.Errorf("the reader of this test reads section 3.3.11 as %q", got)
	}
}

func TestLinesAreFoldedAt75Bytes(t *testing.T) {
	for _, c := range []struct {
		what, line string
		want       []int // bytes of the lines
	}{
		{"75 bytes", strings.Repeat("a", 75), []int{75}},
		{"76 bytes", strings.Repeat("a", 76), []int{75, 2}},
		{"150 bytes", strings.Repeat("a", 150), []int{75, 75, 2}},
		{"a letter of two bytes across the fold", strings.Repeat("a", 74) + "²b", []int{74, 4}},
		{"a letter of four bytes across the fold", strings.Repeat("a", 72) + "🪚b", []int{72, 6}},
	} {
		var got []int
		for line := range strings.SplitSeq(strings.TrimSuffix(fold(c.line), "\r\n"), "\r\n") {
			got = append(got, len(line))
		}
		if !slices.Equal(got, c.want) {
			t.Errorf("%s: lines of %v bytes, want %v", c.what, got, c.want)
		}
	}
}

func TestFoldAndEscapeLoseNothing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		text := strings.ToValidUTF8(rapid.String().Draw(t, "text"), "\ufffd")
		value := escape(text)
		if strings.ContainsFunc(value, func(r rune) bool { return r < ' ' && r != '\t' || r == 0x7f }) {
			t.Fatalf("%q has a control character", value)
		}
		for line := range strings.SplitSeq(fold("X:"+value), "\r\n") {
			if len(line) > 75 || !utf8.ValidString(line) {
				t.Fatalf("line %q of %d bytes", line, len(line))
			}
		}
		if got := unfolded(fold("X:" + value)); len(got) != 1 || got[0] != "X:"+value {
			t.Fatalf("%q came back as %q", value, got)
		}
		want := strings.NewReplacer("\r\n", "\n", "\r", "\n").Replace(text)
		want = strings.Map(func(r rune) rune {
			if r < ' ' && r != '\t' && r != '\n' || r == 0x7f {
				return '\ufffd'
			}
			return r
		}, want)
		if got := unescaped(value); got != want {
			t.Fatalf("%q came back as %q, want %q", text, got, want)
		}
	})
}

func TestCalendarIsGolden(t *testing.T) {
	all := odd(t)
	golden.Check(t, "plan.ics", string(ICS(all["all"])))
	golden.Check(t, "empty.ics", string(ICS(all["no changes"])))
}
