package store

import (
	"context"
	"fmt"
	"time"
)

// RejectedCount is how many messages are kept as rejected and not stored by a
// retry since.
func (s *Store) RejectedCount(ctx context.Context) (int64, error) {
	var n int64
	err := s.reader.QueryRowContext(ctx, `SELECT COUNT(*) FROM rejected WHERE retried IS NULL`).Scan(&n)
	if err != nil {
		return 0, fmt.Errorf("count rejected messages: %w", err)
	}
	return n, nil
}

// RejectedSince counts messages rejected since a time and not stored by a retry. Of one
// that came before and again since, the row tells only that it came at least once.
func (s *Store) RejectedSince(ctx context.Context, since time.Time) (int64, error) {
	var n int64
	err := s.reader.QueryRowContext(ctx, `SELECT COALESCE(SUM(CASE WHEN first >= $1 THEN times ELSE 1 END), 0)
		FROM rejected WHERE last >= $1 AND retried IS NULL`, bound(since)).Scan(&n)
	if err != nil {
		return 0, fmt.Errorf("count messages rejected since %s: %w", since.Format(time.RFC3339), err)
	}
	return n, nil
}
