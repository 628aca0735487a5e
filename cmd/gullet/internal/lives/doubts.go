package lives

import (
	"fmt"
	"maps"
	"slices"

	"gullet/cmd/gullet/internal/figures"
)

// Grades says which grades are taken for the reference grade, since nobody configured
// them or named any.
func (s *Shop) Grades() (doubts []string) {
	for _, grade := range slices.Sorted(maps.Keys(s.Odd)) {
		area := figures.Thousands(s.Odd[grade])
		if grade == "" {
			doubts = append(doubts, area+" in² were cut in passes that named no grade; they count as the reference grade (severity 1)")
			continue
		}
		doubts = append(doubts, fmt.Sprintf("grade %q is not in the configuration: %s in² of it count as the reference grade (severity 1)", grade, area))
	}
	return doubts
}

// Unread says what of the readings no figure contains: those that a saw sent and that
// never came, by saw, and those that were rejected.
func Unread(saws []string, missing []int64, rejected int64) (doubts []string) {
	for i, saw := range saws {
		if missing[i] > 0 {
			doubts = append(doubts, fmt.Sprintf("saw %s: %s missing from its numbering (gullet export gaps): never came, or among the rejected", saw, figures.Plural(missing[i], "reading is", "readings are")))
		}
	}
	if rejected > 0 {
		doubts = append(doubts, figures.Plural(rejected, "message is", "messages are")+" kept as rejected (gullet rejected list): no figure contains what they say")
	}
	return doubts
}

// Uncounted says how much of what a blade cut is missing from its total.
func Uncounted(saw, blade string, passes int64) string {
	return fmt.Sprintf("saw %s: the area of %s of blade %s is unknown and missing from its total", saw, figures.Plural(passes, "pass", "passes"), blade)
}
