package main

import (
	"database/sql"
	"encoding/json"
	"errors"
	"math"
	"net"
	"net/http"
	"os"
	"os/exec"
	"regexp"
	"strconv"
	"strings"
	"syscall"
	"time"

	"github.com/rogpeppe/go-internal/testscript"
)

// patience bounds every wait of a script; nothing is judged by how long it took.
const patience = 20 * time.Second

// scriptCommands are what the scripts may say besides testscript's own.
var scriptCommands = map[string]func(ts *testscript.TestScript, neg bool, args []string){
	"exits":     cmdExits,
	"freeport":  cmdFreePort,
	"ready":     cmdReady,
	"until":     cmdUntil,
	"json":      cmdJSON,
	"ago":       cmdAgo,
	"expand":    cmdExpand,
	"newer":     cmdNewer,
	"refuse":    cmdRefuse,
	"accept":    cmdAccept,
	"terminate": cmdTerminate,
}

// arguments refuses a script's wrong call of a command.
func arguments(ts *testscript.TestScript, neg bool, args []string, least int, usage string) {
	if neg || len(args) < least {
		ts.Fatalf("usage: %s", usage)
	}
}

// cmdExits runs a command, wants that exit code, and of a failure one line.
func cmdExits(ts *testscript.TestScript, neg bool, args []string) {
	arguments(ts, neg, args, 2, "exits CODE COMMAND [ARG...]")
	got := 0
	if err := ts.Exec(args[1], args[2:]...); err != nil {
		var exit *exec.ExitError
		if !errors.As(err, &exit) {
			ts.Check(err)
		}
		got = exit.ExitCode()
		if n := strings.Count(ts.ReadFile("stderr"), "\n"); n != 1 {
			ts.Fatalf("%d lines of error, want one", n)
		}
	}
	if strconv.Itoa(got) != args[0] {
		ts.Fatalf("exit code %d, want %s", got, args[0])
	}
}

// cmdFreePort sets each variable to a loopback address nobody listens on.
func cmdFreePort(ts *testscript.TestScript, neg bool, args []string) {
	arguments(ts, neg, args, 1, "freeport VARIABLE...")
	for _, name := range args {
		l, err := net.Listen("tcp", "127.0.0.1:0")
		ts.Check(err)
		ts.Setenv(name, l.Addr().String())
		defer func() { _ = l.Close() }() // after all are chosen, so that they differ
	}
}

// cmdReady waits until a daemon says at /readyz that it is.
func cmdReady(ts *testscript.TestScript, neg bool, args []string) {
	arguments(ts, neg, args, 1, "ready ADDRESS")
	last := "no answer"
	for begun := time.Now(); time.Since(begun) < patience; time.Sleep(20 * time.Millisecond) {
		r, err := http.Get("http://" + args[0] + "/readyz")
		if err != nil {
			last = err.Error()
			continue
		}
		_ = r.Body.Close()
		if r.StatusCode == http.StatusOK {
			return
		}
		last = r.Status
	}
	ts.Fatalf("the daemon at %s is not ready: %s", args[0], last)
}

// cmdTerminate asks what the script started in the background to stop, as a
// service manager does; wait then tells how it ended. (testscript's own stop
// ends the script.)
func cmdTerminate(ts *testscript.TestScript, neg bool, args []string) {
	arguments(ts, neg, args, 0, "terminate")
	for _, c := range ts.BackgroundCmds() {
		ts.Check(c.Process.Signal(syscall.SIGTERM))
	}
}

// cmdUntil runs a command again until its output matches.
func cmdUntil(ts *testscript.TestScript, neg bool, args []string) {
	arguments(ts, neg, args, 2, "until REGEXP COMMAND [ARG...]")
	want, err := regexp.Compile("(?m)" + args[0])
	ts.Check(err)
	for begun := time.Now(); time.Since(begun) < patience; time.Sleep(20 * time.Millisecond) {
		ts.Check(ts.Exec(args[1], args[2:]...))
		if want.MatchString(ts.ReadFile("stdout")) {
			return
		}
	}
	ts.Fatalf("no match for %s in\n%s", args[0], ts.ReadFile("stdout"))
}

