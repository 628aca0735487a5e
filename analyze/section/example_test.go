package section_test

import (
	"fmt"

	"gullet/analyze"
	"gullet/analyze/section"
)

// The same beam at the same angle loads the teeth quite differently on the two
// kinds of saw (domain reference 2.5).
func ExampleSection_Contact() {
	s, err := section.Parse("W12x26")
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, saw := range []analyze.SawKind{analyze.SwivelFrame, analyze.TiltingColumn} {
		c, err := s.Contact(section.Pass{Mitre: 60, Count: 1, Saw: saw})
		if err != nil {
			fmt.Println(err)
			return
		}
		fmt.Printf("%s: least %.2f, mean %.2f, most %.2f in over %.2f in\n", saw, c.Min, c.Mean, c.Max, c.Stroke)
	}
	// Output:
	// swivel-frame: least 0.46, mean 1.25, most 12.98 in over 12.20 in
	// tilting-column: least 1.52, mean 2.36, most 24.40 in over 6.49 in
}

func ExampleParse() {
	for _, text := range []string{"l 4 x 4 x 1/2", "HSS4X4X.25", "pipe 4 std", "RD 2 1/2", "W14x873", "RD6\""} {
		s, err := section.Parse(text)
		if err != nil {
			fmt.Println(err)
			continue
		}
		fmt.Printf("%s is a %s of %.3g in²\n", s.Designation, s.Shape, s.Area())
	}
	// Output:
	// L4x4x1/2 is a angle of 3.75 in²
	// HSS4x4x1/4 is a rect-tube of 3.59 in²
	// PIPE4STD is a round-tube of 3.17 in²
	// RD2-1/2 is a round of 4.91 in²
	// W14x873 is a weight of 257 in²
	// designation "RD6\"": character '"' is not allowed, only letters, digits and . / - ×
}

func ExampleFromJSON() {
	s, err := section.FromJSON([]byte(`{"shape":"round","diameter":152.4}`), 1/25.4)
	fmt.Printf("%.3f in² %v\n", s.Area(), err)
	_, err = section.FromJSON([]byte(`{"shape":"round-tube","diameter":4,"wall":2}`), 1)
	fmt.Println(err)
	// Output:
	// 28.274 in² <nil>
	// section: round-tube: wall is 2 in, allowed is less than half the diameter (2 in)
}
