package main

import (
	"bytes"
	"compress/gzip"
	_ "embed"
	"io"
	"os"
	"runtime"
	"runtime/debug"
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
		{"Everyday", []*cobra.Command{c.checkCommand(), c.alignCommand(), c.restoreCommand(), c.proofCommand(), c.workCommand(), c.panelCommand(), c.sheetCommand(), c.demoCommand()}},
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

func (c *cli) versionCommand() *cobra.Command {
	withLicences := false
	cmd := &cobra.Command{
		Use:     "version",
		Short:   "Show which headtrue this is",
		Long:    `Show which headtrue this is, or the licences of it and of all that is built into it.`,
		Example: "  headtrue version\n  headtrue version --licences",
		RunE:    func(*cobra.Command, []string) error { return c.sayVersion(withLicences) },
	}
	cmd.Flags().BoolVar(&withLicences, "licences", false, "write the licences of headtrue and of all that is built into it")
	return cmd
}

func (c *cli) sayVersion(withLicences bool) error {
	b := built{version(), runtime.Version(), runtime.GOOS, runtime.GOARCH, ""}
	if withLicences {
		var err error
		if b.Licences, err = licences(); err != nil {
			return err
		}
	}
	switch {
	case c.json:
		return c.writeJSON(b)
	case withLicences:
		return c.write(b.Licences)
	}
	c.say("headtrue %s, %s, %s/%s", b.Version, b.Go, b.System, b.Processor)
	return nil
}

// built is the JSON of version.
type built struct {
	Version   string `json:"version"`
	Go        string `json:"go" help:"the version of headtrue, and of the compiler"`
	System    string `json:"system"`
	Processor string `json:"processor" help:"the system for which it was built"`
	Licences  string `json:"licences,omitempty" help:"their texts, with --licences"`
}

// version is the module's version as the build recorded it.
func version() string {
	info, ok := debug.ReadBuildInfo()
	if !ok || info.Main.Version == "" {
		return "(devel)"
	}
	return info.Main.Version
}

// After a change of go.mod: go generate ./cmd/headtrue, on a system that has
// the package avr-libc.
//
//go:generate go run ./testdata/licences

//go:embed licences.txt.gz
var packedLicences []byte

// licences returns the licences of everything that is built in.
func licences() (string, error) {
	r, err := gzip.NewReader(bytes.NewReader(packedLicences))
	if err != nil {
		return "", err
	}
	text, err := io.ReadAll(r)
	return string(text), err
}
