// Command gullet listens to a shop's band saws and says how much each blade
// has cut, how much it has left, and why the saws stood still.
package main

import (
	"context"
	"os"
	"os/signal"
	"syscall"
	"time"
)

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	p := &program{in: os.Stdin, out: os.Stdout, errOut: os.Stderr, environ: os.Environ(), now: time.Now}
	code := p.run(ctx, os.Args[1:])
	stop()
	os.Exit(code)
}
