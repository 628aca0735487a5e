package life

import (
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"
)

// besideR times the same work by R's survival package: it reads start (unused),
// area and ended, or the columns of weights, and prints the milliseconds of the
// median of five runs of each.
const besideR = `
suppressMessages(library(survival))
d <- commandArgs(TRUE)[1]
x <- read.csv(file.path(d, "lives.csv")); w <- read.csv(file.path(d, "mixed.csv"))
ms <- function(f, n=5) median(sapply(1:n, function(i) { gc(FALSE); system.time(f())[["elapsed"]] * 1000 }))
S <- Surv(x$area, x$ended)
cat("weibull", ms(function() survreg(S ~ 1, dist="weibull")), "\n")
cat("curve", ms(function() survfit(S ~ 1, conf.type="log-log")), "\n")
A <- as.matrix(w[, grep("^class", names(w))]); e <- w$ended; l <- w$last
nl <- function(p) { k <- exp(p[1]); s <- exp(p[2]); b <- c(0, p[-(1:2)]); E <- as.vector(A %*% exp(b)); z <- (E/s)^k
  -(sum(e * (log(k) - log(s) + (k-1) * log(E/s) + b[l])) - sum(z)) }
cat("weights", ms(function() optim(c(0, log(mean(rowSums(A))), rep(0, ncol(A)-1)), nl, method="BFGS", hessian=TRUE), 1), "\n")
`

// BenchmarkBesideR holds the three fits that have a limit in time against it,
// and, where Rscript and its package survival are installed, against R on the
// same data in the same run. R has no fit of weights; its general optimiser is
// given the same likelihood.
func BenchmarkBesideR(b *testing.B) {
	random := rand.New(rand.NewPCG(20, 0))
	obs := drawnLives(random, 20_000, 2.5, 10000, 16000)
	blades := drawMixed(random, 5_000, 2.4, 9000, []float64{0, 0.2, 0.4, 0.6, 0.8, 1, 1.2, 2}, false)
	r := timesOfR(b, obs, blades)
	for _, c := range []struct {
		name  string
		limit time.Duration
		fit   func() error
	}{
		{"weibull", 20 * time.Millisecond, func() error { _, err := FitWeibull(obs); return err }},
		{"curve", 5 * time.Millisecond, func() error { _, err := KaplanMeier(obs); return err }},
		{"weights", 200 * time.Millisecond, func() error { _, err := FitWeights(blades, 0, nil); return err }},
	} {
		b.Run(c.name, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				if err := c.fit(); err != nil {
					b.Fatal(err)
				}
			}
			ms := float64(b.Elapsed().Microseconds()) / 1000 / float64(b.N)
			b.ReportMetric(ms, "ms")
			b.ReportMetric(ms/(float64(c.limit.Microseconds())/1000), "of-limit")
			if theirs, ok := r[c.name]; ok {
				b.ReportMetric(theirs, "R-ms")
				b.ReportMetric(ms/theirs, "of-R")
			}
		})
	}
}

// timesOfR is empty where R or its package is missing, which the benchmark says.
func timesOfR(b *testing.B, obs []Observation, blades []Mixed) map[string]float64 {
	b.Helper()
	path, err := exec.LookPath("Rscript")
	if err != nil {
		b.Log("NOT COMPARED: Rscript is not installed, only ours is timed")
		return nil
	}
	dir := b.TempDir()
	var lives, mixed strings.Builder
	lives.WriteString("area,ended\n")
	for _, o := range obs {
		fmt.Fprintf(&lives, "%v,%d\n", o.Area, indicator(o.Ended))
	}
	for class := range blades[0].Areas {
		fmt.Fprintf(&mixed, "class%d,", class)
	}
	mixed.WriteString("ended,last\n")
	for _, m := range blades {
		for _, area := range m.Areas {
			fmt.Fprintf(&mixed, "%v,", area)
		}
		fmt.Fprintf(&mixed, "%d,%d\n", indicator(m.Ended), m.Last+1)
	}
	for name, text := range map[string]string{"lives.csv": lives.String(), "mixed.csv": mixed.String(), "beside.R": besideR} {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o600); err != nil {
			b.Fatal(err)
		}
	}
	out, err := exec.Command(path, filepath.Join(dir, "beside.R"), dir).CombinedOutput()
	if err != nil {
		b.Logf("NOT COMPARED: R could not do its part: %v\n%s", err, out)
		return nil
	}
	times := map[string]float64{}
	for line := range strings.Lines(string(out)) {
		if f := strings.Fields(line); len(f) == 2 {
			times[f[0]], _ = strconv.ParseFloat(f[1], 64)
		}
	}
	return times
}

func indicator(is bool) int {
	if is {
		return 1
	}
	return 0
}
