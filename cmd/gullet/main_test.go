package main

import (
	"flag"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"
)

var update = flag.Bool("update", false, "rewrite the wanted output of the scripts")

// TestMain lets this test binary stand in for gullet, in the scripts and where
// a test must kill a real process.
func TestMain(m *testing.M) {
	testscript.Main(m, map[string]func(){"gullet": main})
}

func TestScripts(t *testing.T) {
	testscript.Run(t, testscript.Params{
		Dir: "testdata/script", Cmds: scriptCommands, UpdateScripts: *update, RequireExplicitExec: true,
		// A program with the race detector else lingers a second at its exit.
		Setup: func(e *testscript.Env) error { e.Setenv("GORACE", "atexit_sleep_ms=0"); return nil },
	})
}
