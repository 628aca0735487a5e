package list

import (
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"strings"
	"testing"
	"testing/iotest"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"
)

// tooth is what stands in a line of the lists of these tests.
type tooth struct {
	Line   int
	Name   string
	Height float64
	Set    string
	Told   bool // whether a gap was
	Gap    float64
}

func readTooth(r *Row) tooth {
	t := tooth{Line: r.Line, Name: r.Text("name")}
	t.Height, _ = r.Number("height", true, "a number above 0", func(x float64) bool { return x > 0 })
	if r.Text("set") != "" {
		t.Set = r.OneOf("set", "left", "right")
	}
	t.Gap, t.Told = r.Number("gap", false, "a number, or nothing", func(float64) bool { return true })
	if t.Name == "none" {
		r.Fail("column %s: a tooth without a name stands for none", "name")
	}
	return t
}

func readTeeth(in io.Reader) (teeth []tooth, err error) {
	l, err := Open(in, "a.csv", "name", "height")
	if err != nil {
		return nil, err
	}
	err = l.Each("tooth", func(r *Row) { teeth = append(teeth, readTooth(r)) })
	return teeth, err
}

// one is the first line of a list.
func one(t *testing.T, text string) *Row {
	t.Helper()
	l, err := Open(strings.NewReader(text), "a.csv")
	if err != nil {
		t.Fatal(err)
	}
	r, err := l.Next()
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func TestRefuses(t *testing.T) {
	const doubled = ": a text with a comma or a quote stands in double quotes, quotes within it doubled"
	for _, c := range []struct{ name, text, want string }{
		{"nothing", "", "a.csv: the file is empty: allowed is a header line that names at least the columns name and height"},
		{"a byte order mark alone", "\ufeff", "a.csv: the file is empty: allowed is a header line that names at least the columns name and height"},
		{"blank lines alone", "\n\r\n\n", "a.csv: the file is empty: allowed is a header line that names at least the columns name and height"},
		{"a header alone", "name,height\n", "a.csv: no tooth stands below the header line"},
		{"a header and blank lines", "name,height\n\n\n", "a.csv: no tooth stands below the header line"},

		{"a required column missing", "name,set\na,left\n", `a.csv, line 1: the column height is missing; found "name", "set"`},
		{"the first of two missing", "set\nleft\n", `a.csv, line 1: the column name is missing; found "set"`},
		{"a column in another case", "name,Height\na,1\n", `a.csv, line 1: the column height is missing; found "name", "Height"`},
		{"semicolons", "name;height\na;1\n", `a.csv, line 1: the column name is missing; found "name;height"`},
		{"a byte order mark twice", "\ufeff\ufeffname,height\na,1\n", `a.csv, line 1: the column name is missing; found "\ufeffname", "height"`},
		{"a missing column below blank lines", "\n\nname,set\na,left\n", `a.csv, line 3: the column height is missing; found "name", "set"`},
		{"names that would break the line", "\"a\nb\",\x1b[2J\nx,y\n", `a.csv, line 1: the column name is missing; found "a\nb", "\x1b[2J"`},

		{"a required column twice", "name,height,name\na,1,b\n", "a.csv, line 1, column name: the column stands there twice, allowed is once"},
		{"a column twice but for spaces", "name,height, height \na,1,1\n", "a.csv, line 1, column height: the column stands there twice, allowed is once"},
		{"a column of no concern twice", "name,height,note,note\na,1,,\n", "a.csv, line 1, column note: the column stands there twice, allowed is once"},
		{"a column of two lines twice", "name,height,\"a\nb\",\"a\nb\"\na,1,,\n", `a.csv, line 1, column "a\nb": the column stands there twice, allowed is once`},
		{"a column twice below a blank line", "\nname,name\na,1\n", "a.csv, line 2, column name: the column stands there twice, allowed is once"},
		{"twice goes before missing", "name,name\na,1\n", "a.csv, line 1, column name: the column stands there twice, allowed is once"},

		{"a short line", "name,height,set\na,1,left\nb,1\n", "a.csv, line 3, found 2 fields, allowed is 3 as in the header line"},
		{"a line of one field", "name,height\na\n", "a.csv, line 2, found 1 field, allowed is 2 as in the header line"},
		{"a long line", "name,height\na,1\nb,1,left\n", "a.csv, line 3, found 3 fields, allowed is 2 as in the header line"},
		{"a comma at the end", "name,height\na,1,\n", "a.csv, line 2, found 3 fields, allowed is 2 as in the header line"},

		{"a quote within a field", "name,height\na\"b,1\n", `a.csv, line 2: bare " in non-quoted-field` + doubled},
		{"text behind a quote", "name,height\na,1\n\"a\"b,1\n", `a.csv, line 3: extraneous or missing " in quoted-field` + doubled},
		{"a quote left open", "name,height\n\"a,1\nb,1\n", `a.csv, line 3: extraneous or missing " in quoted-field` + doubled},
		{"a broken quote in the header", "name,\"height\"x\na,1\n", `a.csv, line 1: extraneous or missing " in quoted-field` + doubled},

		{"no number", "name,height\na,tall\n", `a.csv, line 2, column height: found "tall", allowed is a number above 0`},
		{"a required number not told", "name,height\na, \n", `a.csv, line 2, column height: found "", allowed is a number above 0`},
		{"a number that is not ok", "name,height\na,-0.5\n", `a.csv, line 2, column height: found "-0.5", allowed is a number above 0`},
		{"a number with a unit", "name,height\na,1 in\n", `a.csv, line 2, column height: found "1 in", allowed is a number above 0`},
		{"a decimal comma", "name,height\na,\"1,5\"\n", `a.csv, line 2, column height: found "1,5", allowed is a number above 0`},
		{"an optional number that is none", "name,height,gap\na,1,wide\n", `a.csv, line 2, column gap: found "wide", allowed is a number, or nothing`},
		{"none of the allowed texts", "name,height,set\na,1,Left\n", `a.csv, line 2, column set: found "Left", allowed is left or right`},
		{"what the reader fails", "name,height\na,1\nnone,1\n", "a.csv, line 3, column name: a tooth without a name stands for none"},

		{"the first mistake of a line", "name,height,set\nnone,x,y\n", `a.csv, line 2, column height: found "x", allowed is a number above 0`},
		{"the first mistake of a file", "name,height\na,0\nb,x\nc\n", `a.csv, line 2, column height: found "0", allowed is a number above 0`},
		{"a line below blank ones", "name,height\n\n\r\na,0\n", `a.csv, line 4, column height: found "0", allowed is a number above 0`},
		{"a line below quoted line breaks", "name,height\n\"a\n\nb\",1\na,0\n", `a.csv, line 5, column height: found "0", allowed is a number above 0`},
		{"a line with quoted line breaks", "name,height\n\"a\n\nb\",0\n", `a.csv, line 2, column height: found "0", allowed is a number above 0`},
		{"a line below line ends of another system", "name,height\r\na,1\r\nb,0\r\n", `a.csv, line 3, column height: found "0", allowed is a number above 0`},
		{"a field of 40 letters", "name,height\na," + strings.Repeat("ä", 40) + "\n", `a.csv, line 2, column height: found "` + strings.Repeat("ä", 40) + `", allowed is a number above 0`},
		{"a longer field is told by how it begins", "name,height\na," + strings.Repeat("ä", 39) + "bc\n", `a.csv, line 2, column height: found "` + strings.Repeat("ä", 39) + `b", allowed is a number above 0`},
		{"a field that would break the line", "name,height\na,\"1\n\x1b[2J\"\n", `a.csv, line 2, column height: found "1\n\x1b[2J", allowed is a number above 0`},
	} {
		t.Run(c.name, func(t *testing.T) {
			got, err := readTeeth(strings.NewReader(c.text))
			if err == nil {
				t.Fatalf("accepted: %+v", got)
			}
			if err.Error() != c.want {
				t.Errorf("error\n%s, want\n%s", err, c.want)
			}
		})
	}
}

func TestRefusesAnEmptyFileInTheNumberOfTheColumns(t *testing.T) {
	_, err := Open(strings.NewReader(""), "b.csv", "name")
	if want := "b.csv: the file is empty: allowed is a header line that names at least the column name"; err == nil || err.Error() != want {
		t.Errorf("error %v, want %s", err, want)
	}
}

func TestReads(t *testing.T) {
	a := []tooth{{Line: 2, Name: "a", Height: 0.25, Set: "left", Told: true, Gap: -1}, {Line: 3, Name: "b", Height: 1}}
	for _, c := range []struct {
		name, text string
		want       []tooth
	}{
		{"every column", "name,height,set,gap\na,0.25,left,-1\nb,1,,\n", a},
		{"any order", "gap,set,height,name\n-1,left,0.25,a\n,,1,b\n", a},
		{"columns nobody asks for, some without a name", "x,name,,height,set, ,gap,\nq,a,r,0.25,left,,-1,s\n,b,,1,,,,\n", a},
		{"spaces", " name , height,set ,gap\n a , 0.25 ,left , -1\nb ,1,  , \n", a},
		{"spaces before quotes", "name, \"height\",\t\"set\",gap\n \"a\", \"0.25\",left,-1\nb,1,,\n", a},
		{"a byte order mark", "\ufeffname,height,set,gap\na,0.25,left,-1\nb,1,,\n", a},
		{"a byte order mark before a quote", "\ufeff\"name\",\"height\",\"set\",\"gap\"\n\"a\",\"0.25\",\"left\",\"-1\"\n\"b\",\"1\",\"\",\"\"\n", a},
		{"line ends of another system", "name,height,set,gap\r\na,0.25,left,-1\r\nb,1,,\r\n", a},
		{"no line end at the end", "name,height,set,gap\na,0.25,left,-1\nb,1,,", a},
		{"blank lines at the end", "name,height,set,gap\na,0.25,left,-1\nb,1,,\n\n\r\n\n", a},
		{"numbers in any notation", "name,height,set,gap\na,25e-2,left,-1.0\nb,+1,,\n", a},
		{"a text not told", "name,height\na,1\n\"\",2\n", []tooth{{Line: 2, Name: "a", Height: 1}, {Line: 3, Height: 2}}},
		{"quotes, commas and line breaks in quotes", "name,height\n\"a \"\"b\"\", c\nd\",1\n", []tooth{{Line: 2, Name: "a \"b\", c\nd", Height: 1}}},
		{"blank lines between", "\n\nname,height\n\na,1\n\nb,2\n", []tooth{{Line: 5, Name: "a", Height: 1}, {Line: 7, Name: "b", Height: 2}}},
	} {
		t.Run(c.name, func(t *testing.T) {
			got, err := readTeeth(strings.NewReader(c.text))
			if diff := cmp.Diff(c.want, got); diff != "" || err != nil {
				t.Errorf("%v (-want +got):\n%s", err, diff)
			}
		})
	}
}

func TestOpenTellsTheColumns(t *testing.T) {
	l, err := Open(strings.NewReader("\n\ufeff a, b b,,c\n"), "a.csv")
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff([]string{"\ufeff a", "b b", "", "c"}, l.Names); diff != "" || l.File != "a.csv" || l.Line != 2 {
		t.Errorf("%s, line %d, names (-want +got):\n%s", l.File, l.Line, diff)
	}
	if want := `"\ufeff a", "b b", "", "c"`; l.Found() != want {
		t.Errorf("found %s, want %s", l.Found(), want)
	}
	for name, want := range map[string]bool{"b b": true, "c": true, "b": false, "C": false, "": false} {
		if l.Has(name) != want {
			t.Errorf("a column %q: %v, want %v", name, !want, want)
		}
	}
}

func TestNumberAtTheBounds(t *testing.T) {
	const size = "a number of a size from 1e-09 to 1e+12"
	for _, c := range []struct {
		text    string
		want    float64
		allowed string // "" where it is a number
	}{
		{"0", 0, ""},
		{"-0.0", 0, ""},
		{"1e-400", 0, ""}, // to a float that is 0
		{"1e-9", 1e-9, ""},
		{"-1e-9", -1e-9, ""},
		{"9.99e-10", 0, size},
		{"-9.99e-10", 0, size},
		{"5e-324", 0, size},
		{"1e12", 1e12, ""},
		{"-1e12", -1e12, ""},
		{"1000000000000.1", 0, size},
		{"-1.0001e12", 0, size},
		{"1e308", 0, size},
		{"1e999", 0, "any number"},
		{"Inf", 0, "any number"},
		{"-inf", 0, "any number"},
		{"NaN", 0, "any number"},
	} {
		t.Run(c.text, func(t *testing.T) {
			r := one(t, "x\n"+c.text+"\n")
			got, told := r.Number("x", true, "any number", func(float64) bool { return true })
			if got != c.want || told != (c.allowed == "") {
				t.Errorf("%v, told %v, want %v", got, told, c.want)
			}
			want := "<nil>"
			if c.allowed != "" {
				want = fmt.Sprintf("a.csv, line 2, column x: found %q, allowed is %s", c.text, c.allowed)
			}
			if fmt.Sprint(r.Err()) != want {
				t.Errorf("error %v, want %s", r.Err(), want)
			}
		})
	}
}

func TestAColumnThatIsNotThere(t *testing.T) {
	r := one(t, "x,\n1,2\n")
	for _, column := range []string{"y", ""} {
		if got := r.Text(column); got != "" {
			t.Errorf("column %q: %q, want nothing", column, got)
		}
	}
	if x, told := r.Number("y", false, "any number", func(float64) bool { return true }); x != 0 || told || r.Err() != nil {
		t.Errorf("%v, told %v, error %v, want no number and no error", x, told, r.Err())
	}
	r.Number("y", true, "any number", func(float64) bool { return true })
	if want := `a.csv, line 2, column y: found "", allowed is any number`; r.Err() == nil || r.Err().Error() != want {
		t.Errorf("error %v, want %s", r.Err(), want)
	}
}

func TestAColumnWhoseNameWouldBreakTheLine(t *testing.T) {
	r := one(t, "\"a\nb\"\n1\n")
	r.OneOf("a\nb", "0")
	if want := `a.csv, line 3, column "a\nb": found "1", allowed is 0`; r.Err() == nil || r.Err().Error() != want {
		t.Errorf("error %v, want %s", r.Err(), want)
	}
}

// A line may be asked, and refused, long after others were read.
func TestRowsAreKept(t *testing.T) {
	l, err := Open(strings.NewReader("x,y\na,b\nc,d\n"), "a.csv")
	if err != nil {
		t.Fatal(err)
	}
	first, err := l.Next()
	if err != nil {
		t.Fatal(err)
	}
	if _, err := l.Next(); err != nil {
		t.Fatal(err)
	}
	for range 2 {
		if r, err := l.Next(); r != nil || err != io.EOF {
			t.Errorf("at the end %v, %v, want io.EOF", r, err)
		}
	}
	if got := first.Text("x") + first.Text("y"); got != "ab" {
		t.Errorf("the first line became %q", got)
	}
	cause := errors.New("it was late")
	first.Fail("column %s: %w", "x", cause)
	first.Wrong("y", "b", "c")
	if want := "a.csv, line 2, column x: it was late"; !errors.Is(first.Err(), cause) || first.Err().Error() != want {
		t.Errorf("error %v, want %s", first.Err(), want)
	}
}

func TestEachStopsAtTheFirstMistake(t *testing.T) {
	l, err := Open(strings.NewReader("x\n1\n2\n3\n"), "a.csv")
	if err != nil {
		t.Fatal(err)
	}
	var seen []string
	err = l.Each("x", func(r *Row) {
		seen = append(seen, r.Text("x"))
		r.OneOf("x", "1", "3")
	})
	if want := `a.csv, line 3, column x: found "2", allowed is 1 or 3`; err == nil || err.Error() != want {
		t.Errorf("error %v, want %s", err, want)
	}
	if diff := cmp.Diff([]string{"1", "2"}, seen); diff != "" {
		t.Errorf("lines read (-want +got):\n%s", diff)
	}
}

func TestTellsAFailureToRead(t *testing.T) {
	broken := errors.New("the disk is gone")
	for _, before := range []string{"", "name,hei", "name,height\n", "name,height\na,1\nb,"} {
		_, err := readTeeth(io.MultiReader(strings.NewReader(before), iotest.ErrReader(broken)))
		if want := "read a.csv: the disk is gone"; !errors.Is(err, broken) || err.Error() != want {
			t.Errorf("after %q: error %v, want %s", before, err, want)
		}
	}
}

// A reader may give as little at a time as it likes.
func TestReadsByteByByte(t *testing.T) {
	got, err := readTeeth(iotest.OneByteReader(strings.NewReader("\ufeffname,height\nä,1\n")))
	if diff := cmp.Diff([]tooth{{Line: 2, Name: "ä", Height: 1}}, got); diff != "" || err != nil {
		t.Errorf("%v (-want +got):\n%s", err, diff)
	}
}

func TestShown(t *testing.T) {
	for name, want := range map[string]string{
		"area": "area", "area:mild steel": "area:mild steel", "Höhe in²": "Höhe in²", "": "",
		"a\nb": `"a\nb"`, "\x1b[2J": `"\x1b[2J"`, "\xff": `"\xff"`, "a\u00a0b": `"a\u00a0b"`, "\u202e": `"\u202e"`, `12"`: `"12\""`,
	} {
		if got := Shown(name); got != want {
			t.Errorf("%q shows as %s, want %s", name, got, want)
		}
	}
}

// What was written is read again, but for spaces around it, each on its line.
func TestReadsWhatWasWritten(t *testing.T) {
	field := rapid.StringMatching(`[a-c ,;"'\n0-9äµ-]{0,6}`)
	rapid.Check(t, func(t *rapid.T) {
		width := rapid.IntRange(1, 4).Draw(t, "columns")
		records := rapid.SliceOfN(rapid.SliceOfN(field, width, width), 1, 5).Draw(t, "lines")
		var b strings.Builder
		w := csv.NewWriter(&b)
		header := []string{"x0", "x1", "x2", "x3"}[:width]
		lines := make([]int, len(records))
		for i, record := range append([][]string{header}, records...) {
			if i > 0 {
				lines[i-1] = 1 + strings.Count(b.String(), "\n")
			}
			if width == 1 && record[0] == "" {
				record[0] = "-" // else the line would be empty
			}
			if err := w.Write(record); err != nil {
				t.Fatal(err)
			}
			w.Flush()
		}
		l, err := Open(strings.NewReader(b.String()), "a.csv", header...)
		if err != nil {
			t.Fatal(err)
		}
		n := 0
		err = l.Each("thing", func(r *Row) {
			if r.Line != lines[n] {
				t.Errorf("line %d, want %d, of\n%s", r.Line, lines[n], b.String())
			}
			for i, name := range header {
				if want := strings.TrimSpace(records[n][i]); r.Text(name) != want {
					t.Errorf("line %d, column %s: %q, want %q", r.Line, name, r.Text(name), want)
				}
			}
			n++
		})
		if err != nil || n != len(records) {
			t.Errorf("%d lines and error %v, want %d", n, err, len(records))
		}
	})
}

// FuzzRead: whatever is in the file, it is read, or refused in one line that names
// it.
func FuzzRead(f *testing.F) {
	for _, text := range []string{
		"name,height,set,gap\na,1,left,2\n", "\ufeffname,height\r\n\"a\nb\",1e-9\r\n", "name,height,\"a\nb\",\"a\nb\"\n",
		"name,height\n\"", "name,height\nx\n", "\n\nname,height,\xff\na,NaN,\x00\n", "name;height\n", "", "\ufeff",
	} {
		f.Add(text, "name")
		f.Add(text, "a\nb")
	}
	f.Fuzz(func(t *testing.T, text, column string) {
		l, err := Open(strings.NewReader(text), "a.csv", "name", "height")
		n := 0
		if err == nil {
			err = l.Each("tooth", func(r *Row) {
				n++
				if got := readTooth(r); r.Err() == nil && (got.Line <= l.Line || !(got.Height >= smallest && got.Height <= greatest)) {
					t.Errorf("accepted %+v", got)
				}
				r.OneOf(column, "", r.Text(column)) // is allowed
				if len(r.Text(column)) > 3 {
					r.Wrong(column, r.Text(column), "a short text")
				}
			})
		}
		switch {
		case err == nil && n == 0:
			t.Error("accepted without a line")
		case err != nil && (!strings.HasPrefix(err.Error(), "a.csv") || strings.ContainsAny(err.Error(), "\n\r\x1b")):
			t.Errorf("error %q, want one line that begins with the file", err)
		}
	})
}
