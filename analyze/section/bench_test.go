package section

import (
	"testing"

	"gullet/analyze"
)

func BenchmarkParse(b *testing.B) {
	for _, in := range []string{"W12x26", "L4x4x1/2", "HSS4x4x1/4", "PIPE4STD", "RD6"} {
		b.Run(in[:2], func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				if _, err := Parse(in); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

func BenchmarkFromJSON(b *testing.B) {
	for name, in := range map[string]string{
		"round": `{"shape":"round","diameter":6}`,
		"beam":  `{"shape":"beam","depth":12.2,"flange_width":6.49,"flange_thickness":0.38,"web_thickness":0.23,"lay":"web-horizontal"}`,
	} {
		b.Run(name, func(b *testing.B) {
			data := []byte(in)
			b.ReportAllocs()
			for b.Loop() {
				if _, err := FromJSON(data, 1); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

func BenchmarkArea(b *testing.B) {
	s := Section{Shape: RectTube, Width: 6, Height: 4, Wall: 0.25}
	for b.Loop() {
		if s.Area() < 4 {
			b.Fatal("area too small")
		}
	}
}

func BenchmarkContact(b *testing.B) {
	s, err := Parse("W12x26")
	if err != nil {
		b.Fatal(err)
	}
	p := Pass{Mitre: 45, Count: 1, Saw: analyze.TiltingColumn}
	b.ReportAllocs()
	for b.Loop() {
		if _, err := s.Contact(p); err != nil {
			b.Fatal(err)
		}
	}
}
