package shiftreport

import (
	"context"
	"time"

	"gullet/analyze/downtime"
	"gullet/analyze/shift"
	"gullet/cmd/gullet/internal/figures"
	"gullet/cmd/gullet/internal/standing"
	"gullet/config"
	"gullet/store"
)

// Report is what the saws did in a shift or a week. Minutes are of elapsed time.
type Report struct {
	Kind     string           `json:"report"`        // shift or week
	Shift    string           `json:"shift"`         // "" for a week
	Begins   time.Time        `json:"begins"`        // the first of any saw
	Ends     time.Time        `json:"ends"`          // the last of any saw
	Running  bool             `json:"running"`       // it was not over when the report was made
	Saws     []Saw            `json:"saws"`          // by name
	Taken    []standing.Stop  `json:"taken_over"`    // that stood when a shift began
	Handed   []standing.Stop  `json:"handed_over"`   // that stood when a shift ended, or stand
	Open     []standing.Stop  `json:"not_explained"` // the longest first, then those taken over
	Downtime *standing.Report `json:"downtime"`      // of the same time
	Doubts   []string         `json:"doubts"`

	style figures.Style
}

// Saw is what one saw did.
type Saw struct {
	standing.Done
	Report *standing.SawReport `json:"-"`                   // of it in Downtime
	Off    bool                `json:"no_such_shift"`       // the saw does not work the shift
	Line   []standing.Stretch  `json:"time_line,omitempty"` // of a shift
}

// Make makes the report of a period from what is stored, of one saw or of all ("").
func Make(ctx context.Context, db *store.Store, cfg *config.Config, style figures.Style, now time.Time, p Period, saw string) (*Report, error) {
	o := standing.Options{From: p.From, To: p.To, Only: standing.Only{Saw: saw, Shift: p.Shift}}
	data, err := standing.Gather(ctx, db, cfg, now, o.Since(), o.To, true)
	if err != nil {
		return nil, err
	}
	r := &Report{Kind: "week", Shift: p.Shift, Saws: []Saw{}, Taken: []standing.Stop{}, Handed: []standing.Stop{}, Downtime: standing.Build(data, o), style: style}
	var names []string
	for _, s := range data.Done(o) {
		names = append(names, s.Saw)
		r.Saws = append(r.Saws, Saw{Done: s})
	}
	for i := range r.Saws {
		r.Saws[i].Report = &r.Downtime.Saws[i]
	}
	turns := p.turns(data.Calendar, EverySaw(names, data.Calendar))
	r.Begins, r.Ends = p.bounds(data.Calendar, turns)
	r.Running = now.Before(r.Ends)
	r.Open, r.Doubts = data.NotExplained(o), r.Downtime.DoubtsOfTime()
	if p.Shift != "" {
		r.Kind = "shift"
		if err := r.follow(ctx, db, data, &o, turns); err != nil {
			return nil, err
		}
	}
	return r, nil
}

// EverySaw is the saws that have told something, or where none has those that a shift
// is for: a shift falls at some time all the same.
func EverySaw(names []string, c *shift.Calendar) []string {
	if len(names) > 0 {
		return names
	}
	names = []string{""}
	for _, r := range c.Effective() {
		names = append(names, r.Saws...)
	}
	return names
}

// follow goes along each saw's shift: its time line, and what it took and handed over.
func (r *Report) follow(ctx context.Context, db *store.Store, data *standing.Data, o *standing.Options, turns map[string]shift.Turn) error {
	at := *data
	at.From = o.From
	lines, err := at.Lines(ctx, db, o.Only.Saw)
	if err != nil {
		return err
	}
	for i := range r.Saws {
		s := &r.Saws[i]
		turn, works := turns[s.Saw]
		if s.Off = !works; s.Off {
			continue
		}
		for k := range lines {
			if lines[k].Saw == s.Saw {
				s.Line = clip(lines[k].Stretches, turn.Start, turn.End)
			}
		}
		taken := data.StandingAt(s.Saw, turn.Start)
		r.Taken = append(r.Taken, taken...)
		for k := range taken {
			if taken[k].Cause == downtime.Unexplained {
				r.Open = append(r.Open, taken[k])
			}
		}
		end := turn.End
		if data.Now.Before(end) {
			end = data.Now
		}
		r.Handed = append(r.Handed, data.StandingAt(s.Saw, end)...)
	}
	return nil
}

// clip is what of stretches lies between two moments.
func clip(list []standing.Stretch, from, to time.Time) []standing.Stretch {
	out := []standing.Stretch{}
	for _, s := range list {
		if s.From.Before(from) {
			s.From = from.In(s.From.Location())
		}
		if s.To.After(to) {
			s.To = to.In(s.To.Location())
		}
		if s.From.Before(s.To) {
			out = append(out, s)
		}
	}
	return out
}

// known is the planned busy time of all saws that is known, in minutes.
func (r *Report) known() float64 { return r.Downtime.All.Model.PlannedBusy }

// scheduled is a saw's time within shifts, in minutes.
func scheduled(m *downtime.Minutes) float64 { return m.Calendar() - m.Unscheduled }
