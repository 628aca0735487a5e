package shiftreport

import (
	"bytes"
	"encoding/xml"
	"errors"
	"io"
	"math"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"gullet/analyze/downtime"
	"gullet/cmd/gullet/internal/standing"
)

// seen is what a reader of the page finds.
type seen struct {
	words    string
	elements map[string]int
	drawings int // with a title and a description
}

// read reads a page as strict XML, which it is written to be too.
func read(t *testing.T, r *Report) (out seen) {
	t.Helper()
	content, err := HTML(r)
	if err != nil {
		t.Fatal(err)
	}
	d := xml.NewDecoder(bytes.NewReader(bytes.Replace(content, []byte("<!doctype html>"), nil, 1)))
	d.Entity = xml.HTMLEntity
	out.elements = map[string]int{}
	var within []string
	role, told := false, 0
	for {
		token, err := d.Token()
		if errors.Is(err, io.EOF) {
			return out
		}
		if err != nil {
			t.Fatal(err)
		}
		switch at := token.(type) {
		case xml.StartElement:
			out.elements[at.Name.Local]++
			within = append(within, at.Name.Local)
			for _, a := range at.Attr {
				if a.Name.Local == "src" || a.Name.Local == "href" || strings.HasPrefix(a.Name.Local, "on") {
					t.Errorf("%s has %s %q", at.Name.Local, a.Name.Local, a.Value)
				}
				if a.Name.Local == "role" && a.Value == "img" {
					role, told = true, 0
				}
			}
		case xml.EndElement:
			within = within[:len(within)-1]
			if at.Name.Local == "svg" && role {
				if role = false; told == 2 {
					out.drawings++
				}
			}
		case xml.CharData:
			out.words += string(at)
			if n := len(within); role && n > 1 && within[n-2] == "svg" && (within[n-1] == "title" || within[n-1] == "desc") && len(at) > 10 {
				told++
			}
		}
	}
}

func TestAPageIsWellFormedAndNamesEverySaw(t *testing.T) {
	odd := made(t, early(), "")
	odd.Saws[0].Saw = "</td><script>alert(1)</script>\x01"
	odd.Downtime.Pareto[0].Cause = `"><b>`
	for name, r := range map[string]*Report{
		"shift": made(t, early(), ""), "week": made(t, Week(monday), ""), "one saw": made(t, early(), "s4"), "odd names": odd,
		"nothing": made(t, Period{"late", monday.Add(-7), monday.Add(-7)}, ""),
	} {
		t.Run(name, func(t *testing.T) {
			page := read(t, r)
			if page.elements["script"] > 0 || page.elements["link"] > 0 || page.elements["img"] > 0 {
				t.Errorf("it is not alone: %v", page.elements)
			}
			drawn := 0
			for i := range r.Saws {
				s := &r.Saws[i]
				if !strings.Contains(page.words, strings.ReplaceAll(s.Saw, "\x01", "\ufffd")) {
					t.Errorf("saw %q is not named", s.Saw)
				}
				if !s.Off {
					drawn++
				}
			}
			if page.drawings != drawn {
				t.Errorf("%d drawings with a title and a description, want %d", page.drawings, drawn)
			}
		})
	}
}

// The bands of a saw are as wide as its minutes, one beside the other within the strip.
func TestStripsShowTheMinutes(t *testing.T) {
	for name, r := range map[string]*Report{"shift": made(t, early(), ""), "week": made(t, Week(monday), "")} {
		scale := stripWide / r.Ends.Sub(r.Begins).Minutes()
		if r.Kind == "week" {
			scale = dayWide / r.longestDay()
		}
		for i, s := range r.strips() {
			wide, end := map[string]float64{}, 0.0
			for _, b := range s.Bands {
				if b.X < end-0.2 || b.X+b.Wide > stripWide+0.2 {
					t.Errorf("%s: a band of %s from %g, %g wide, after %g", name, s.Saw, b.X, b.Wide, end)
				}
				end = b.X + b.Wide
				wide[b.Class] += b.Wide
			}
			m := r.Saws[i].Report.Minutes
			if r.Saws[i].Saw != s.Saw {
				m = r.Saws[i+1].Report.Minutes // s3 has no such shift
			}
			if r.Kind == "shift" { // handling between cuts is drawn as production
				wide[class(downtime.Production)] += wide[class(downtime.Setup)]
				m.Production += m.Setup
				m.Setup, wide[class(downtime.Setup)] = 0, 0
			}
			for _, e := range stacked {
				if want := scale * *m.Of(e); math.Abs(wide[class(e)]-want) > 1 {
					t.Errorf("%s, %s: %s is %g wide, want %g", name, s.Saw, e, wide[class(e)], want)
				}
			}
		}
	}
}

