package backtest

import (
	"cmp"
	"fmt"
	"slices"
	"time"

	"gullet/analyze"
	"gullet/cmd/gullet/internal/lives"
	"gullet/store"
)

// at is the fittings as they were known at a time, of blades first hung or still on
// since another: those on the saws had not ended, and had done what they had done by
// then. Trips and breaks stay as they are; nothing here looks at them.
func (in *Input) at(t, since time.Time) ([]store.FittingRow, error) {
	recent := map[string]bool{}
	on := func(f *store.FittingRow) bool { return f.Open() || f.End.After(t) }
	counts := func(f *store.FittingRow) bool { return !f.Start.After(t) && (!f.Start.Before(since) || on(f)) }
	for i := range in.Fittings {
		if f := &in.Fittings[i]; f.Serial != "" && counts(f) {
			recent[f.Serial] = true
		}
	}
	var rows []store.FittingRow
	for i := range in.Fittings {
		f := in.Fittings[i]
		if f.Start.After(t) || !counts(&f) && !recent[f.Serial] {
			continue
		}
		if on(&f) {
			if err := in.cutBack(&f, t); err != nil {
				return nil, fmt.Errorf("blade %s as it was on %s: %w", f.Serial, t.Format(time.DateOnly), err)
			}
		}
		rows = append(rows, f)
	}
	return rows, nil
}

// cutBack makes a fitting what it was while it was on the saw.
func (in *Input) cutBack(f *store.FittingRow, t time.Time) error {
	f.End, f.Reason, f.LastGrade = time.Time{}, "", ""
	if !f.LastPass.After(t) {
		return nil
	}
	totals, err := in.Totals(f.Saw, f.Start, t)
	if err != nil {
		return err
	}
	f.Totals, f.Area, f.Cuts = totals, 0, 0
	for _, g := range totals {
		f.Area += g.Area
		f.Cuts += g.Cuts
	}
	return nil
}

// blade is one blade of the history, and what was foretold of it when it was hung. Its
// areas are in in² weighted by all of the history: one measure for all policies.
type blade struct {
	serial, kind, saw string
	hung              time.Time
	cut               []analyze.GradeTotal // over all its fittings
	life              float64
	ended             bool
	off               bool // it came off for good, ended or pulled
	told              *told
	follow            bool   // its deviation is to be followed where it was told
	ruling            ruling // what came of that
}

// weights are those of all grades that are ever cut, as a shop knows them.
func (in *Input) weights(shop *lives.Shop) map[string]float64 {
	list := map[string]float64{}
	for i := range in.Fittings {
		for _, g := range in.Fittings[i].Totals {
			list[g.Grade] = shop.Weight(g.Grade)
		}
	}
	return list
}

// blades lists those of the history that can be judged, in the order in which they were
// hung, with the weights of all grades, and says what was left out.
func (in *Input) blades() (list []*blade, weights map[string]float64, doubts []string, err error) {
	rows, err := in.at(in.Now, time.Time{})
	if err != nil {
		return nil, nil, nil, err
	}
	shop := lives.Gather(rows, nil, in.Config, time.Time{})
	bySerial := map[string]*blade{}
	var left leftOut
	for i := range rows {
		f := &rows[i]
		whole := shop.Blades[f.Serial]
		if left.out(f, whole) {
			continue
		}
		b := bySerial[f.Serial]
		if b == nil {
			b = &blade{
				serial: f.Serial, kind: whole.Type, hung: whole.First, life: whole.Weighted,
				ended: whole.Ended(), off: !whole.Running && whole.Reason != analyze.ReasonMoved,
			}
			bySerial[f.Serial] = b
			list = append(list, b)
			left.notice(whole)
		}
		if f.Start.Equal(b.hung) {
			b.saw = f.Saw
		}
		b.cut = append(b.cut, f.Totals...)
	}
	slices.SortFunc(list, func(a, b *blade) int {
		return cmp.Or(a.hung.Compare(b.hung), cmp.Compare(a.serial, b.serial))
	})
	return list, in.weights(shop), left.doubts(), nil
}
