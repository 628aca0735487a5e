package planfile

import (
	"fmt"
	"strings"
	"time"

	"gullet/cmd/gullet/internal/planning"
	"gullet/cmd/gullet/internal/sheets"
)

// The words of package sheets, short in the tables below.
const (
	text   = sheets.Text
	whole  = sheets.Whole
	amount = sheets.Amount
	tenth  = sheets.Tenth
	chance = sheets.Chance
	moment = sheets.Moment
)

type column[T any] = sheets.Column[T]

func (p *Plan) estimated(x *float64) any {
	if x == nil {
		return nil
	}
	return p.Style.Estimated(*x)
}

func (p *Plan) at(t *time.Time) any {
	if t == nil {
		return nil
	}
	return p.minute(*t)
}

// units are the shop's, for the names and the heads of columns.
func (p *Plan) units() (name, head string) {
	if p.Style.Metric {
		return "cm2", p.Style.AreaUnit()
	}
	return "in2", p.Style.AreaUnit()
}

// saws are all saws with all that is known of each.
func (p *Plan) saws() sheets.Table {
	list := make([]*planning.Saw, len(p.Saws))
	for i := range p.Saws {
		list[i] = &p.Saws[i]
	}
	columns := append(p.blade(), p.window()...)
	columns = append(columns, p.advice()...)
	columns = append(columns,
		column[*planning.Saw]{"why", "Why cells are empty", text, func(s *planning.Saw) any { return why(s) }},
		column[*planning.Saw]{"plan_made_at", "Plan made at", moment, func(*planning.Saw) any { return p.minute(p.MadeAt) }},
	)
	return sheets.Tabled("Saws", columns, list)
}

// blade is the saw and the blade that is on it.
func (p *Plan) blade() []column[*planning.Saw] {
	name, head := p.units()
	counted := func(in2 *float64) any {
		if in2 == nil {
			return nil
		}
		return p.Style.Counted(*in2)
	}
	return []column[*planning.Saw]{
		{"saw", "Saw", text, func(s *planning.Saw) any { return s.Saw }},
		{"blade", "Blade", text, func(s *planning.Saw) any { return s.Blade }},
		{"type", "Type", text, func(s *planning.Saw) any { return s.Type }},
		{"cut_" + name, "Cut (" + head + ")", whole, func(s *planning.Saw) any { return counted(s.Area) }},
		{"cut_weighted_" + name, "Cut, weighted (" + head + ")", whole, func(s *planning.Saw) any { return counted(s.Weighted) }},
	}
}

// window is when the blade is likely to be done.
func (p *Plan) window() []column[*planning.Saw] {
	name, head := p.units()
	of := func(pick func(w *planning.Windows) any) func(*planning.Saw) any {
		return func(s *planning.Saw) any {
			if s.Window == nil {
				return nil
			}
			return pick(s.Window)
		}
	}
	return []column[*planning.Saw]{
		{"done_10_percent_within_" + name, "10 % done within (" + head + ")", whole, of(func(w *planning.Windows) any { return p.estimated(w.Area.Q10) })},
		{"done_50_percent_within_" + name, "50 % done within (" + head + ")", whole, of(func(w *planning.Windows) any { return p.estimated(w.Area.Q50) })},
		{"done_90_percent_within_" + name, "90 % done within (" + head + ")", whole, of(func(w *planning.Windows) any { return p.estimated(w.Area.Q90) })},
		{"done_10_percent_by", "10 % done by", moment, of(func(w *planning.Windows) any { return p.at(w.Time.Q10) })},
		{"done_50_percent_by", "50 % done by", moment, of(func(w *planning.Windows) any { return p.at(w.Time.Q50) })},
		{"done_90_percent_by", "90 % done by", moment, of(func(w *planning.Windows) any { return p.at(w.Time.Q90) })},
		{"driven_by", "Driven by", text, func(s *planning.Saw) any { return s.DrivenBy() }},
		{"from", "From", text, func(s *planning.Saw) any { return s.Basis }},
	}
}

