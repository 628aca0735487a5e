package app

import (
	"context"
	"fmt"
	"net/http"

	"github.com/prometheus/client_golang/prometheus/promhttp"

	"gullet/cmd/gullet/internal/metrics"
	"gullet/cmd/gullet/internal/watch"
)

// checker says whether the store can be read.
type checker interface {
	Check(ctx context.Context) error
}

// handler answers whether the daemon lives, whether it can do its work, and
// what it has counted.
func (a *App) handler(m *metrics.Metrics, w *watch.Watch, db checker) http.Handler {
	mux := http.NewServeMux()
	mux.HandleFunc("GET /healthz", func(rw http.ResponseWriter, _ *http.Request) {
		_, _ = fmt.Fprintln(rw, "alive")
	})
	mux.HandleFunc("GET /readyz", func(rw http.ResponseWriter, r *http.Request) {
		if why := a.notReady(r.Context(), m, w, db); why != "" {
			http.Error(rw, "not ready: "+why, http.StatusServiceUnavailable)
			return
		}
		_, _ = fmt.Fprintln(rw, "ready")
	})
	mux.Handle("GET /metrics", promhttp.HandlerFor(m.Registry, promhttp.HandlerOpts{}))
	return mux
}

// notReady is why the daemon cannot do its work, "" when it can.
func (a *App) notReady(ctx context.Context, m *metrics.Metrics, w *watch.Watch, db checker) string {
	switch err := db.Check(ctx); {
	case err != nil:
		return err.Error()
	case a.damage.Load() != nil:
		return (*a.damage.Load()).Error()
	case !m.BrokerConnected():
		return "the broker is not connected or refuses a subscription; see the log"
	case m.Failing() != nil:
		return "readings cannot be stored: " + m.Failing().Error()
	case w.Newest() == nil:
		return "the first floor is still being built"
	}
	return ""
}
