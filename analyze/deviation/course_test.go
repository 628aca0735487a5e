package deviation

import (
	"math"
	"testing"
)

// On a sound saw the outlook is that of a study made anew at the same cut: the 10 and 50 %
// points of the windows lie within a tenth of each other, the 90 % point, which may be
// several blades away, within a third. (A study follows the times of the cuts, too.)
func TestACourseTellsWhatAStudyTells(t *testing.T) {
	m := newModel(11)
	fittings := m.fittings(9)
	var c Course
	looks := 0
	for k := range fittings {
		c.Fit(fittings[k].Type, 0, modelLimit)
		for i := range fittings[k].Cuts {
			if err := c.Add(&fittings[k].Cuts[i]); err != nil {
				t.Fatal(err)
			}
			if k < 5 || i%250 != 249 {
				continue
			}
			so := append([]Fitting{}, fittings[:k+1]...)
			so[k].Cuts = so[k].Cuts[:i+1]
			want, got := Study(Saw{Fittings: so, Limit: modelLimit}).Outlook.Window(), c.Outlook(modelLimit).Window()
			for _, c := range []struct{ point, got, want, within float64 }{
				{10, got.Q10, want.Q10, 0.1}, {50, got.Q50, want.Q50, 0.1}, {90, got.Q90, want.Q90, 0.33},
			} {
				if looks++; math.Abs(c.got/c.want-1) > c.within {
					t.Errorf("blade %d after %d cuts, %v %% point: %v, a study tells %v", k, i+1, c.point, c.got, c.want)
				}
			}
		}
	}
	if looks < 12 {
		t.Errorf("%d points were held: this tries little", looks)
	}
}

// How often it is asked makes no difference, and what is not known is nil.
func TestACourseIsNotMovedByQuestions(t *testing.T) {
	m := newModel(12)
	fittings := m.fittings(4)
	var asked, quiet Course
	for k := range fittings {
		asked.Fit(fittings[k].Type, 0, modelLimit)
		quiet.Fit(fittings[k].Type, 0, modelLimit)
		for i := range fittings[k].Cuts {
			for _, c := range []*Course{&asked, &quiet} {
				if err := c.Add(&fittings[k].Cuts[i]); err != nil {
					t.Fatal(err)
				}
			}
			if o := asked.Outlook(modelLimit); (o == nil) != (k == 0 || i < 2) {
				t.Fatalf("blade %d after %d cuts: an outlook of %v", k, i+1, o)
			}
			if i == 60 {
				break
			}
		}
	}
	if a, b := asked.Outlook(modelLimit).Window(), quiet.Outlook(modelLimit).Window(); a != b {
		t.Errorf("%v and, asked at the end only, %v", a, b)
	}
	if o := asked.Outlook(math.NaN()); o != nil {
		t.Errorf("without a limit the outlook is %v, want none", o.Window())
	}
	if err := asked.Add(&Cut{Area: -1}); err == nil {
		t.Error("a blade that has cut less than before passes")
	}
	asked.Fit("another type", 0, modelLimit)
	if o := asked.Outlook(modelLimit); o != nil {
		t.Errorf("of a type that was never on the outlook is %v, want none", o.Window())
	}
}
