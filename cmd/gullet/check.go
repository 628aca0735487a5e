package main

import (
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"gullet/ingest"
)

func (p *program) checkCommand() *cobra.Command {
	var print bool
	c := &cobra.Command{
		Use:   "check",
		Short: "Check the configuration and say what is wrong with it",
		Long: "Reads the file, the environment (GULLET_SECTION_KEY) and the flags as gullet run would, says of each\n" +
			"wrong value where it stands and what is allowed, and does nothing else.",
		Args: cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			cfg, err := p.config(c)
			if err != nil {
				return err
			}
			if print {
				return cfg.Print(p.out)
			}
			daemon, err := p.daemon(cfg)
			if err != nil {
				return err
			}
			if _, err := daemon.Senders(""); err != nil { // their secrets and templates
				return err
			}
			_, err = fmt.Fprintf(p.out, "configuration is sound: %d saws, %d blade types, %d grades, %d channels\n",
				len(cfg.Saws), len(cfg.BladeTypes), len(cfg.Grades), len(cfg.Channels))
			return err
		},
	}
	c.Flags().BoolVar(&print, "print", false, "show every value and where it came from; secrets stay hidden")
	overridable(c, flagBroker, flagDB, flagListen)
	return c
}

// helpCommand is cobra's help with one topic more: the message contract.
func (p *program) helpCommand(root *cobra.Command) *cobra.Command {
	return &cobra.Command{
		Use:   "help [COMMAND | messages]",
		Short: "Help on a command, or the contract of the saws' messages",
		RunE: func(_ *cobra.Command, args []string) error {
			if len(args) == 1 && args[0] == "messages" {
				_, err := fmt.Fprint(p.out, ingest.Messages)
				return err
			}
			c, rest, err := root.Find(args)
			if err != nil || len(rest) > 0 {
				return usageError{fmt.Errorf("help: there is no command or topic %q, allowed is a command (see gullet --help) or messages", strings.Join(args, " "))}
			}
			return c.Help()
		},
	}
}
