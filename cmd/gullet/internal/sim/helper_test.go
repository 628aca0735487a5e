package sim

import (
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"gullet/analyze"
)

func chicago(t testing.TB) *time.Location {
	t.Helper()
	z, err := time.LoadLocation("America/Chicago")
	if err != nil {
		t.Fatal(err)
	}
	return z
}

// options are sixty days from a Monday that hold the night of 8 March 2026, on
// which the clocks of the zone go forward.
func options(t testing.TB) Options {
	z := chicago(t)
	return Options{Seed: 1, Start: time.Date(2026, 1, 26, 0, 0, 0, 0, z), Days: 60, Zone: z}
}

// run drains a shop.
func run(s *Shop) []Line {
	var out []Line
	for l, ok := s.Next(); ok; l, ok = s.Next() {
		out = append(out, l)
	}
	return out
}

// said is a payload as a reader sees it, decoded apart from the type that
// wrote it.
type said struct {
	saw, kind string
	line      Line
	number    int // of the id, the order in which the saw made it; 0 for alive and stale

	ID        string          `json:"id"`
	Seq       *int64          `json:"seq"`
	At        time.Time       `json:"at"`
	Units     string          `json:"units"`
	Seconds   *float64        `json:"seconds"`
	Section   json.RawMessage `json:"section"`
	Count     *int            `json:"count"`
	Mitre     float64         `json:"mitre"`
	Grade     string          `json:"grade"`
	BandSpeed *float64        `json:"band_speed"`
	Deviation *float64        `json:"deviation"`
	Limit     *float64        `json:"limit"`
	Purpose   string          `json:"purpose"`
	From      float64         `json:"from"`
	Done      *float64        `json:"done"`
	Where     string          `json:"where"`
	Action    string          `json:"action"`
	Blade     string          `json:"blade"`
	Type      string          `json:"type"`
	Reason    string          `json:"reason"`
	State     string          `json:"state"`
	Cause     string          `json:"cause"`
	Online    *bool           `json:"online"`
}

// hear decodes a line and checks it against the message contract; the error is
// one of the Wrong words where the contract is broken.
func hear(l Line) (said, error) {
	p := strings.Split(l.Topic, "/")
	s := said{saw: p[1], kind: p[2], line: l}
	if err := json.Unmarshal(l.Payload, &s); err != nil {
		return s, errors.New(WrongJSON)
	}
	_, _ = fmt.Sscanf(s.ID, s.saw+"-%d", &s.number)
	switch k := analyze.Kind(s.kind); {
	case s.ID == "" && s.Seq == nil, s.At.IsZero():
		return s, errors.New("no identity or time")
	case l.Retain != (k == analyze.KindAlive):
		return s, errors.New(WrongRetained)
	case (k == analyze.KindCut || k == analyze.KindTrip) && (s.Seconds == nil || s.Section == nil):
		return s, errors.New(WrongMissing)
	case k == analyze.KindTrip && (s.Deviation == nil || s.Limit == nil),
		k == analyze.KindBlade && (s.Action == "" || s.Blade == ""),
		k == analyze.KindState && s.State == "",
		k == analyze.KindAlive && s.Online == nil:
		return s, errors.New("a required member is not there")
	case s.Mitre >= 85:
		return s, errors.New(WrongMitre)
	case s.Deviation != nil && math.Abs(*s.Deviation) > 1 && s.Units != "mm",
		s.Deviation != nil && math.Abs(*s.Deviation) > 25.4:
		return s, errors.New(WrongDeviation)
	}
	return s, nil
}

// published is the square area of what the shop's messages name, in in². The
// weights are those of the structural shape tables over 3.4, the HSS and pipe
// the formulas on the nominal wall worked out in the project's domain
// reference, sections 2.3 and 2.4; not taken from the package under test.
var published = map[string]float64{
	"W6x25": 25 / 3.4, "W8x31": 31 / 3.4, "W10x49": 49 / 3.4, "W12x26": 26 / 3.4, "W16x31": 31 / 3.4,
	"W18x50": 50 / 3.4, "W21x44": 44 / 3.4, "C8x11.5": 11.5 / 3.4, "C12x20.7": 20.7 / 3.4,
	"L4x4x1/2": 3.75, "L6x4x1/2": 4.75, "HSS4x4x1/4": 3.5890, "HSS8x8x3/8": 11.075, "HSS6x6x1/2": 10.356,
	"PIPE4STD": 3.1740, "RD2": math.Pi, "RD3": 7.0686, "RD4": 12.5664, "RD5": 19.6350, "RD6": 28.2743,
}

// square is the square area of one bar a message tells of, in in².
func square(t testing.TB, s said) float64 {
	t.Helper()
	var name string
	if json.Unmarshal(s.Section, &name) == nil {
		a, ok := published[name]
		if !ok {
			t.Fatalf("section %q is in no table", name)
		}
		return a
	}
	var o shape
	if err := json.Unmarshal(s.Section, &o); err != nil {
		t.Fatal(err)
	}
	unit := 1.0
	if s.Units == "mm" {
		unit = 25.4 * 25.4
	}
	switch o.Shape {
	case "round":
		return math.Pi * o.Diameter * o.Diameter / 4 / unit
	case "rect":
		return o.Width * o.Height / unit
	case "hex":
		return 0.866025 * o.Flats * o.Flats / unit
	case "rect-tube":
		return 4.5890 / unit // the only one: 6 x 4 x 1/4, domain reference 2.4
	}
	t.Fatalf("unknown shape %q", o.Shape)
	return 0
}

// told is the area a message tells of, in in², NaN when it does not tell its share.
func told(t testing.TB, s said) float64 {
	n := 1.0
	if s.Count != nil {
		n = float64(*s.Count)
	}
	to := 1.0
	if s.kind != "cut" {
		if s.Done == nil {
			return math.NaN()
		}
		to = *s.Done
	}
	return square(t, s) * n / math.Cos(s.Mitre*math.Pi/180) * (to - s.From)
}

// near reports whether a is within a share of b.
func near(a, b, share float64) bool { return math.Abs(a-b) <= share*math.Abs(b) }

// Names lists the saws there are.
func Names() []string {
	out := make([]string, len(models))
	for i, m := range models {
		out[i] = m.name
	}
	return out
}
