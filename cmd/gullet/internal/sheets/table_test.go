package sheets

import (
	"strings"
	"testing"

	"pgregory.net/rapid"
)

func TestFormulasAreMadeHarmless(t *testing.T) {
	for text, want := range map[string]string{
		"": "", "s1": "s1", "1-1/4 x 0.042": "1-1/4 x 0.042", "=1+1": "'=1+1", "+1": "'+1", "-1": "'-1", "@x": "'@x",
		"\t=1": "'\t=1", "\n=1": "'\n=1", " =1": "' =1", "a=1": "a=1", "²": "²",
	} {
		if got := harmless(text); got != want {
			t.Errorf("%q became %q, want %q", text, got, want)
		}
	}
	rapid.Check(t, func(t *rapid.T) {
		text := rapid.String().Draw(t, "text")
		if got := harmless(text); strings.TrimPrefix(got, "'") != strings.TrimPrefix(text, "'") {
			t.Fatalf("%q became %q", text, got)
		}
	})
}

func TestRowsAreHighEnough(t *testing.T) {
	for _, c := range []struct {
		text  string
		width int
		want  int
	}{
		{"", 10, 1}, {"one", 10, 1}, {"one two", 7, 1}, {"one two", 6, 2}, {"one two three", 7, 2},
		{"abcdefghij", 10, 1}, {"abcdefghijk", 10, 2}, {"a abcdefghijk b", 10, 3},
	} {
		if got := lines(c.text, c.width); got != c.want {
			t.Errorf("%q takes %d lines of %d, want %d", c.text, got, c.width, c.want)
		}
	}
	long := &Table{Heads: []string{"Used in seven days (blades)", "Says"}, Forms: []Form{Tenth, Text}, Rows: [][]any{{4.2, strings.Repeat("long", 400)}}}
	if got := long.height(1); got != rowHighest {
		t.Errorf("a row is %v points high, want the most that is allowed", got)
	}
	if got := long.height(0); got != 4*lineHigh {
		t.Errorf("the heads are %v points high, want room for them", got)
	}
}