// cmdJSON compares a value of the last command's output, at a path such as
// saws.0.blade.serial, with a JSON value; numbers within the tolerance.
func cmdJSON(ts *testscript.TestScript, neg bool, args []string) {
	arguments(ts, neg, args, 2, "json PATH VALUE [TOLERANCE]")
	var at any
	ts.Check(json.Unmarshal([]byte(ts.ReadFile("stdout")), &at))
	for _, step := range strings.Split(args[0], ".") {
		switch v := at.(type) {
		case map[string]any:
			member, ok := v[step]
			if !ok {
				ts.Fatalf("%s: there is no member %q", args[0], step)
			}
			at = member
		case []any:
			i, err := strconv.Atoi(step)
			if err != nil || i < 0 || i >= len(v) {
				ts.Fatalf("%s: there is no element %s of %d", args[0], step, len(v))
			}
			at = v[i]
		default:
			ts.Fatalf("%s: %v has no %q", args[0], at, step)
		}
	}
	var want any
	ts.Check(json.Unmarshal([]byte(args[1]), &want))
	got, isNumber := at.(float64)
	if number, ok := want.(float64); ok && isNumber && len(args) == 3 {
		tolerance, err := strconv.ParseFloat(args[2], 64)
		ts.Check(err)
		if !(math.Abs(got-number) <= tolerance) {
			ts.Fatalf("%s is %v, want %v ± %v", args[0], got, number, tolerance)
		}
		return
	}
	if at != want {
		ts.Fatalf("%s is %v, want %v", args[0], at, want)
	}
}

// cmdAgo sets a variable to a time so long ago: the daemon refuses readings of
// another year, so a script cannot hold fixed times.
func cmdAgo(ts *testscript.TestScript, neg bool, args []string) {
	arguments(ts, neg, args, 2, "ago VARIABLE DURATION")
	d, err := time.ParseDuration(args[1])
	ts.Check(err)
	ts.Setenv(args[0], time.Now().Add(-d).UTC().Format(time.RFC3339))
}

// cmdExpand puts the script's variables in place of their names in a file.
func cmdExpand(ts *testscript.TestScript, neg bool, args []string) {
	arguments(ts, neg, args, 1, "expand FILE...")
	for _, name := range args {
		text := os.Expand(ts.ReadFile(name), ts.Getenv)
		ts.Check(os.WriteFile(ts.MkAbs(name), []byte(text), 0o600))
	}
}

// cmdNewer marks a database as written by a later Gullet.
func cmdNewer(ts *testscript.TestScript, neg bool, args []string) {
	arguments(ts, neg, args, 1, "newer FILE")
	change(ts, args[0], `INSERT INTO goose_db_version (version_id, is_applied) VALUES (9999, 1)`)
}

// cmdRefuse has a database take no forecast, as a full disk would; cmdAccept has it
// take them again.
func cmdRefuse(ts *testscript.TestScript, neg bool, args []string) {
	arguments(ts, neg, args, 1, "refuse FILE")
	change(ts, args[0], `CREATE TRIGGER refused BEFORE INSERT ON forecast BEGIN SELECT RAISE(ABORT, 'no space'); END`)
}

func cmdAccept(ts *testscript.TestScript, neg bool, args []string) {
	arguments(ts, neg, args, 1, "accept FILE")
	change(ts, args[0], `DROP TRIGGER refused`)
}

// change runs one statement on a database.
func change(ts *testscript.TestScript, file, statement string) {
	db, err := sql.Open("sqlite3", ts.MkAbs(file))
	ts.Check(err)
	defer func() { _ = db.Close() }()
	_, err = db.Exec(statement)
	ts.Check(err)
}