// advice is what is advised, and what that costs.
func (p *Plan) advice() []column[*planning.Saw] {
	name, head := p.units()
	money := p.Currency
	thousand := "_" + money + "_per_1000_weighted_" + name
	perThousand := " (" + money + " per 1,000 weighted " + head + ")"
	of := func(pick func(a *planning.Advice) any) func(*planning.Saw) any {
		return func(s *planning.Saw) any {
			if s.Advise == nil {
				return nil
			}
			return pick(s.Advise)
		}
	}
	rate := func(x *float64) any {
		if x == nil {
			return nil
		}
		return *x / p.Style.Areas(1)
	}
	return []column[*planning.Saw]{
		{"advice", "Advice", text, of(func(a *planning.Advice) any {
			if a.Change {
				return "change"
			}
			return "run on"
		})},
		{"change_at", "Change at", moment, of(func(a *planning.Advice) any { return p.at(a.At) })},
		{"change_where", "Where", text, of(func(a *planning.Advice) any {
			if !a.Change {
				return nil
			}
			return a.Where()
		})},
		{"because", "Because", text, func(s *planning.Saw) any {
			if s.Advise == nil {
				return nil
			}
			return s.Because()
		}},
		{"chance_done_before_0_to_1", "Done before", chance, of(func(a *planning.Advice) any { return a.Odds })},
		{"on_the_shelf_blades", "On the shelf (blades)", whole, of(func(a *planning.Advice) any { return sheets.Known(a.OnHand) })},
		{"cost_now_" + money, "Changed now (" + money + ")", amount, of(func(a *planning.Advice) any { return a.CostNow })},
		{"cost_one_shift_later_" + money, "At the next shift end (" + money + ")", amount, of(func(a *planning.Advice) any { return sheets.Known(a.CostLater) })},
		{"cost_as_advised_" + money, "As advised (" + money + ")", amount, of(func(a *planning.Advice) any { return a.CostThen })},
		{"cost_one_shift_after_" + money, "At the shift end after that (" + money + ")", amount, of(func(a *planning.Advice) any { return sheets.Known(a.CostAfter) })},
		{"new_blades" + thousand, "New blades cost" + perThousand, amount, of(func(a *planning.Advice) any { return rate(a.Rate) })},
		{"habit" + thousand, "By today's habit" + perThousand, amount, of(func(a *planning.Advice) any { return rate(a.HabitRate) })},
		{"run_to_end" + thousand, "Run to the end" + perThousand, amount, of(func(a *planning.Advice) any { return rate(a.RunToEnd) })},
		{"new_blades_changed_at_weighted_" + name, "New blades changed at (weighted " + head + ")", whole, of(func(a *planning.Advice) any { return p.estimated(a.ReplaceAge) })},
	}
}

// why tells of the cells of a saw that are empty why they are.
func why(s *planning.Saw) string {
	var list []string
	add := func(empty bool, what string) {
		if empty {
			list = append(list, what)
		}
	}
	add(s.Blade == "", "blade: not named")
	add(s.Type == "", "type: not named")
	add(s.Fitting == nil, "cut: it is not known which blade is on")
	if w := s.Window; w != nil {
		add(w.Area.Q90 == nil || w.Time.Q90 == nil, "what is empty of the window lies beyond what is looked at")
	} else {
		list = append(list, "window: "+s.Why)
	}
	a := s.Advise
	if a == nil {
		return strings.Join(append(list, "advice: "+s.WhyNone), "; ")
	}
	add(!a.Change, "change: the blade is to be run on")
	add(a.Change && a.At == nil, "change: it is later than the shifts are known")
	add(a.OnHand == nil, "shelf: it was never counted")
	add(a.CostLater == nil, "at the next shift end: no shift ends within the plan")
	add(a.Change && a.CostAfter == nil, "at the shift end after that: no shift of the plan ends after the change")
	add(a.Rate == nil || a.RunToEnd == nil, "new blades: what they cost is unknown")
	add(a.HabitRate == nil, "today's habit: no blade of the type has come off yet")
	add(a.ReplaceAge == nil, "new blades changed at: they are run to the end, changing early does not help")
	return strings.Join(list, "; ")
}

