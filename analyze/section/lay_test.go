package section

import (
	"math"
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
	"pgregory.net/rapid"

	"gullet/analyze"
)

func TestLays(t *testing.T) {
	got := map[Shape][]Lay{}
	for _, sh := range Shapes() {
		got[sh] = Lays(sh)
	}
	want := map[Shape][]Lay{
		Round: nil, RoundTube: nil, Weight: nil,
		Rect:     {"as-given", "turned", "on-corner"},
		RectTube: {"as-given", "turned"},
		Hex:      {"on-flat", "on-corner"},
		Angle:    {"heel", "legs-down", "tent", "vee"},
		Channel:  {"web-vertical", "toes-up", "toes-down"},
		Beam:     {"web-vertical", "web-horizontal"},
		Tee:      {"stem-up", "stem-down", "stem-horizontal"},
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("lays (-want +got):\n%s", diff)
	}
	if len(lengths) != len(Shapes()) {
		t.Errorf("%d shapes have lengths, %d are listed", len(lengths), len(Shapes()))
	}
}

// A lay moves the metal about and neither adds nor takes any.
func TestAreaIsTheSameInEveryLay(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := anySection(t)
		want := s.Area()
		for _, lay := range Lays(s.Shape) {
			if s.Lay = lay; s.Check() != nil {
				continue // a rectangle on its corner
			}
			if s.Area() != want {
				t.Errorf("%s: area %g, want %g", lay, s.Area(), want)
			}
		}
	})
}

// No lay given is the first one listed.
func TestDefaultLay(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s, p := anySection(t), anyPass(t)
		lays := Lays(s.Shape)
		if len(lays) == 0 {
			return
		}
		unsaid, first := s, s
		unsaid.Lay, first.Lay = "", lays[0]
		a, errA := unsaid.Contact(p)
		b, errB := first.Contact(p)
		if a != b || errA != nil || errB != nil {
			t.Errorf("%+v, %v, want %+v, %v", a, errA, b, errB)
		}
	})
}

func TestEveryLayOfAnotherShapeIsRefused(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := anySection(t)
		s.Lay = rapid.SampledFrom(slices.Concat(Lays(Rect), Lays(Hex), Lays(Angle), Lays(Channel), Lays(Tee), []Lay{WebHorizontal})).Draw(t, "any lay")
		allowed := slices.Contains(Lays(s.Shape), s.Lay)
		if s.Shape == Rect && s.Lay == OnCorner {
			allowed = s.Width == s.Height
		}
		if err := s.Check(); (err == nil) != allowed {
			t.Errorf("%s %s: %v, allowed %v", s.Shape, s.Lay, err, allowed)
		}
	})
}

// A vertical blade meets a bar as a horizontal one meets it on its side.
func TestVerticalBladeMeetsTheBarOnItsSide(t *testing.T) {
	for _, c := range []struct {
		shape       Shape
		lay, onSide Lay
	}{
		{Rect, AsGiven, Turned}, {RectTube, AsGiven, Turned}, {Hex, OnFlat, OnCorner},
		{Channel, WebVertical, ToesDown}, {Beam, WebVertical, WebHorizontal}, {Tee, StemUp, StemHorizontal},
	} {
		t.Run(string(c.shape), rapid.MakeCheck(func(t *rapid.T) {
			s := anyOf(t, c.shape)
			side := s
			s.Lay, side.Lay = c.lay, c.onSide
			if c.shape == Rect && s.Width == s.Height {
				return
			}
			a, errA := s.Contact(Pass{Count: 1, Saw: analyze.TiltingColumn})
			b, errB := side.Contact(Pass{Count: 1, Saw: analyze.SwivelFrame})
			if diff := cmp.Diff(a, b, cmpopts.EquateApprox(1e-12, 0)); diff != "" || errA != nil || errB != nil {
				t.Errorf("%v, %v:\n%s", errA, errB, diff)
			}
		}))
	}
}

// The angle stretches every contact by 1/cos and leaves the stroke alone.
func TestMitreStretchesTheContactAlone(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s, p := anySection(t), anyPass(t)
		slanted, err := s.Contact(p)
		if err != nil {
			t.Fatal(err)
		}
		factor := 1 / math.Cos(p.Mitre*math.Pi/180)
		p.Mitre = 0
		square, err := s.Contact(p)
		if err != nil {
			t.Fatal(err)
		}
		want := Contact{Min: square.Min * factor, Mean: square.Mean * factor, Max: square.Max * factor, Stroke: square.Stroke}
		if diff := cmp.Diff(want, slanted, cmpopts.EquateApprox(1e-9, 0)); diff != "" {
			t.Errorf("mitre (-want +got):\n%s", diff)
		}
	})
}
