package config

import (
	"bytes"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"gullet/analyze"
	"gullet/analyze/downtime"
	"gullet/analyze/shift"
)

// absent is a file that is not there, so that the example in this directory is
// not taken for the shop's file.
const absent = "testdata/absent.toml"

// load writes text as a file and loads it with nothing else around.
func load(t *testing.T, text string) *Loaded {
	t.Helper()
	l, err := Load(Options{File: write(t, text), FileRequired: true})
	if err != nil {
		t.Fatal(err)
	}
	return l
}

func write(t *testing.T, text string) string {
	t.Helper()
	file := filepath.Join(t.TempDir(), "gullet.toml")
	if err := os.WriteFile(file, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	return file
}

// nothing is what Gullet runs with when nobody configured anything.
func nothing(t *testing.T) *Loaded {
	t.Helper()
	l, err := Load(Options{File: absent})
	if err != nil {
		t.Fatal(err)
	}
	return l
}

func TestDefaults(t *testing.T) {
	l := nothing(t)
	want := Config{
		MQTT: MQTT{
			ClientID: "gullet", Topics: []string{"saws/+/+"}, MaxPayload: 262144, Keepalive: 30 * time.Second,
			EmbeddedListen: "127.0.0.1:1883", Oldest: 8640 * time.Hour, Ahead: 24 * time.Hour,
		},
		Store:  Store{Path: "gullet.db"},
		Listen: Listen{Address: "127.0.0.1:9480"},
		Shop: Shop{
			Zone: "UTC", Units: "in", Currency: "USD",
			SilentAfter: 15 * time.Minute, SkewWarning: 30 * time.Second,
		},
		Plan: Plan{PlannedChange: 15 * time.Minute, UnplannedChange: 45 * time.Minute, Fitter: 2 * time.Hour, Service: 0.95, Lead: 168 * time.Hour},
		Downtime: Downtime{
			Minor: 3 * time.Minute, BetweenCuts: 10 * time.Minute, Restart: 10 * time.Minute, ToldFor: 12 * time.Hour, Long: 15 * time.Minute,
		},
		Alerts: Alerts{Enabled: true},
		Grades: defaultGrades(),
	}
	if diff := cmp.Diff(want, l.Config, cmpopts.EquateEmpty()); diff != "" {
		t.Errorf("-want +got:\n%s", diff)
	}
	if l.File != "" {
		t.Errorf("file %q was not read", l.File)
	}
}

// Every default must pass its own check, or a file that spells it out would be
// refused.
func TestDefaultsPassTheirChecks(t *testing.T) {
	var p bytes.Buffer
	if err := nothing(t).Print(&p); err != nil {
		t.Fatal(err)
	}
	load(t, p.String())
}

// Each layer beats those below it, and Print says which one won.
func TestPrecedence(t *testing.T) {
	const file, env, flag = "tcp://file:1883", "tcp://env:1883", "tcp://flag:1883"
	inFile := write(t, "[mqtt]\nclient_id = \"floor\"\nbroker = \""+file+"\"\n")
	inEnv := []string{"GULLET_MQTT_BROKER=tcp://first:1", "PATH=/bin", "GULLET_MQTT_BROKER=" + env}
	inFlags := map[string]string{"broker": flag}
	tests := map[string]struct {
		options       Options
		value, origin string
	}{
		"default":                   {Options{File: absent}, "", "default"},
		"file beats default":        {Options{File: inFile}, file, inFile + ":3"},
		"environment beats file":    {Options{File: inFile, Env: inEnv}, env, "GULLET_MQTT_BROKER"},
		"flag beats environment":    {Options{File: inFile, Env: inEnv, Flags: inFlags}, flag, "--broker"},
		"environment beats default": {Options{File: absent, Env: inEnv}, env, "GULLET_MQTT_BROKER"},
		"flag beats file":           {Options{File: inFile, Flags: inFlags}, flag, "--broker"},
		"an empty variable is a value": {
			Options{File: inFile, Env: []string{"GULLET_MQTT_BROKER="}}, "", "GULLET_MQTT_BROKER",
		},
	}
	for name, tt := range tests {
		t.Run(name, func(t *testing.T) {
			l, err := Load(tt.options)
			if err != nil {
				t.Fatal(err)
			}
			if l.MQTT.Broker != tt.value {
				t.Errorf("broker %q, want %q", l.MQTT.Broker, tt.value)
			}
			if tt.options.File == inFile && l.MQTT.ClientID != "floor" {
				t.Errorf("client id %q: a higher layer hid a key it does not have", l.MQTT.ClientID)
			}
			var p bytes.Buffer
			if err := l.Print(&p); err != nil {
				t.Fatal(err)
			}
			if line := lineOf(p.String(), "broker = "); !strings.HasSuffix(line, " # "+tt.origin) {
				t.Errorf("printed %q, want the origin %q", line, tt.origin)
			}
		})
	}
}

// lineOf is the first line of text with that beginning.
func lineOf(text, beginning string) string {
	for line := range strings.SplitSeq(text, "\n") {
		if strings.HasPrefix(line, beginning) {
			return line
		}
	}
	return ""
}

func TestWhichFile(t *testing.T) {
	one := write(t, "[store]\npath = \"one.db\"\n")
	two := write(t, "[store]\npath = \"two.db\"\n")
	named := []string{"GULLET_CONFIG=" + two}
	tests := map[string]struct {
		options Options
		want    string
	}{
		"the flag's":                        {Options{File: one, FileRequired: true}, "one.db"},
		"GULLET_CONFIG's":                   {Options{Env: named}, "two.db"},
		"GULLET_CONFIG over the usual name": {Options{File: one, Env: named}, "two.db"},
		"the flag's over GULLET_CONFIG":     {Options{File: one, FileRequired: true, Env: named}, "one.db"},
		"an empty GULLET_CONFIG is none":    {Options{File: one, Env: []string{"GULLET_CONFIG="}}, "one.db"},
	}
	for name, tt := range tests {
		t.Run(name, func(t *testing.T) {
			l, err := Load(tt.options)
			if err != nil {
				t.Fatal(err)
			}
			if l.Store.Path != tt.want {
				t.Errorf("read %q, want the file with %q", l.File, tt.want)
			}
		})
	}
}

// Every key of the single sections answers to its variable. The value is not
// the default, so a variable that is ignored shows.
func TestEnvironmentReachesEveryKey(t *testing.T) {
	pem := filepath.Join("testdata", "pem.txt")
	values := map[string]string{
		"GULLET_MQTT_BROKER": "ssl://b:8883", "GULLET_MQTT_CLIENT_ID": "two", "GULLET_MQTT_TOPICS": "a/+/+, b/#",
		"GULLET_MQTT_USER": "planner", "GULLET_MQTT_PASSWORD_FILE": pem, "GULLET_MQTT_CA_FILE": pem,
		"GULLET_MQTT_CERT_FILE": pem, "GULLET_MQTT_KEY_FILE": pem, "GULLET_MQTT_MAX_PAYLOAD": "1 MB",
		"GULLET_MQTT_KEEPALIVE": "1m", "GULLET_MQTT_EMBEDDED_LISTEN": ":0", "GULLET_MQTT_EMBEDDED_DIR": "q",
		"GULLET_MQTT_OLDEST": "48h", "GULLET_MQTT_AHEAD": "1h", "GULLET_MQTT_PUBLISH_FORECASTS": "true", "GULLET_STORE_PATH": "x.db",
		"GULLET_LISTEN_ADDRESS": "[::1]:80", "GULLET_SHOP_ZONE": "America/Chicago", "GULLET_SHOP_UNITS": "mm",
		"GULLET_SHOP_CURRENCY": "EUR", "GULLET_SHOP_SILENT_AFTER": "1h30m", "GULLET_SHOP_SKEW_WARNING": "45s",
		"GULLET_SHOP_HOLIDAYS": "2026-12-25, 2027-01-01",
		"GULLET_PLAN_SAW_HOUR": "110.5", "GULLET_PLAN_PLANNED_CHANGE": "20m", "GULLET_PLAN_UNPLANNED_CHANGE": "1h", "GULLET_PLAN_FITTER": "90m",
		"GULLET_PLAN_SCRAP": "60", "GULLET_PLAN_LATE": "500", "GULLET_PLAN_RISK": "0.1", "GULLET_PLAN_SERVICE": "0.9", "GULLET_PLAN_LEAD": "72h",
		"GULLET_DOWNTIME_MINOR": "0s", "GULLET_DOWNTIME_BETWEEN_CUTS": "20m", "GULLET_DOWNTIME_RESTART": "5m",
		"GULLET_DOWNTIME_TOLD_FOR": "48h", "GULLET_DOWNTIME_LONG": "1h",
		"GULLET_ALERTS_ENABLED": "false", "GULLET_ALERTS_LINK": "https://gullet.shop/saws/",
	}
	var env []string
	for _, s := range settings() {
		v, ok := values[s.env()]
		if !ok {
			t.Errorf("this test sets no %s", s.env())
		}
		env = append(env, s.env()+"="+v)
	}
	l, err := Load(Options{File: absent, Env: env})
	if err != nil {
		t.Fatal(err)
	}
	want := Config{
		MQTT: MQTT{
			Broker: "ssl://b:8883", ClientID: "two", Topics: []string{"a/+/+", "b/#"}, User: "planner",
			PasswordFile: pem, CAFile: pem, CertFile: pem, KeyFile: pem, MaxPayload: 1_000_000, Keepalive: time.Minute,
			EmbeddedListen: ":0", EmbeddedDir: "q", Oldest: 48 * time.Hour, Ahead: time.Hour, PublishForecasts: true,
		},
		Store:  Store{Path: "x.db"},
		Listen: Listen{Address: "[::1]:80"},
		Shop: Shop{
			Zone: "America/Chicago", Units: "mm", Currency: "EUR",
			SilentAfter: 90 * time.Minute, SkewWarning: 45 * time.Second,
			Holidays: []shift.Date{{Year: 2026, Month: 12, Day: 25}, {Year: 2027, Month: 1, Day: 1}},
		},
		Plan: Plan{SawHour: 110.5, PlannedChange: 20 * time.Minute, UnplannedChange: time.Hour, Fitter: 90 * time.Minute, Scrap: 60, Late: 500, Risk: 0.1, Service: 0.9, Lead: 72 * time.Hour},
		Downtime: Downtime{
			BetweenCuts: 20 * time.Minute, Restart: 5 * time.Minute, ToldFor: 48 * time.Hour, Long: time.Hour,
		},
		Alerts: Alerts{Link: "https://gullet.shop/saws"},
		Grades: defaultGrades(),
	}
	if diff := cmp.Diff(want, l.Config, cmpopts.EquateEmpty()); diff != "" {
		t.Errorf("-want +got:\n%s", diff)
	}
}

// A file that spells everything differently than the example does.
func TestUnusualSpellings(t *testing.T) {
	l := load(t, "\xef\xbb\xbfshop.units = 'mm'\r\n"+
		"mqtt = { max_payload = 262_144, \"topics\" = [\n  \"#\", # all\n  '/+/+', \"saws/s3/cut\"] }\r\n"+
		`saw = [{name = "saws/s1", mitre_from = "axis", band_length = 15}, {name = "plant-2/saws/S1"}]`+"\n"+
		`blade_type = [{name = "b", tpi = 3}, {name = "c", tpi = "1.4/2", price = 0}]`+"\n")
	want := Config{
		MQTT: MQTT{MaxPayload: 262144, Topics: []string{"#", "/+/+", "saws/s3/cut"}},
		Shop: Shop{Units: "mm"},
		Saws: []analyze.Saw{
			{Name: "s1", MitreFromAxis: true, BandLength: ptr(15)},
			{Name: "plant-2/saws/S1"},
		},
		BladeTypes: []analyze.BladeType{{Name: "b", TPI: "3"}, {Name: "c", TPI: "1.4/2", Price: ptr(0)}},
	}
	got := Config{
		MQTT: MQTT{MaxPayload: l.MQTT.MaxPayload, Topics: l.MQTT.Topics}, Shop: Shop{Units: l.Shop.Units},
		Saws: l.Saws, BladeTypes: l.BladeTypes,
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("-want +got:\n%s", diff)
	}
}

func ptr(x float64) *float64 { return &x }

// Two configurations in one process do not meet in a global viper.
func TestLoadsAreIndependent(t *testing.T) {
	first := load(t, "[shop]\nunits = \"mm\"\n[[grade]]\nname = \"1018\"\nothers = [\"A572\"]\nrate = 1\n")
	second := nothing(t)
	if first.Shop.Units != "mm" || second.Shop.Units != "in" {
		t.Errorf("units %q and %q", first.Shop.Units, second.Shop.Units)
	}
	if diff := cmp.Diff(defaultGrades(), second.Grades, cmpopts.EquateEmpty()); diff != "" {
		t.Errorf("the first file changed the defaults:\n%s", diff)
	}
}

// The example is the reference: it loads without a word, spells out exactly the
// defaults of the single sections, and leaves out no key.
func TestExample(t *testing.T) {
	l := load(t, Example)
	def := nothing(t)
	type sections struct {
		MQTT     MQTT
		Store    Store
		Listen   Listen
		Shop     Shop
		Downtime Downtime
		Alerts   Alerts
	}
	of := func(c Config) sections {
		return sections{c.MQTT, c.Store, c.Listen, c.Shop, c.Downtime, c.Alerts}
	}
	if diff := cmp.Diff(of(def.Config), of(l.Config)); diff != "" {
		t.Errorf("the example differs from the defaults (-default +example):\n%s", diff)
	}
	lines := lineNumbers([]byte(Example))
	for _, s := range settings() {
		if lines[s.key] == 0 {
			t.Errorf("%s is not in the example", s.key)
		}
	}
	for _, li := range lists() {
		for _, f := range li.fields {
			// What another key stands for is spelled in a comment.
			if !spelled(lines, li.name, f.name) && !strings.Contains(Example, "\n# "+f.name+" = ") {
				t.Errorf("no [[%s]] of the example has %s", li.name, f.name)
			}
		}
	}
	if len(l.Saws) != 5 || len(l.BladeTypes) < 3 {
		t.Errorf("%d saws and %d blade types", len(l.Saws), len(l.BladeTypes))
	}
}

func spelled(lines map[string]int, list, key string) bool {
	for path := range lines {
		if strings.HasPrefix(path, list+"[") && strings.HasSuffix(path, "]."+key) {
			return true
		}
	}
	return false
}

// Each field of Config is a key, and each key a field: viper drops silently
// what has no field, and a field without a key could never be set.
func TestEveryFieldIsAKey(t *testing.T) {
	keys := map[string]bool{}
	for _, s := range settings() {
		keys[s.key] = true
	}
	root := reflect.TypeFor[Config]()
	for i := range root.NumField() {
		section := root.Field(i)
		name := section.Tag.Get("mapstructure")
		if name == "-" {
			continue
		}
		for j := range section.Type.NumField() {
			key := name + "." + section.Type.Field(j).Tag.Get("mapstructure")
			if !keys[key] {
				t.Errorf("%s.%s has no key %q", section.Name, section.Type.Field(j).Name, key)
			}
			delete(keys, key)
		}
	}
	for key := range keys {
		t.Errorf("key %s has no field", key)
	}
	// The lists are filled by hand; count the fields they must fill.
	for list, typ := range map[string]reflect.Type{
		"saw": reflect.TypeFor[analyze.Saw](), "blade_type": reflect.TypeFor[analyze.BladeType](),
		"grade": reflect.TypeFor[analyze.Grade](), "shift": reflect.TypeFor[shift.Rule](), "closed": reflect.TypeFor[shift.Closure](),
		"cause": reflect.TypeFor[downtime.Meaning](), "alert": reflect.TypeFor[AlertRow](),
	} {
		for _, li := range lists() {
			if li.name == list && len(li.fields) != typ.NumField() {
				t.Errorf("[[%s]] has %d keys, %s has %d fields", list, len(li.fields), typ, typ.NumField())
			}
		}
	}
}

// Every key of a row reaches its own field: no two fields may be equal to the
// zero value or to each other's.
func TestRowsFillEveryField(t *testing.T) {
	l := load(t, `
[[saw]]
name = "s9"
kind = "swivel-frame"
band_length = 14.5
wheel_diameter = 19
trip_limit = 0.02
guide_gap = 20
mitre_from = "axis"
[[blade_type]]
name = "b"
width = 1.25
thickness = 0.042
tpi = "3/4"
teeth = "carbide-tipped"
price = 62.5
[[grade]]
name = "wear plate"
others = ["WP400"]
class = "wear-plate"
severity = 3.5
band_speed = 130
rate = 2.5
source = "common practice"
[[cause]]
name = "crane-inspection"
element = "planned-down"
group = "safety"
failure = true
`)
	wantSaw := analyze.Saw{
		Name: "s9", Kind: analyze.SwivelFrame, BandLength: ptr(14.5), WheelDiameter: ptr(19),
		TripLimit: ptr(0.02), GuideGap: ptr(20), MitreFromAxis: true,
	}
	wantType := analyze.BladeType{
		Name: "b", Width: ptr(1.25), Thickness: ptr(0.042), TPI: "3/4", Teeth: "carbide-tipped", Price: ptr(62.5),
	}
	wantGrade := analyze.Grade{
		Name: "wear plate", Others: []string{"WP400"}, Class: "wear-plate", Severity: 3.5,
		BandSpeed: 130, Rate: 2.5, Source: "common practice",
	}
	wantCause := downtime.Meaning{Cause: "crane-inspection", Element: downtime.PlannedDown, Group: "safety", Failure: true}
	gotGrade, _ := l.GradeOf("wp400")
	if diff := cmp.Diff([]any{[]analyze.Saw{wantSaw}, []analyze.BladeType{wantType}, wantGrade, []downtime.Meaning{wantCause}},
		[]any{l.Saws, l.BladeTypes, gotGrade, l.Causes}); diff != "" {
		t.Errorf("-want +got:\n%s", diff)
	}
}

func TestSawOf(t *testing.T) {
	c := load(t, "[[saw]]\nname = \"saws/s3\"\n[[saw]]\nname = \"plant-2/saws/s3\"\nkind = \"fixed\"\n"+
		"[[saw]]\nname = \"s9\"\n[[saw]]\nname = \"S9\"\n")
	for name, want := range map[string]bool{
		"s3": true, "s9": true, "S9": true, "plant-2/saws/s3": true, "S3": false, "saws/s3": false, "s4": false, "": false,
	} {
		if s, ok := c.SawOf(name); ok != want || ok && s.Name != name {
			t.Errorf("SawOf(%q) = %q, %t; want %t", name, s.Name, ok, want)
		}
	}
}

func TestBladeTypeOf(t *testing.T) {
	c := load(t, "[[blade_type]]\nname = \"1-1/4 Bimetal 3/4\"\n")
	for name, want := range map[string]bool{
		"1-1/4 Bimetal 3/4": true, "1-1/4bimetal  3/4": true, "1-1/4 bimetal 4/6": false, "": false,
	} {
		if _, ok := c.BladeTypeOf(name); ok != want {
			t.Errorf("BladeTypeOf(%q): %t, want %t", name, ok, want)
		}
	}
}
