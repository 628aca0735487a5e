package config

import (
	"fmt"
	"slices"
	"strings"

	"github.com/spf13/viper"
)

// DefaultFile is the file read when nobody names one, where it exists.
const DefaultFile = "gullet.toml"

const (
	envPrefix = "GULLET_"
	envFile   = envPrefix + "CONFIG" // names the file, as --config does
)

// Options is what the surroundings say; Load reads nothing of them by itself,
// except the file and whether the files it names are there.
type Options struct {
	File         string            // "" for DefaultFile
	FileRequired bool              // a person named File, so it must exist and GULLET_CONFIG does not count
	Env          []string          // "NAME=value" as os.Environ gives it; only GULLET_… matters
	Flags        map[string]string // values of the flags that were set: broker, db, listen
}

// Loaded is a checked configuration that knows where its values came from.
type Loaded struct {
	Config
	File string // the file that was read, "" for none

	scalars []shown // in the order of the example file
	rows    []row   // of the lists, in the order of lists
}

// shown is one value with its origin, ready to print.
type shown struct {
	key   string
	value any
	at    origin
}

// Load reads the layers and checks every value in each of them and how the
// winners agree. The error joins everything that is wrong, one line each, by
// errors.Join; the configuration is nil then.
func Load(o Options) (*Loaded, error) {
	l := &loader{viper: viper.New(), origins: map[string]origin{}, seen: map[string]string{}}
	for _, s := range settings() {
		l.viper.SetDefault(s.key, s.value)
	}
	env := environment(o.Env)
	name, required := o.File, o.FileRequired
	if v := env[envFile]; v != "" && !required {
		name, required = v, true
	}
	delete(env, envFile)
	if name == "" {
		name = DefaultFile
	}
	file := l.takeFile(name, required)
	l.takeEnv(env)
	l.takeFlags(o.Flags)

	out := &Loaded{File: file}
	if err := l.viper.UnmarshalExact(&out.Config); err != nil {
		return nil, fmt.Errorf("configuration of %s: %w", name, err)
	}
	for _, s := range settings() {
		out.scalars = append(out.scalars, shown{s.key, l.viper.Get(s.key), l.origins[s.key]})
	}
	l.checkMQTT(out.MQTT)
	out.rows = l.finishRows()
	out.fillLists()
	l.checkShifts(out)
	l.checkAlerts(out)
	l.checkChannels(out)
	if err := l.problems.err(); err != nil {
		return nil, err
	}
	return out, nil
}

// loader gathers the layers in rising order. viper keeps which value wins;
// what viper cannot say, where it came from, is kept beside it.
type loader struct {
	viper    *viper.Viper
	origins  map[string]origin // of the winning value of each setting; the zero origin is the default
	seen     map[string]string // setting → its value as a person may see it
	rows     []row             // of the file's lists, in file order
	problems problems
}

// take reads one value of a setting into its layer. A wrong value becomes a
// problem and leaves the layer below in force, so that the rest is still checked.
func (l *loader) take(s setting, raw any, at origin) {
	display := found(raw)
	if text, ok := raw.(string); ok && (s.key == "mqtt.broker" || s.key == "alerts.link") {
		display = found(redacted(text))
	}
	value, err := s.read(raw)
	if err != nil {
		l.problems.add(at, s.key, "found %s; %v", display, err)
		return
	}
	l.origins[s.key], l.seen[s.key] = at, display
	// viper's own layers for environment and flags read the process, and show
	// Unmarshal only what was bound. Merged over the file in rising order, they
	// beat it all the same.
	section, name, _ := strings.Cut(s.key, ".")
	if err := l.viper.MergeConfigMap(map[string]any{section: map[string]any{name: value}}); err != nil {
		l.problems.add(at, s.key, "cannot be merged: %v", err)
	}
}

// environment is the part of the environment that is Gullet's. Of a name that
// is there twice the last counts, as in os/exec.
func environment(environ []string) map[string]string {
	env := map[string]string{}
	for _, e := range environ {
		if name, value, ok := strings.Cut(e, "="); ok && strings.HasPrefix(name, envPrefix) {
			env[name] = value
		}
	}
	return env
}

// takeEnv reads one variable per setting and refuses the rest of GULLET_…: a
// slip in a name would otherwise go unnoticed.
func (l *loader) takeEnv(env map[string]string) {
	known := []string{envFile}
	for _, s := range settings() {
		known = append(known, s.env())
		if value, ok := env[s.env()]; ok {
			l.take(s, value, origin{layer: fromEnv, name: s.env()})
			delete(env, s.env())
		}
	}
	for name := range env {
		l.problems.add(origin{layer: fromEnv, name: name}, "", "no such variable; allowed is %sSECTION_KEY for a key of the file's single sections%s",
			envPrefix, didYouMean(name, known))
	}
}

func (l *loader) takeFlags(flags map[string]string) {
	all := settings()
	for name, value := range flags {
		at := origin{layer: fromFlag, name: "--" + name}
		i := slices.IndexFunc(all, func(s setting) bool { return s.flag == name && name != "" })
		if i < 0 {
			l.problems.add(at, "", "no key has this flag")
			continue
		}
		l.take(all[i], value, at)
	}
}
