package main

import (
	"encoding/json"
	"errors"
	"io"
	"os/exec"
	"slices"
	"strings"
	"testing"
)

// TestImportsRunOneWay holds the house to its direction: cmd → ingest, store,
// config → analyze. It looks at everything a package pulls in, not only at
// what it names itself.
func TestImportsRunOneWay(t *testing.T) {
	const sql, mqtt, conf = "keeps SQL in store", "keeps MQTT in ingest", "keeps configuration in config"
	rules := []struct {
		from, never, because string
	}{
		{"gullet/analyze", "gullet/ingest", "analyze is the ground floor"},
		{"gullet/analyze", "gullet/store", "analyze is the ground floor"},
		{"gullet/analyze", "gullet/config", "analyze is the ground floor"},
		{"gullet/analyze", "gullet/cmd", "analyze is the ground floor"},
		{"gullet/analyze", "database/sql", sql},
		{"gullet/analyze", "github.com/mattn/go-sqlite3", sql},
		{"gullet/analyze", "github.com/eclipse/paho.mqtt.golang", mqtt},
		{"gullet/analyze", "github.com/spf13/viper", conf},
		{"gullet/analyze", "log/slog", "analyze does not log"},
		{"gullet/analyze", "net", "analyze has no I/O"},
		{"gullet/analyze", "os/exec", "analyze has no I/O"},
		{"gullet/ingest", "gullet/store", "ingest hands batches to an interface"},
		{"gullet/ingest", "gullet/config", conf},
		{"gullet/ingest", "gullet/cmd", "cmd wires, nobody imports it"},
		{"gullet/ingest", "database/sql", sql},
		{"gullet/ingest", "github.com/spf13/viper", conf},
		{"gullet/store", "gullet/ingest", "store does not know where readings come from"},
		{"gullet/store", "gullet/config", conf},
		{"gullet/store", "gullet/cmd", "cmd wires, nobody imports it"},
		{"gullet/store", "github.com/eclipse/paho.mqtt.golang", mqtt},
		{"gullet/store", "github.com/spf13/viper", conf},
		{"gullet/config", "gullet/ingest", "config knows only the shop"},
		{"gullet/config", "gullet/store", "config knows only the shop"},
		{"gullet/config", "gullet/cmd", "cmd wires, nobody imports it"},
		{"gullet/config", "database/sql", sql},
		{"gullet/config", "github.com/eclipse/paho.mqtt.golang", mqtt},
	}
	deps := packageDeps(t)
	for _, r := range rules {
		found := false
		for pkg, imports := range deps {
			if !within(pkg, r.from) {
				continue
			}
			found = true
			if i := slices.IndexFunc(imports, func(dep string) bool { return within(dep, r.never) }); i >= 0 {
				t.Errorf("%s pulls in %s: %s", pkg, imports[i], r.because)
			}
		}
		if !found {
			t.Errorf("no package under %s: the rule checks nothing", r.from)
		}
	}
}

// TestAnalyzeHasNoClock looks at direct imports only, for gonum itself may use
// what analyze may not.
func TestAnalyzeHasNoClock(t *testing.T) {
	out, err := exec.Command("grep", "-rnE", `time\.(Now|Since|Until|Sleep|After)\(|"math/rand"|rand\.(Float64|IntN|NormFloat64)\(`,
		"--include=*.go", "--exclude=*_test.go", "../../analyze").CombinedOutput()
	if err == nil {
		t.Errorf("analyze takes time and randomness as arguments:\n%s", out)
	} else if code := exitCode(err); code != 1 { // 1: nothing found
		t.Fatalf("grep: %v\n%s", err, out)
	}
}

func exitCode(err error) int {
	if e, ok := errors.AsType[*exec.ExitError](err); ok {
		return e.ExitCode()
	}
	return -1
}

func within(pkg, tree string) bool { return pkg == tree || strings.HasPrefix(pkg, tree+"/") }

func packageDeps(t *testing.T) map[string][]string {
	t.Helper()
	out, err := exec.Command("go", "list", "-json=ImportPath,Deps", "gullet/...").Output()
	if err != nil {
		t.Fatalf("go list: %v", err)
	}
	deps := map[string][]string{}
	for dec := json.NewDecoder(strings.NewReader(string(out))); ; {
		var p struct {
			ImportPath string
			Deps       []string
		}
		if err := dec.Decode(&p); errors.Is(err, io.EOF) {
			return deps
		} else if err != nil {
			t.Fatal(err)
		}
		deps[p.ImportPath] = p.Deps
	}
}
