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
}

// Build replays the history. It fails where the history cannot be read.
func Build(in *Input) (*Report, error) {
	list, doubts, err := in.blades()
	if err != nil {
		return nil, err
	}
	r := &Report{
		MadeAt: in.Now.UTC(), Zone: in.Config.Shop.Zone, Unit: "in2", Currency: in.Config.Shop.Currency, Risk: in.Costs.Risk,
		Types: []Type{}, LeftOut: []string{}, Windows: []Windows{}, Basis: basis(), Doubts: append([]string{}, doubts...),
	}
	if r.Learned, err = in.decide(list); err != nil {
		return nil, err
	}
	r.count(list, in.From)
	byType := map[string][]*blade{}
	for _, b := range list {
		if b.told != nil {
			byType[b.kind] = append(byType[b.kind], b)
		}
	}
	var judged []*judged
	var crowds []*crowd
	for _, name := range slices.Sorted(maps.Keys(byType)) {
		crowds = append(crowds, newCrowd(byType[name]))
		early, late, why := in.Costs.Of(in.Config, name)
		if why != "" {
			r.LeftOut = append(r.LeftOut, fmt.Sprintf("%s: %s", named(name), why))
			continue
		}
		weighed := slices.DeleteFunc(slices.Clone(byType[name]), func(b *blade) bool { return math.IsNaN(b.told.plan + b.told.fixed) })
		if len(weighed) > 0 {
			judged = append(judged, judge(name, newCrowd(weighed), early, late, uint64(len(judged))))
		}
	}
	for _, j := range judged {
		r.Types = append(r.Types, j.answer())
	}
	if len(judged) > 1 {
		r.Types = append(r.Types, together(judged, r.Types))
	}
	if r.Told > 0 {
		r.Windows = append(r.Windows, held(crowds, stageNew), held(crowds, stageHalf))
	}
	r.doubt()
	return r, nil
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
		hung := b.hung.UTC()
		if r.From == nil {
			r.From = &hung
		}
		r.To = &hung
	}
}

// basis says how the answer is reckoned.
func basis() []string {
	return []string{
		fmt.Sprintf("each blade is judged by what was known when it was hung, learned anew where %d days have passed and one blade in %d is new; weights of materials too were those learned by then", learnDays, learnShare),
		"all areas are told in one measure, weighted by all of the history",
		"the plan sees lives only and not the deviation of a blade, and every change falls on its age, not on the end of a shift or a job",
		"prices and costs are those configured now, and the history is as it stands now, corrections included",
		fmt.Sprintf("a blade pulled before a policy would have changed it does not tell its outcome; those that do count for it. Limits are 95 %%, from %s draws of the blades, each decided as it was", figures.Thousands(draws)),
	}
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
