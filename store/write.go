package store

import (
	"context"
	"errors"
	"fmt"
	"strings"
)

// write runs f with the writing connection in one transaction, with everything f
// writes or nothing.
func (s *Store) write(ctx context.Context, f func(w *writer) error) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.w == nil {
		return ErrReadOnly
	}
	return s.w.transaction(ctx, func() error { return f(s.w) })
}

// arrived tells readers that so many records are new.
func (w *writer) arrived(n int64) error {
	if n == 0 {
		return nil
	}
	return w.exec(`UPDATE arrivals SET n = n + $1 WHERE id = 1`, n)
}

// answerable refuses a person's record that does not say who and why.
func answerable(who, why string) error {
	if strings.TrimSpace(who) == "" || strings.TrimSpace(why) == "" {
		return errors.New("who says so and why are needed")
	}
	return bounded(who, why)
}

// bounded refuses texts that are too long.
func bounded(texts ...string) error {
	for _, text := range texts {
		if len(text) > maxText {
			return fmt.Errorf("a text of %d bytes, at most %d are allowed", len(text), maxText)
		}
	}
	return nil
}
