package config

import (
	"flag"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

var update = flag.Bool("update", false, "write the golden files anew")

// golden compares got with the file, or writes it with -update.
func golden(t *testing.T, file, got string) {
	t.Helper()
	if *update {
		if err := os.WriteFile(file, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(string(want), got); diff != "" {
		t.Errorf("%s (-want +got; -update writes it anew):\n%s", file, diff)
	}
}

// One file for each rule, beside it what a person reads. Every line names the
// file, and no line shows a password.
func TestBadFiles(t *testing.T) {
	files, err := filepath.Glob("testdata/bad/*.toml")
	if err != nil || len(files) == 0 {
		t.Fatalf("no bad files: %v", err)
	}
	for _, file := range files {
		name := strings.TrimSuffix(filepath.Base(file), ".toml")
		t.Run(name, func(t *testing.T) {
			l, err := Load(Options{File: file, FileRequired: true})
			if err == nil {
				t.Fatal("accepted")
			}
			if l != nil {
				t.Error("a configuration came with the error")
			}
			for line := range strings.SplitSeq(err.Error(), "\n") {
				if !strings.HasPrefix(line, file+":") {
					t.Errorf("line does not begin with the file: %s", line)
				}
			}
			if strings.Contains(err.Error(), "hunter2") {
				t.Error("the password is shown")
			}
			golden(t, strings.TrimSuffix(file, ".toml")+".txt", err.Error()+"\n")
		})
	}
}

// What is wrong outside the file is named by variable or flag.
func TestBadSurroundings(t *testing.T) {
	const broker = "GULLET_MQTT_BROKER=tpc://planner:hunter2@b:1883"
	tests := map[string]struct {
		options Options
		want    string
	}{
		"unknown variable": {
			Options{File: absent, Env: []string{"GULLET_MQTT_BROKR=tcp://b:1883", "OTHER=1"}},
			`GULLET_MQTT_BROKR: no such variable; allowed is GULLET_SECTION_KEY for a key of the file's single sections; did you mean "GULLET_MQTT_BROKER"?`,
		},
		"variable without unit": {
			Options{File: absent, Env: []string{"GULLET_MQTT_KEEPALIVE=30"}},
			`GULLET_MQTT_KEEPALIVE: mqtt.keepalive: found "30"; allowed is a duration with its unit, such as "30s", "15m" or "24h", from 1s to 18h12m15s`,
		},
		"invalid UTF-8 in a variable": {
			Options{File: absent, Env: []string{"GULLET_MQTT_USER=\xff"}},
			`GULLET_MQTT_USER: mqtt.user: found "\xff"; allowed is a text of 0 to 256 characters, with no control characters and no spaces around it`,
		},
		"secret in a variable": {
			Options{File: absent, Env: []string{broker}},
			`GULLET_MQTT_BROKER: mqtt.broker: found "tpc://***@b:1883"; the scheme is "tpc"; allowed is "tcp", "mqtt", "ws", "ssl", "mqtts" or "wss"; did you mean "tcp"?`,
		},
		"a wrong value under a right flag": {
			Options{File: absent, Env: []string{"GULLET_LISTEN_ADDRESS=9480"}, Flags: map[string]string{"listen": ":9480"}},
			`GULLET_LISTEN_ADDRESS: listen.address: found "9480"; allowed is host:port, such as "127.0.0.1:9480", with a port from 0 (any free one) to 65535`,
		},
		"flag": {
			Options{File: absent, Flags: map[string]string{"db": ""}},
			`--db: store.path: found ""; allowed is a text of 1 to 4096 characters, with no control characters and no spaces around it`,
		},
		"flag that no key has": {
			Options{File: absent, Flags: map[string]string{"json": "true"}},
			`--json: no key has this flag`,
		},
		"file and variable, in this order": {
			Options{File: "testdata/bad/units.toml", Env: []string{"GULLET_SHOP_ZONE="}},
			`testdata/bad/units.toml:2: shop.units: found "inch"; allowed is "in" or "mm"; did you mean "in"?` + "\n" +
				`GULLET_SHOP_ZONE: shop.zone: found ""; allowed is a zone name of the IANA time zone database, such as "UTC" or "America/Chicago"`,
		},
		"named file is missing": {
			Options{File: "testdata/nowhere.toml", FileRequired: true},
			`testdata/nowhere.toml: cannot read the configuration: no such file or directory`,
		},
		"file named by GULLET_CONFIG is missing": {
			Options{File: absent, Env: []string{"GULLET_CONFIG=testdata/nowhere.toml"}},
			`testdata/nowhere.toml: cannot read the configuration: no such file or directory`,
		},
		"file is a directory": {
			Options{File: "testdata"},
			`testdata: cannot read the configuration: is a directory`,
		},
	}
	for name, tt := range tests {
		t.Run(name, func(t *testing.T) {
			_, err := Load(tt.options)
			if err == nil {
				t.Fatal("accepted")
			}
			if diff := cmp.Diff(tt.want, err.Error()); diff != "" {
				t.Errorf("-want +got:\n%s", diff)
			}
		})
	}
}

func TestOversizeFile(t *testing.T) {
	file := filepath.Join(t.TempDir(), "big.toml")
	if err := os.WriteFile(file, []byte(strings.Repeat("#\n", maxFile/2+1)), 0o600); err != nil {
		t.Fatal(err)
	}
	_, err := Load(Options{File: file})
	if want := file + ": found 1048578 bytes; allowed are up to 1048576"; err == nil || err.Error() != want {
		t.Errorf("got %v, want %s", err, want)
	}
}
