package store

import (
	"database/sql"
	"errors"
	"slices"

	"gullet/analyze"
)

const (
	rateCuts   = 20  // finished cuts of a grade that a rate is the median of
	rateWindow = 200 // passes of the saw among which they are looked for
)

// change is what a better estimate does to a pass stored earlier.
type change struct {
	at       int64
	grade    string
	old, new *float64 // area
}

// estimate finds the share of passes that stopped without telling it, from the
// saw's pace before them. Cuts that arrive late belong to the pace of later
// ones: those are estimated again and returned.
func (w *writer) estimate(s *sawState, passes []newPass) ([]change, error) {
	first, last := int64(forever), int64(never)
	for i := range passes {
		p := &passes[i]
		if p.at < s.lastUntold {
			first, last = min(first, p.at), max(last, p.at)
		}
	}
	fresh := map[int64]bool{}
	for i := range passes {
		p := &passes[i]
		if p.kind == analyze.KindCut || told(p.cut) != nil {
			continue
		}
		fresh[p.id] = true
		area, err := w.estimatePass(s, p.id, p.at, p.kind, p.cut)
		if err != nil {
			return nil, err
		}
		p.area = area
		s.lastUntold = max(s.lastUntold, p.at)
	}
	if first == forever {
		return nil, nil
	}
	return w.estimateAgain(s, first, last, fresh)
}

// estimateAgain goes over the estimates that have a pass of first…last within
// their window, but for those made just now.
func (w *writer) estimateAgain(s *sawState, first, last int64, fresh map[int64]bool) ([]change, error) {
	until := int64(forever)
	err := w.row(`SELECT at FROM pass WHERE saw_id = $1 AND at > $2 ORDER BY at LIMIT 1 OFFSET $3`,
		s.id, last, rateWindow).Scan(&until)
	if err != nil && !errors.Is(err, sql.ErrNoRows) {
		return nil, err
	}
	type stored struct {
		id, at int64
		kind   analyze.Kind
		cut    analyze.Cut
		area   *float64
	}
	var again []stored
	err = w.each(func(r scanner) error {
		var p stored
		err := r.Scan(append([]any{&p.id, &p.at, &p.kind, &p.area}, cutFields(&p.cut)...)...)
		if !fresh[p.id] {
			again = append(again, p)
		}
		return err
	}, `SELECT id, at, kind, area, `+cutColumns+` FROM pass
		WHERE saw_id = $1 AND at > $2 AND at <= $3 AND done IS NULL AND kind <> 'cut'`, s.id, first, until)
	if err != nil {
		return nil, err
	}
	var changed []change
	for i := range again {
		p := &again[i]
		area, err := w.estimatePass(s, p.id, p.at, p.kind, &p.cut)
		if err != nil {
			return nil, err
		}
		if number(area) != number(p.area) {
			changed = append(changed, change{at: p.at, grade: p.cut.Grade, old: p.area, new: area})
		}
	}
	return changed, nil
}

// estimatePass estimates and writes the share and the area of one pass, and
// returns the area, nil when it stays unknown.
func (w *writer) estimatePass(s *sawState, id, at int64, kind analyze.Kind, cut *analyze.Cut) (*float64, error) {
	rate, ok, err := w.pace(s.id, at, cut.Grade)
	if err != nil {
		return nil, err
	}
	if !ok && w.rate != nil {
		rate, ok = w.rate(s.name, cut.Grade)
	}
	c := *cut
	c.Done = nil
	if ok {
		c.Done = c.EstimateDone(rate)
	}
	area := c.Area(kind)
	return area, w.exec(`UPDATE pass SET estimate = $1, area = $2 WHERE id = $3`, number(c.Done), number(area), id)
}

// pace is the median in²/min of the saw's last finished cuts of a grade before
// a time.
func (w *writer) pace(saw, before int64, grade string) (float64, bool, error) {
	var rates []float64
	err := w.each(func(r scanner) error {
		var kind, of string
		var area, seconds *float64
		if err := r.Scan(&kind, &of, &area, &seconds); err != nil {
			return err
		}
		finished := kind == string(analyze.KindCut) && of == grade
		if finished && area != nil && seconds != nil && *seconds > 0 && len(rates) < rateCuts {
			rates = append(rates, *area / *seconds * 60)
		}
		return nil
	}, `SELECT kind, grade, area, seconds FROM pass WHERE saw_id = $1 AND at < $2
		ORDER BY at DESC, seq DESC, msg DESC LIMIT $3`, saw, before, rateWindow)
	if err != nil || len(rates) == 0 {
		return 0, false, err
	}
	return median(rates), true, nil
}

// median sorts its argument, which must not be empty.
func median(x []float64) float64 {
	slices.Sort(x)
	return (x[(len(x)-1)/2] + x[len(x)/2]) / 2
}