// changes are the advised changes, first on top.
func (p *Plan) changes() sheets.Table {
	list := p.Changes()
	needs := needs(list)
	at := map[*planning.Saw]need{}
	for i, s := range list {
		at[s] = needs[i]
	}
	columns := []column[*planning.Saw]{
		{"", "Change at", moment, func(s *planning.Saw) any { return p.at(s.Advise.At) }},
		{"", "Shift", text, func(s *planning.Saw) any { return p.shift(s) }},
	}
	columns = append(columns, p.blade()[:3]...)
	columns = append(columns,
		column[*planning.Saw]{"", "Where", text, func(s *planning.Saw) any { return s.Advise.Where() }},
		column[*planning.Saw]{"", "Because", text, func(s *planning.Saw) any { return s.Because() }},
		column[*planning.Saw]{"", "Done before", chance, func(s *planning.Saw) any { return s.Advise.Odds }},
	)
	columns = append(columns, p.window()[3:6]...)
	return sheets.Tabled("Changes", append(columns,
		column[*planning.Saw]{"", "On the shelf (blades)", whole, func(s *planning.Saw) any { return sheets.Known(s.Advise.OnHand) }},
		column[*planning.Saw]{"", "Have on hand", text, func(s *planning.Saw) any { return at[s].words() }},
		column[*planning.Saw]{"", "Changed now (" + p.Currency + ")", amount, func(s *planning.Saw) any { return s.Advise.CostNow }},
		column[*planning.Saw]{"", "At the next shift end (" + p.Currency + ")", amount, func(s *planning.Saw) any { return sheets.Known(s.Advise.CostLater) }},
		column[*planning.Saw]{"", "As advised (" + p.Currency + ")", amount, func(s *planning.Saw) any { return s.Advise.CostThen }},
		column[*planning.Saw]{"", "At the shift end after that (" + p.Currency + ")", amount, func(s *planning.Saw) any { return sheets.Known(s.Advise.CostAfter) }},
		column[*planning.Saw]{"", "Why cells are empty", text, func(s *planning.Saw) any { return why(s) }},
	), list)
}

// sawJob is a job and the saw it was given to.
type sawJob struct {
	*planning.Job
	Saw    string
	Window string // why nobody knows what the blade has left, "" where somebody does
}

// allJobs are the jobs of all saws.
func (p *Plan) allJobs() (list []sawJob) {
	for i := range p.Saws {
		for k := range p.Saws[i].Jobs {
			list = append(list, sawJob{&p.Saws[i].Jobs[k], p.Saws[i].Saw, p.Saws[i].Why})
		}
	}
	return list
}

func (p *Plan) jobs() sheets.Table {
	_, head := p.units()
	return sheets.Tabled("Jobs", []column[sawJob]{
		{"", "Saw", text, func(j sawJob) any { return j.Saw }},
		{"", "Job", text, func(j sawJob) any { return j.Job.Job }},
		{"", "Area (" + head + ")", whole, func(j sawJob) any { return p.estimated(&j.Area) }},
		{"", "Weighted (" + head + ")", whole, func(j sawJob) any { return p.estimated(&j.Weighted) }},
		{"", "Time (h)", tenth, func(j sawJob) any { return j.Hours }},
		{"", "Ends", moment, func(j sawJob) any { return p.at(j.Ends) }},
		{"", "Due", moment, func(j sawJob) any { return p.at(j.Due) }},
		{"", "Late", text, func(j sawJob) any {
			switch {
			case j.Due == nil:
				return nil
			case j.Lateness() == "":
				return "no"
			}
			return j.Lateness()
		}},
		{"", "This blade finishes it", chance, func(j sawJob) any { return sheets.Known(j.Odds) }},
		{"", "What may go wrong with the teeth", text, func(j sawJob) any { return j.Teeth }},
		{"", "Why cells are empty", text, func(j sawJob) any { return j.why() }},
	}, p.allJobs())
}

