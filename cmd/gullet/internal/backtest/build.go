package backtest

import (
	"cmp"
	"fmt"
	"maps"
	"math"
	"slices"
	"time"

	"gullet/analyze"
	"gullet/cmd/gullet/internal/figures"
	"gullet/cmd/gullet/internal/planning"
	"gullet/config"
	"gullet/store"
)

// Input is what a backtest is made from.
type Input struct {
	Now      time.Time
	From     time.Time // blades hung before are learned from only; zero: none is
	Config   *config.Config
	Costs    planning.Costs
	Fittings []store.FittingRow // all there were
	// Totals is what a saw did after one time and up to another, by grade.
	Totals func(saw string, from, until time.Time) ([]analyze.GradeTotal, error)
	// Passes gives each the passes of a saw after one time and not after another, in
	// order of time.
	Passes func(saw string, from, until time.Time, each func(store.HistoryRow) error) error
	// Most is how many blades, the newest, have their deviation followed.
	Most int
}

// Build replays the history. It fails where the history cannot be read.
func Build(in *Input) (*Report, error) {
	list, weights, doubts, err := in.blades()
	if err != nil {
		return nil, err
	}
	r := &Report{
		MadeAt: in.Now.UTC(), Zone: in.Config.Shop.Zone, Unit: "in2", Currency: in.Config.Shop.Currency, Risk: in.Costs.Risk,
		Types: []Type{}, Newest: []Type{}, LeftOut: []string{}, Windows: []Windows{}, Doubts: append([]string{}, doubts...),
	}
	marked, all := in.mark(list)
	if r.Learned, err = in.decide(list); err != nil {
		return nil, err
	}
	if err := in.followAll(list, weights); err != nil {
		return nil, err
	}
	r.count(list, in.From)
	r.judge(in, list, marked < all)
	r.Basis = r.basis()
	r.doubt()
	return r, nil
}

// judge judges the policies over the blades of each type, and the windows. Where the
// deviation was followed of the newest only, those are judged by themselves too.
func (r *Report) judge(in *Input, list []*blade, part bool) {
	told := slices.DeleteFunc(slices.Clone(list), func(b *blade) bool { return b.told == nil })
	newest := slices.DeleteFunc(slices.Clone(told), func(b *blade) bool { return !b.follow })
	switch {
	case r.Followed == 0:
		r.Types = r.types(in, told, slices.DeleteFunc(slices.Clone(policies), func(p string) bool { return p == PolicyLives }))
	case part:
		r.Types = r.types(in, told, policies[1:])
		r.Newest = r.types(in, newest, policies)
	default:
		r.Types = r.types(in, told, policies)
	}
	if len(told) == 0 {
		return
	}
	var crowds, toTrips []*crowd
	for _, blades := range sorted(told) {
		crowds, toTrips = append(crowds, newCrowd(blades)), append(toTrips, newCrowd(toTrip(blades)))
	}
	r.Windows = append(r.Windows, held(crowds, stageNew), held(crowds, stageHalf))
	if r.Followed > 0 {
		r.Windows = append(r.Windows, held(toTrips, stageSeen))
	}
}

// types judges some policies over the blades of each type, and of all together.
func (r *Report) types(in *Input, list []*blade, policies []string) []Type {
	var judges []*judged
	types := []Type{}
	r.LeftOut = []string{}
	for _, blades := range sorted(list) {
		name := blades[0].kind
		early, late, why := in.Costs.Of(in.Config, name)
		if why != "" {
			r.LeftOut = append(r.LeftOut, fmt.Sprintf("%s: %s", named(name), why))
			continue
		}
		blades = slices.DeleteFunc(blades, func(b *blade) bool { return math.IsNaN(b.told.plan + b.told.fixed) })
		if len(blades) > 0 {
			judges = append(judges, judge(name, policies, newCrowd(blades), early, late, uint64(len(judges))))
		}
	}
	for _, j := range judges {
		types = append(types, j.answer())
	}
	if len(judges) > 1 {
		types = append(types, together(judges, types))
	}
	return types
}

// sorted are the blades of each type, by its name.
func sorted(list []*blade) (groups [][]*blade) {
	byType := map[string][]*blade{}
	for _, b := range list {
		byType[b.kind] = append(byType[b.kind], b)
	}
	for _, name := range slices.Sorted(maps.Keys(byType)) {
		groups = append(groups, byType[name])
	}
	return groups
}

// count fills in which blades are judged.
func (r *Report) count(list []*blade, from time.Time) {
	for _, b := range list {
		if b.hung.Before(from) {
			r.Earlier++
			continue
		}
		r.Blades++
		if b.told == nil {
			continue
		}
		r.Told++
		if b.ruling.followed {
			r.Followed++
		}
		if b.follow {
			r.Asked++
		}
		hung := b.hung.UTC()
		if r.From == nil {
			r.From = &hung
		}
		r.To = &hung
	}
}

// basis says how the answer is reckoned.
func (r *Report) basis() []string {
	list := []string{
		fmt.Sprintf("each blade is judged by the lives known when it was hung, learned anew where %d days have passed and one blade in %d is new; weights of materials too were those learned by then", learnDays, learnShare),
		"all areas are told in one measure, weighted by all of the history",
	}
	if r.Followed == 0 {
		list = append(list, "no deviation could be followed (that takes readings, a trip limit, and a blade of the type on the saw before), so the plan sees lives only: every change falls on an age, not on the end of a shift or a job")
	} else {
		list = append(list, r.following(), "the plan by lives, the fixed interval and running to the end change at an age, not at the end of a shift; no way waits for a job to end")
	}
	return append(list,
		"prices and costs are those configured now, and the history is as it stands now, corrections included",
		fmt.Sprintf("a blade pulled before a policy would have changed it does not tell its outcome; those that do count for it. Limits are 95 %%, from %s draws of the blades, each decided as it was", figures.Thousands(draws)),
	)
}

// following says how the deviation was followed, and of which blades.
func (r *Report) following() string {
	text := fmt.Sprintf("the plan decides at the end of each shift in which the saw worked, by lives and by the deviation up to then, as gullet plan does, up to the first trip. It goes by the blades before on the same saw, and does not look for what shows on some cuts only or for a change that nobody logged. It was followed on %d of %s", r.Followed, figures.Plural(r.Asked, "blade", "blades"))
	if len(r.Newest) > 0 {
		text += ", the newest: of more there is no time"
	}
	if r.Followed < r.Asked {
		text += ". The others are planned by lives: their saw told no deviation or no trip limit, no blade of their type was on it before, or no shift ended while they were on"
	}
	return text
}

// doubt adds what to know before trusting the policies' figures.
func (r *Report) doubt() {
	pulled, blades := 0, 0
	for i := range r.Types {
		if r.Types[i].Type != AllTypes {
			pulled += r.Types[i].Pulled
			blades += r.Types[i].Blades
		}
	}
	if pulled > 0 {
		r.Doubts = append(r.Doubts, fmt.Sprintf("%d of the %s judged were pulled early, which is taken to say nothing of how much they had left: where blades were pulled because they looked bad, running further is told too cheap", pulled, figures.Plural(blades, "blade", "blades")))
	}
	if untold := r.Blades - r.Told; untold > 0 {
		r.Doubts = append(r.Doubts, figures.Plural(untold, "blade", "blades")+" hung before a life of their type could be told are learned from only")
	}
	if r.Told > 0 {
		r.Doubts = append(r.Doubts, "what was known came from how the shop ran its blades: under another policy it would have learned other things")
	}
}

func named(name string) string { return cmp.Or(name, "(type not said)") }
