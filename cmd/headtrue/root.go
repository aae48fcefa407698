package main

import (
	"os"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"headtrue/cmd/headtrue/help"
	"headtrue/cmd/headtrue/settings"
	"headtrue/cmd/headtrue/terminal"
	"headtrue/sweep/logbook"
)

// group is some commands under a heading of the help.
type group struct {
	title    string
	commands []*cobra.Command
}

const settingUp = "Setting up"

func (c *cli) groups() []group {
	return []group{
		{"Everyday", []*cobra.Command{c.checkCommand(), c.alignCommand(), c.restoreCommand(), c.proofCommand(), c.workCommand(), c.sheetCommand(), c.demoCommand()}},
		{"Measure only", []*cobra.Command{c.sweepCommand(), c.measureCommand(), c.listenCommand(), c.limitsCommand()}},
		{"Records and studies", []*cobra.Command{c.logbookCommand(), c.studyCommand()}},
		{settingUp, []*cobra.Command{c.devicesCommand(), c.jigCommand(), c.benchCommand(), c.configCommand(), c.versionCommand()}},
	}
}

func (c *cli) root() *cobra.Command {
	cobra.EnableCommandSorting = false // help shows the commands in the order in which they are used
	withVersion := false
	root := &cobra.Command{
		Use:   "headtrue",
		Short: "Find, set, prove and record the azimuth of a tape head",
		Long: `headtrue turns the azimuth screw of a tape deck by a small motor, listens to
the deck, and finds, sets, proves and records the place where the head belongs.

Results go to standard output, everything else to standard error. With --json
the result is JSON (headtrue help json); the exit code says how a command ended
(headtrue help exit-codes). Settings come from profiles, what runs have learnt of
a unit, a YAML file, HEADTRUE_ variables and flags, each stronger than the one
before (headtrue help settings).`,
		Example:       "  headtrue demo\n  headtrue align --port /dev/ttyACM0 --audio pulse: --tone 10k",
		SilenceErrors: true,
		SilenceUsage:  true,
		PersistentPreRun: func(*cobra.Command, []string) {
			c.begun = true
		},
		RunE: func(*cobra.Command, []string) error {
			if withVersion {
				return c.sayVersion(false)
			}
			return pflag.ErrHelp
		},
	}
	root.SetOut(c.out)
	root.SetErr(c.err)
	root.Flags().BoolVar(&withVersion, "version", false, "say which headtrue this is")
	flags := root.PersistentFlags()
	flags.BoolVar(&c.json, "json", false, "write the result as JSON")
	flags.StringVar(&c.config, "config", "", "configuration `file` (else HEADTRUE_CONFIG, else the user's)")
	flags.BoolP("help", "h", false, "show this help")
	flags.BoolVar(&c.helpAll, help.All, false, "show the help with the flags for experts, too")
	_ = flags.MarkHidden(help.All) // help names it where it shows more
	for _, g := range c.groups() {
		root.AddGroup(&cobra.Group{ID: g.title, Title: g.title})
		for _, cmd := range g.commands {
			cmd.GroupID = g.title
			root.AddCommand(cmd)
		}
	}
	root.SetCompletionCommandGroupID(settingUp)
	root.InitDefaultCompletionCmd()
	if completion, _, err := root.Find([]string{"completion"}); err == nil {
		completion.Short = "Write the script that completes command lines in a shell"
		completion.Example = "  headtrue completion bash > ~/.local/share/bash-completion/completions/headtrue"
	}
	root.AddCommand(help.Topics()...)
	root.AddCommand(exitCodesTopic(), jsonTopic(), settingsTopic())
	root.SetHelpCommand(c.helpCommand())
	help.Guard(root, instead)
	root.SetHelpFunc(func(cmd *cobra.Command, _ []string) {
		_ = c.write(c.page(cmd)) // Results keeps the error
	})
	return root
}

// page is the help of a command, or of a topic.
func (c *cli) page(cmd *cobra.Command) string {
	_, path, _ := strings.Cut(cmd.CommandPath(), " ")
	width := terminal.DisplayOf(os.Stdout).Columns()
	switch path {
	case "json":
		return jsonPage(cmd, width)
	case "settings":
		return settingsPage(width)
	}
	return help.Page(cmd, width, c.helpAll, path != "" && writesJSON(path))
}

// instead is what to use for a flag that does not exist, if that is a setting.
func instead(cmd *cobra.Command, flag string) string {
	if cmd.Flags().Lookup("set") == nil {
		return ""
	}
	return settings.InsteadOfFlag(flag)
}

// bookToComplete opens the logbook for a completion; nil if there is none.
func (c *cli) bookToComplete(cmd *cobra.Command) *logbook.Book {
	loaded, err := c.load(cmd)
	if err != nil {
		return nil
	}
	book, err := openExisting(loaded.Settings)
	if err != nil {
		return nil
	}
	return book
}
