package trend

import (
	"strings"
	"testing"

	"gullet/analyze"
)

// Of a fitting whose change nobody logged the last passes are read and stand where the
// ledger counts them; the fittings before it are left out, and that is told.
func TestOnlyTheLastPassesAreRead(t *testing.T) {
	db := emptyStore(t)
	list := []*analyze.Reading{hang("s1", 0, "A"), cut("s1", 1, "1018", 1), hang("s1", 2, "B")}
	for i := range 40 {
		list = append(list, cut("s1", 3+i, "1018", 1))
	}
	keep(t, db, list...)
	for _, c := range []struct {
		most, fittings, cuts int
		from                 float64
		doubt                string
	}{
		{41, 2, 40, 0, ""},
		{40, 1, 40, 0, ""},
		{15, 1, 15, 250, "the fitting that is on made 40 passes, more than a blade does"},
	} {
		d, err := gatherLast(t.Context(), db, example(t), "s1", minute(60), c.most)
		if err != nil {
			t.Fatal(err)
		}
		s := d.Saws[0]
		on := s.Fittings[len(s.Fittings)-1]
		if len(s.Fittings) != c.fittings || len(on.Cuts) != c.cuts || on.Blade != "B" {
			t.Errorf("at most %d: %d fittings, %d passes on %s, want %d and %d on B", c.most, len(s.Fittings), len(on.Cuts), on.Blade, c.fittings, c.cuts)
		}
		near(t, "area before the first", on.Cuts[0].From, c.from)
		near(t, "area after the last", on.Cuts[len(on.Cuts)-1].Area, 400)
		doubts := strings.Join(d.Doubts, "\n")
		if !strings.Contains(doubts, c.doubt) || c.doubt == "" && strings.Contains(doubts, "more than a blade does") {
			t.Errorf("at most %d: doubts %q, want %q", c.most, doubts, c.doubt)
		}
	}
}
