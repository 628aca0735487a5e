package store

import (
	"context"
	"fmt"
	"time"

	"gullet/analyze"
)

// NewestPass is one of the newest passes of the blade that is on a saw.
type NewestPass struct {
	At        time.Time // by the saw's clock
	Kind      analyze.Kind
	Deviation *float64 // in, signed, nil when not measured
	Limit     *float64 // in, nil when the pass told none
	Height    *float64 // in
}

// NewestPasses lists the last n passes of the open fitting of a saw, the newest first;
// none where no blade is known to be on it.
func (s *Store) NewestPasses(ctx context.Context, saw string, n int) (list []NewestPass, err error) {
	err = s.query(ctx, func(r scanner) error {
		var p NewestPass
		var at int64
		err := r.Scan(&at, &p.Kind, &p.Deviation, &p.Limit, &p.Height)
		p.At = fromMicros(at)
		list = append(list, p)
		return err
	}, `SELECT at, kind, deviation, trip_limit, height FROM pass
		WHERE saw_id = (SELECT id FROM saw WHERE name = $1)
		AND at > (SELECT MAX(start_at) FROM fitting WHERE saw_id = (SELECT id FROM saw WHERE name = $1) AND end_at IS NULL)
		ORDER BY at DESC, seq DESC, msg DESC LIMIT $2`, saw, n)
	if err != nil {
		return nil, fmt.Errorf("newest passes of saw %s: %w", saw, err)
	}
	return list, nil
}
