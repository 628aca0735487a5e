package main

import (
	"sync/atomic"
	"time"
)

// demoClock stands at start until it is set running, and then runs at a
// factor.
type demoClock struct {
	start  time.Time // simulated
	factor float64
	began  atomic.Pointer[time.Time] // real, nil while it stands
}

func (c *demoClock) run() {
	now := time.Now()
	c.began.Store(&now)
}

func (c *demoClock) now() time.Time {
	began := c.began.Load()
	if began == nil {
		return c.start
	}
	return c.start.Add(time.Duration(float64(time.Since(*began)) * c.factor))
}