func TestWordsOverAStripDoNotMeet(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		begin := time.Date(2026, 3, 2, 12, 0, 0, 0, time.UTC)
		r := &Report{Kind: "shift", Begins: begin, Ends: begin.Add(8 * time.Hour)}
		var s Saw
		for at := begin; at.Before(r.Ends); {
			to := at.Add(time.Duration(rapid.IntRange(1, 90).Draw(t, "min")) * time.Minute)
			s.Line = append(s.Line, standing.Stretch{From: at, To: to, Element: rapid.SampledFrom(downtime.Elements()).Draw(t, "element"), Cause: "some-cause-of-length"})
			at = to
		}
		s.Line = clip(s.Line, begin, r.Ends)
		words := r.words(r.longest(&s))
		for i, l := range words {
			if l.from() < 0 || l.from()+l.wide() > stripWide+1 {
				t.Fatalf("%q from %g is beyond the strip", l.Text, l.from())
			}
			for _, other := range words[:i] {
				if l.from() < other.from()+other.wide() && other.from() < l.from()+l.wide() {
					t.Fatalf("%q meets %q", l.Text, other.Text)
				}
			}
		}
	})
}

// The hours are whole ones on the wall, also in a zone that is half an hour off, and
// have room for their names.
func TestHours(t *testing.T) {
	east := time.FixedZone("east", 5*3600+1800)
	for _, c := range []struct {
		begin time.Time
		long  time.Duration
		want  string
	}{
		{time.Date(2026, 3, 2, 6, 0, 0, 0, time.UTC), 4 * time.Hour, "06:00 07:00 08:00 09:00 10:00"},
		{time.Date(2026, 3, 2, 6, 30, 0, 0, east), 3 * time.Hour, "07:00 08:00 09:00"},
		{time.Date(2026, 3, 2, 18, 0, 0, 0, east), 24 * time.Hour, "18:00 20:00 22:00 00:00 02:00 04:00 06:00 08:00 10:00 12:00 14:00 16:00 18:00"},
	} {
		r := &Report{Kind: "shift", Begins: c.begin, Ends: c.begin.Add(c.long)}
		var got []string
		for _, h := range r.hours() {
			got = append(got, h.Text)
		}
		if text := strings.Join(got, " "); text != c.want {
			t.Errorf("from %s for %s: %s, want %s", c.begin, c.long, text, c.want)
		}
	}
}

// Clipped stretches lie within the shift, and lose no time that is in it.
func TestClip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		at := func(name string) time.Time {
			return time.Unix(rapid.Int64Range(0, 1000).Draw(t, name), 0).UTC()
		}
		from, to := at("from"), at("to")
		var list []standing.Stretch
		for begin, n := at("begin"), rapid.IntRange(0, 5).Draw(t, "n"); n > 0; n-- {
			end := begin.Add(time.Duration(rapid.Int64Range(1, 300).Draw(t, "long")) * time.Second)
			list = append(list, standing.Stretch{From: begin, To: end})
			begin = end
		}
		covered := func(list []standing.Stretch, second int64) bool {
			m := time.Unix(second, 0)
			for _, s := range list {
				if !m.Before(s.From) && m.Before(s.To) {
					return true
				}
			}
			return false
		}
		for second, got := int64(0), clip(list, from, to); second < 1000; second++ {
			want := second >= from.Unix() && second < to.Unix() && covered(list, second)
			if covered(got, second) != want {
				t.Fatalf("at %d: %v", second, !want)
			}
		}
	})
}
