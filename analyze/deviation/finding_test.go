package deviation

import (
	"slices"
	"testing"
)

// What makes other readings worthless comes first, wear last, and of one kind the
// surest first.
func TestFindingsAreOrdered(t *testing.T) {
	list := []Finding{{Kind: BladeWear, Chance: 1}, {Kind: GuideGap, Chance: 0.91}, {Kind: SawAlignment, Chance: 0.95}, {Kind: GuideGap, Chance: 0.99}, {Kind: SensorFault, Chance: 0.92}}
	Order(list)
	var got []Kind
	for _, f := range list {
		got = append(got, f.Kind)
	}
	if want := []Kind{SensorFault, SawAlignment, GuideGap, GuideGap, BladeWear}; !slices.Equal(got, want) || list[2].Chance != 0.99 {
		t.Errorf("the order is %+v, want %v", list, want)
	}
	kinds := Kinds()
	slices.Sort(kinds)
	if len(slices.Compact(kinds)) != 10 {
		t.Errorf("kinds %v, want 10", kinds)
	}
}
