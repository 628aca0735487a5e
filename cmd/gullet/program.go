package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
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
			"square inches each blade has cut and has left, and when to change it. What the saws must send is\n" +
			"told by \"gullet help messages\".\n\n" + caution,
		SilenceErrors: true,
		SilenceUsage:  true,
		Args:          cobra.NoArgs,
		RunE:          func(c *cobra.Command, _ []string) error { return c.Help() },
	}
	root.PersistentFlags().StringVar(&p.configFile, "config", "", "configuration `FILE` (default gullet.toml where it exists)")
	root.SetFlagErrorFunc(func(c *cobra.Command, err error) error {
		return misused(c, flagMistake(err))
	})
	root.CompletionOptions.HiddenDefaultCmd = true
	root.AddCommand(
		p.runCommand(), p.demoCommand(), p.floorCommand(), p.bladesCommand(), p.fitCommand(), p.trendCommand(), p.planCommand(), p.scoreCommand(), p.backtestCommand(), p.sectionCommand(),
		p.downtimeCommand(), p.reportCommand(), p.alertsCommand(), p.channelCommand(), p.jobsCommand(), p.stockCommand(), p.exportCommand(), p.rejectedCommand(), p.correctCommand(),
		p.simulateCommand(), p.replayCommand(), p.checkCommand(),
	)
	root.SetHelpCommand(p.helpCommand(root))
	checkArgs(root)
	return root
}

// misused is a usage error that says which command was called wrongly, and
// where the right call is told.
func misused(c *cobra.Command, what string) error {
	where := ""
	if c.HasParent() {
		where = strings.TrimPrefix(c.CommandPath(), c.Root().Name()+" ") + ": "
	}
	return usageError{fmt.Errorf("%s%s (see %s --help)", where, what, c.CommandPath())}
}

// checkArgs makes cobra's complaints about arguments usage errors in the
// command's own words.
func checkArgs(c *cobra.Command) {
	if check := c.Args; check != nil {
		c.Args = func(c *cobra.Command, args []string) error {
			if check(c, args) == nil {
				return nil
			}
			return misused(c, argumentMistake(c, args))
		}
	}
	for _, sub := range c.Commands() {
		checkArgs(sub)
	}
}

// argumentMistake says what is wrong with arguments that a command refused. A
// command takes none, or the one that its usage line names.
func argumentMistake(c *cobra.Command, args []string) string {
	_, wanted, _ := strings.Cut(c.Use, " ")
	switch {
	case c.HasSubCommands():
		mistake := fmt.Sprintf("there is no command %q", args[0])
		c.SuggestionsMinimumDistance = 2 // slips of two letters
		if near := c.SuggestionsFor(args[0]); len(near) > 0 {
			mistake += fmt.Sprintf("; did you mean %q?", near[0])
		}
		return mistake
	case wanted == "":
		return fmt.Sprintf("found %q, but it takes no argument besides flags", args[0])
	case len(args) == 0:
		return "needs " + wanted
	}
	return fmt.Sprintf("takes one %s, found also %q", wanted, args[1])
}

// flagMistake says what is wrong with a flag, without the parser's own terms.
func flagMistake(err error) string {
	var value *pflag.InvalidValueError
	if !errors.As(err, &value) {
		return err.Error()
	}
	allowed := value.GetFlag().Value.Type()
	switch allowed {
	case "int", "int64":
		allowed = "a whole number"
	case "uint64":
		allowed = "a whole number of 0 or more"
	case "float64":
		allowed = "a number"
	case "bool":
		allowed = "true or false"
	}
	return fmt.Sprintf("--%s is %q, allowed is %s", value.GetFlag().Name, value.GetValue(), allowed)
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
	return cfg, db, noDatabase(err, cfg.Store.Path)
}

// writer opens the configured database for a single change, beside a running
// daemon.
func (p *program) writer(c *cobra.Command) (*config.Loaded, *store.Store, error) {
	cfg, err := p.config(c)
	if err != nil {
		return nil, nil, err
	}
	db, err := store.OpenWriter(c.Context(), storeOptions(cfg))
	return cfg, db, noDatabase(err, cfg.Store.Path)
}

// noDatabase says what to do about a database that is not there.
func noDatabase(err error, path string) error {
	if !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	return fmt.Errorf("there is no database %s: gullet run makes it, --db FILE or store.path names another", path)
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
