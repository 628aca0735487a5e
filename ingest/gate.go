package ingest

import (
	"context"
	"sync"

	"golang.org/x/sync/semaphore"
)

// gate lets deliveries through until it is closed. Those that come later, or
// still wait for room then, are dropped without acknowledgement, so the broker
// delivers them again.
//
// It also bounds the bytes on their way: a flood of huge messages while the
// store is blocked is held back in the connection and not in memory.
type gate struct {
	closing context.Context
	end     context.CancelFunc
	bytes   *semaphore.Weighted
	passing sync.RWMutex // held for reading while a delivery may be sent
}

// maxBytes is how much may be on its way; ordinary readings stay far below.
const maxBytes = 64 << 20

func newGate() *gate {
	g := &gate{bytes: semaphore.NewWeighted(maxBytes)}
	g.closing, g.end = context.WithCancel(context.Background())
	return g
}

func (g *gate) pass(arrived chan<- delivery, d delivery) {
	g.passing.RLock()
	defer g.passing.RUnlock()
	size := min(int64(len(d.payload)), maxBytes)
	if g.bytes.Acquire(g.closing, size) != nil {
		return
	}
	acknowledge := d.ack
	d.ack = func() {
		acknowledge()
		g.bytes.Release(size)
	}
	select {
	case <-g.closing.Done():
	case arrived <- d:
	}
}

// close does not wait for room in the queue: while the store refuses there may
// never be any, and a stop must end all the same.
func (g *gate) close(arrived chan<- delivery) {
	if g.closing.Err() != nil {
		return
	}
	g.end()
	g.passing.Lock()
	defer g.passing.Unlock()
	close(arrived)
}
