package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"strings"
	"time"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"gullet/config"
	"gullet/store"
)

// program is all that a command may touch of the world outside.
type program struct {
	in      io.Reader
	out     io.Writer
	errOut  io.Writer
	environ []string
	now     func() time.Time

	configFile string // --config
}

// Exit codes: a script can tell a wrong call from a failure.
const (
	exitOK     = 0
	exitFailed = 1
	exitUsage  = 2
)

// errUsage marks an error in how the command was called.
var errUsage = errors.New("usage")

type usageError struct{ error }

func (usageError) Is(target error) bool { return target == errUsage }

// run executes one command line and returns its exit code.
func (p *program) run(ctx context.Context, args []string) int {
	root := p.root()
	root.SetArgs(args)
	root.SetIn(p.in)
	root.SetOut(p.out)
	root.SetErr(p.errOut)
	err := root.ExecuteContext(ctx)
	if err == nil {
		return exitOK
	}
	for line := range strings.Lines(err.Error()) {
		_, _ = fmt.Fprintf(p.errOut, "gullet: %s\n", strings.TrimRight(line, "\n"))
	}
	if errors.Is(err, errUsage) {
		return exitUsage
	}
	return exitFailed
}

// caution stands under everything that advises a change.
const caution = "Advice only: Gullet is no safety function and never commands a saw. Before opening a guard or\n" +
	"touching a band, lock out and verify zero energy by your site's procedure. Gloves for a still\n" +
	"band, never near a moving one; stand clear of a coiled band. Local codes and qualified people decide."

func (p *program) root() *cobra.Command {
	root := &cobra.Command{
		Use:   "gullet",
		Short: "Blade life and lost time of production band saws, from the saws' own messages",
		Long: "Gullet listens to a shop's band saws over MQTT, keeps every reading in SQLite and says how many\n" +
			"square inches each blade has cut and has left, and when to change it.\n\n" + caution,
		SilenceErrors: true,
		SilenceUsage:  true,
		Args:          cobra.NoArgs,
		RunE:          func(c *cobra.Command, _ []string) error { return c.Help() },
	}
	root.PersistentFlags().StringVar(&p.configFile, "config", "", "configuration `FILE` (default gullet.toml where it exists)")
	root.SetFlagErrorFunc(func(c *cobra.Command, err error) error {
		return usageError{fmt.Errorf("%s: %w (see gullet %s --help)", c.Name(), err, c.Name())}
	})
	root.CompletionOptions.HiddenDefaultCmd = true
	root.AddCommand(
		p.runCommand(), p.demoCommand(), p.floorCommand(), p.sectionCommand(),
		p.exportCommand(), p.rejectedCommand(), p.correctCommand(),
		p.simulateCommand(), p.replayCommand(), p.checkCommand(),
	)
	root.SetHelpCommand(p.helpCommand(root))
	checkArgs(root)
	return root
}

// checkArgs makes cobra's complaints about arguments usage errors.
func checkArgs(c *cobra.Command) {
	if check := c.Args; check != nil {
		c.Args = func(c *cobra.Command, args []string) error {
			if err := check(c, args); err != nil {
				return usageError{fmt.Errorf("%s: %w (see gullet %s --help)", c.Name(), err, c.Name())}
			}
			return nil
		}
	}
	for _, sub := range c.Commands() {
		checkArgs(sub)
	}
}

// Flags that overrule a key of the configuration, by config's names for them.
const (
	flagBroker = "broker"
	flagDB     = "db"
	flagListen = "listen"
)

var overrides = map[string]string{
	flagBroker: "broker `URL`; none starts the embedded one on loopback",
	flagDB:     "database `FILE`",
	flagListen: "HTTP `ADDR` for /healthz, /readyz and /metrics",
}

// overridable adds the named flags to a command.
func overridable(c *cobra.Command, names ...string) {
	for _, name := range names {
		c.Flags().String(name, "", overrides[name])
	}
}

// config loads the configuration as this command line sees it.
func (p *program) config(c *cobra.Command) (*config.Loaded, error) {
	flags := map[string]string{}
	c.Flags().Visit(func(f *pflag.Flag) {
		if _, ok := overrides[f.Name]; ok {
			flags[f.Name] = f.Value.String()
		}
	})
	file := p.configFile
	if file == "" {
		file = defaultConfigFile
	}
	return config.Load(config.Options{
		File: file, FileRequired: p.configFile != "", Env: p.environ, Flags: flags,
	})
}

const defaultConfigFile = "gullet.toml"

// reader opens the configured database for reading, beside a running daemon.
func (p *program) reader(c *cobra.Command) (*config.Loaded, *store.Store, error) {
	cfg, err := p.config(c)
	if err != nil {
		return nil, nil, err
	}
	db, err := store.OpenReader(c.Context(), cfg.Store.Path)
	return cfg, db, err
}

// writer opens the configured database for a single change, beside a running
// daemon.
func (p *program) writer(c *cobra.Command) (*config.Loaded, *store.Store, error) {
	cfg, err := p.config(c)
	if err != nil {
		return nil, nil, err
	}
	db, err := store.OpenWriter(c.Context(), storeOptions(cfg))
	return cfg, db, err
}

// storeOptions is what the store is told of the configuration.
func storeOptions(cfg *config.Loaded) store.Options {
	return store.Options{
		Path: cfg.Store.Path,
		Rate: func(_, grade string) (float64, bool) {
			g, ok := cfg.GradeOf(grade)
			return g.Rate, ok
		},
	}
}

func (p *program) logger(level slog.Level) *slog.Logger {
	return slog.New(slog.NewTextHandler(p.errOut, &slog.HandlerOptions{Level: level}))
}

func (p *program) writeJSON(v any) error {
	enc := json.NewEncoder(p.out)
	enc.SetEscapeHTML(false)
	enc.SetIndent("", "  ")
	if err := enc.Encode(v); err != nil {
		return fmt.Errorf("write JSON: %w", err)
	}
	return nil
}
