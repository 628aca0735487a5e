package ingest

import (
	"bytes"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"

	"github.com/go-json-experiment/json/jsontext"

	"gullet/analyze"
	"gullet/analyze/section"
)

// sized is what a cut needs of a section.
type sized struct {
	name   string  // canonical designation, or the object in inches
	square float64 // in²
	height float64 // in, 0 when not known
}

// sectionCache remembers sections by their spelling, in inches and in
// millimetres. It starts again when it is full: a shop has far fewer, and a
// sender with endless ones gains nothing from it.
type sectionCache [2]map[string]sized

const (
	maxSections = 1024 // of each unit
	maxSpelling = 256  // bytes of a spelling worth keeping
)

func (c *sectionCache) get(mm bool, spelling string) (sized, bool) {
	s, ok := c[index(mm)][spelling]
	return s, ok
}

func (c *sectionCache) put(mm bool, spelling string, s sized) {
	if len(spelling) > maxSpelling {
		return
	}
	m := &c[index(mm)]
	if *m == nil || len(*m) >= maxSections {
		*m = map[string]sized{}
	}
	// The spelling is a part of a whole message, which must not stay with it.
	(*m)[strings.Clone(spelling)] = s
}

func index(mm bool) int {
	if mm {
		return 1
	}
	return 0
}

// section reads the section, nil when there is none or it is refused.
func (m *message) section() *sized {
	spelling := m.values[memSection]
	if spelling == "" {
		return nil
	}
	if s, ok := m.decoder.sections.get(m.mm, spelling); ok {
		return &s
	}
	var s sized
	var err error
	switch spelling[0] {
	case '"':
		s, err = fromDesignation(m.text(memSection, maxText))
	case '{':
		s, err = fromObject(spelling, m.scale(lengths))
	default:
		m.refuse(analyze.RejectType, "section is %s, must be a designation like W12x26 or an object with a shape", show(spelling))
	}
	if err != nil {
		m.refuse(analyze.RejectSection, "section: %s", printable(strings.TrimPrefix(err.Error(), "section: "), longWords))
	}
	if m.refusal != nil {
		return nil
	}
	if l := limits[memArea]; !l.holds(s.square, 1) {
		m.refuse(analyze.RejectSection, "section is %s, which has %.4g in², must be %s", show(spelling), s.square, l.allowed(1))
		return nil
	}
	m.decoder.sections.put(m.mm, spelling, s)
	return &s
}

// fromDesignation reads a section as the steel trade writes it.
func fromDesignation(designation string) (sized, error) {
	s, err := section.Parse(designation)
	if err != nil {
		return sized{}, err
	}
	return size(s, s.Designation), nil
}

// fromObject reads a section with its dimensions, of which scale make an inch.
// The object is kept in inches, so that whoever reads it later need not know
// in what it was sent.
func fromObject(object string, scale float64) (sized, error) {
	s, err := section.FromJSON([]byte(object), 1/scale)
	if err != nil {
		return sized{}, err
	}
	name, err := inInches(object, scale)
	if err != nil {
		return sized{}, err
	}
	return size(s, name), nil
}

func size(s section.Section, name string) sized {
	height, _, known := s.HeightWidth()
	if !known || !(height > 0) || math.IsInf(height, 0) {
		height = 0
	}
	return sized{name: name, square: s.Area(), height: height}
}

// inInches is the object without its spaces and with its lengths in inches.
// Weights (per_ft, density) have the same unit in either system.
func inInches(object string, scale float64) (string, error) {
	compact := jsontext.Value(object)
	if err := compact.Compact(); err != nil || scale == 1 {
		return string(compact), err
	}
	var out bytes.Buffer
	decoder := jsontext.NewDecoder(bytes.NewReader(compact))
	encoder := jsontext.NewEncoder(&out)
	name := ""
	for {
		token, err := decoder.ReadToken()
		if err == io.EOF {
			return strings.TrimSpace(out.String()), nil
		}
		if err != nil {
			return "", fmt.Errorf("read the section: %w", err)
		}
		switch token.Kind() {
		case jsontext.KindNumber:
			if name != "per_ft" && name != "density" {
				v, _ := strconv.ParseFloat(token.String(), 64) // the section has accepted it
				token = jsontext.Float(v * (1 / scale))
			}
		case jsontext.KindString:
			name = token.String() // a word's value is no name, but no number follows it either
		}
		if err := encoder.WriteToken(token); err != nil {
			return "", fmt.Errorf("write the section: %w", err)
		}
	}
}