// why tells of the cells of a job that are empty why they are.
func (j sawJob) why() string {
	var list []string
	if j.Ends == nil {
		list = append(list, "ends: beyond what is looked at")
	}
	if j.Due == nil {
		list = append(list, "due: no date was given")
	}
	if j.Odds == nil {
		list = append(list, "this blade finishes it: "+j.Window)
	}
	if j.Teeth == "" {
		list = append(list, "teeth: nothing is known to go wrong")
	}
	return strings.Join(list, "; ")
}

func (p *Plan) shelf() sheets.Table {
	list := make([]*planning.Shelf, len(p.Shelf))
	for i := range p.Shelf {
		list[i] = &p.Shelf[i]
	}
	columns := []column[*planning.Shelf]{
		{"", "Type", text, func(s *planning.Shelf) any { return planning.BladeName(s.Type) }},
		{"", "On hand (blades)", whole, func(s *planning.Shelf) any { return sheets.Known(s.OnHand) }},
	}
	for _, days := range []string{"7d", "14d", "28d"} {
		of := func(pick func(planning.Use) any) func(*planning.Shelf) any {
			return func(s *planning.Shelf) any {
				if u, ok := s.Needed[days]; ok {
					return pick(u)
				}
				return nil
			}
		}
		span := strings.TrimSuffix(days, "d") + " days"
		columns = append(columns,
			column[*planning.Shelf]{"", "Used in " + span + ", mean (blades)", tenth, of(func(u planning.Use) any { return u.Mean })},
			column[*planning.Shelf]{"", "Enough for " + span + " (blades)", whole, of(func(u planning.Use) any { return u.Safe })},
		)
	}
	return sheets.Tabled("Shelf", append(columns,
		column[*planning.Shelf]{"", "Reorder at (blades)", whole, func(s *planning.Shelf) any { return sheets.Known(s.Reorder) }},
		column[*planning.Shelf]{"", "Order by", text, func(s *planning.Shelf) any { return p.orderBy(s) }},
	), list)
}

// orderBy is by when blades of a type must be ordered, or why nobody knows.
func (p *Plan) orderBy(s *planning.Shelf) string {
	if s.Why != "" {
		return "unknown: " + s.Why
	}
	return s.Order(p.Style.Zone)
}

// notes are what must be known of the plan.
func (p *Plan) notes() sheets.Table {
	list := [][2]string{
		{"Caution", p.caution()},
		{"Made at", p.made()},
		{"Good until", "the next plan"},
		{"Days ahead", fmt.Sprint(p.Days)},
		{"Times", "as on the wall in " + p.Zone},
		{"Areas", p.Style.AreaUnit() + "; weighted: each grade's by what it does to a blade, 1018 = 1"},
		{"Money", p.Currency + ", beyond what the blades to come would cost meanwhile; of a blade that is run on, \"as advised\" is run on"},
		{"Done before", "the chance that the blade is done before it is changed, or, where it is run on, before the plan ends"},
		{"Window", "how much of the coming work is cut, and by when, until 1 in 10, half and 9 in 10 of such blades are done"},
		{"Shelf", p.Enough()},
		{"Empty", "unknown; the reason stands in the row"},
	}
	if len(p.Loose) > 0 {
		list = append(list, [2]string{"Jobs that no saw was found for", strings.Join(p.Loose, ", ")})
	}
	for _, d := range p.Doubts {
		list = append(list, [2]string{"Before you trust these figures", d})
	}
	return sheets.Notes(list)
}
