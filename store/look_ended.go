package store

import (
	"context"
	"fmt"
	"time"
)

// EndedRow is a fitting that ended its blade.
type EndedRow struct {
	FittingRow
	// Bare says that nothing came after it on its saw: neither a blade nor a pass.
	Bare bool
}

// Ended lists the fittings that ended their blades at or after a time, by saw and time.
func (s *Store) Ended(ctx context.Context, since time.Time) ([]EndedRow, error) {
	where := ` WHERE f.end_at >= $1 AND f.reason IN (` + endingReasons() + `)`
	rows, err := s.fittings(ctx, where, micros(since))
	if err != nil {
		return nil, fmt.Errorf("blades ended since %s: %w", since.Format(time.RFC3339), err)
	}
	bare := map[int64]bool{}
	err = s.query(ctx, func(r scanner) error {
		var id int64
		err := r.Scan(&id)
		bare[id] = true
		return err
	}, `SELECT f.id FROM fitting f`+where+`
		AND NOT EXISTS (SELECT 1 FROM fitting n WHERE n.saw_id = f.saw_id AND n.start_at > f.start_at)
		AND NOT EXISTS (SELECT 1 FROM pass p WHERE p.saw_id = f.saw_id AND p.at > f.end_at)`, micros(since))
	if err != nil {
		return nil, fmt.Errorf("saws bare since %s: %w", since.Format(time.RFC3339), err)
	}
	list := make([]EndedRow, len(rows))
	for i := range rows {
		list[i] = EndedRow{rows[i], bare[rows[i].ID]}
	}
	return list, nil
}
