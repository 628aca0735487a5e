package section

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"maps"
	"math"
	"slices"
	"strconv"
	"strings"
)

// members are the parts of a JSON object not yet read. Whoever reads one takes
// it out, so what is left at the end is what nobody knows. Names are compared
// exactly, unlike when decoding into a struct, where "Diameter" would pass. A
// name that comes twice counts as its last, as encoding/json has it.
type members map[string]json.RawMessage

// FromJSON reads a section from an object as the message contract has it, such
// as {"shape":"round","diameter":6}. Lengths are multiplied by inchesPerUnit
// (1, or 1/25.4 for millimetres); per_ft and density are not. The lay is
// filled in when it is not given.
//
// An object with a member its shape does not have, without one it needs, or
// that fails Check gives an error of one line that says what is allowed.
func FromJSON(data []byte, inchesPerUnit float64) (Section, error) {
	if !(inchesPerUnit > 0) || math.IsInf(inchesPerUnit, 0) {
		return Section{}, fmt.Errorf("section: %g inches per unit, allowed is a number above 0", inchesPerUnit)
	}
	m, err := readObject(data)
	if err != nil {
		return Section{}, fmt.Errorf("section: %w", err)
	}
	s, err := m.section(inchesPerUnit)
	if err == nil {
		err = s.Check()
	}
	if err != nil {
		return Section{}, fmt.Errorf("section: %w", err)
	}
	return s.withLay(), nil
}

// readObject splits one JSON object into its members. Whatever is nested in
// them stays unread, and the decoder bounds its own depth.
func readObject(data []byte) (members, error) {
	if head := bytes.TrimLeft(data, " \t\r\n"); len(head) == 0 || head[0] != '{' {
		return nil, errors.New(`not a JSON object, allowed is one such as {"shape":"round","diameter":6}`)
	}
	var m members
	if err := json.Unmarshal(data, &m); err != nil {
		return nil, fmt.Errorf("not valid JSON: %w", err)
	}
	return m, nil
}

// section takes every member the shape has and refuses what is left over.
func (m members) section(inchesPerUnit float64) (Section, error) {
	var s Section
	shape, err := m.word("shape")
	if err != nil {
		return s, err
	}
	s.Shape = Shape(shape)
	dims, ok := lengths[s.Shape]
	if !ok {
		return s, s.Check()
	}
	for _, d := range dims {
		if err := m.number(s.Shape, d.name, inchesPerUnit, d.of(&s)); err != nil {
			return s, err
		}
	}
	if err := m.others(&s, inchesPerUnit); err != nil {
		return s, err
	}
	if len(m) > 0 {
		extra := slices.Min(slices.Collect(maps.Keys(m)))
		return s, fmt.Errorf("%s: member %.40q is not known, allowed are %s", s.Shape, extra, memberNames(s.Shape))
	}
	return s, nil
}

// others takes the members that only some shapes have or that may be missing.
func (m members) others(s *Section, inchesPerUnit float64) error {
	if _, given := m["outer_radius"]; given && s.Shape == RectTube {
		s.OuterRadius = new(float64)
		if err := m.number(s.Shape, "outer_radius", inchesPerUnit, s.OuterRadius); err != nil {
			return err
		}
	}
	if s.Shape == Weight {
		if err := m.number(s.Shape, "per_ft", 1, &s.PerFt); err != nil {
			return err
		}
		if err := m.density(s); err != nil {
			return err
		}
	}
	if _, given := m["lay"]; !given {
		return nil
	}
	lay, err := m.word("lay")
	if err == nil && lay == "" {
		err = fmt.Errorf("%s: lay is empty, leave it out for the default", s.Shape)
	}
	s.Lay = Lay(lay)
	return err
}

// density takes the density of a weight. Zero means steel inside a Section, so
// a zero that was sent is refused here.
func (m members) density(s *Section) error {
	if _, given := m["density"]; !given {
		return nil
	}
	if err := m.number(s.Shape, "density", 1, &s.Density); err != nil {
		return err
	}
	if s.Density == 0 {
		return fmt.Errorf("%s: density is 0, allowed is %g to %g lb/in³", s.Shape, minDensity, maxDensity)
	}
	return nil
}

// number moves one number out of the object, times scale. A null is not a
// number: a sender that has none leaves the member out.
func (m members) number(sh Shape, name string, scale float64, to *float64) error {
	raw, given := m[name]
	if !given {
		return fmt.Errorf("%s: %s is missing, it needs %s", sh, name, neededNames(sh))
	}
	delete(m, name)
	v, err := strconv.ParseFloat(string(raw), 64)
	// ParseFloat takes more than JSON does, such as inf, but raw is valid JSON.
	if err != nil {
		return fmt.Errorf("%s: %s is %.40q, allowed is a number", sh, name, raw)
	}
	*to = v * scale
	return nil
}

// word moves one string out of the object. Only the shape may not be missing;
// the lay is asked for when it is there.
func (m members) word(name string) (string, error) {
	raw, given := m[name]
	if !given {
		return "", fmt.Errorf("%s is missing, allowed are %s", name, list(Shapes()))
	}
	delete(m, name)
	var w string
	if raw[0] != '"' || json.Unmarshal(raw, &w) != nil {
		return "", fmt.Errorf("%s is %.40q, allowed is a word in quotes", name, raw)
	}
	return w, nil
}

// neededNames lists the members a shape cannot be without.
func neededNames(sh Shape) string {
	if sh == Weight {
		return "per_ft"
	}
	var names []string
	for _, d := range lengths[sh] {
		names = append(names, d.name)
	}
	return strings.Join(names, ", ")
}

// memberNames lists the members an object of the shape may have.
func memberNames(sh Shape) string {
	names := "shape, " + neededNames(sh)
	switch sh {
	case RectTube:
		names += ", outer_radius"
	case Weight:
		names += ", density"
	}
	if len(Lays(sh)) > 0 {
		names += ", lay"
	}
	return names
}
