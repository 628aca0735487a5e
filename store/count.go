package store

import (
	"context"
	"fmt"
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
