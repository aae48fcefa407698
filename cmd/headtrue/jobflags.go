package main

import (
	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"headtrue/cmd/headtrue/app"
	"headtrue/cmd/headtrue/progress"
	"headtrue/cmd/headtrue/settings"
	"headtrue/sweep"
)

// virtualFlags choose the virtual bench inside this process.
type virtualFlags struct {
	profile string
	seed    uint64
}

func (v *virtualFlags) add(flags *pflag.FlagSet) {
	flags.StringVar(&v.profile, "virtual", "", "run on the virtual bench in this process; a `profile` may follow as --virtual=PROFILE")
	flags.Lookup("virtual").NoOptDefVal = "default"
	flags.Uint64Var(&v.seed, "seed", 1, "seed of the virtual bench: what is random in it")
}

// jobFlags are the flags of every command that turns the screw, apart from the settings.
type jobFlags struct {
	virtual virtualFlags
	yes     bool
	itself  bool // the jig seats its own blade
}

// add adds the flags of every real bench, and the flags of the named settings.
func (f *jobFlags) add(cmd *cobra.Command, names ...string) {
	settings.AddFlags(cmd.Flags(), append([]string{"port", "audio", "jig", "logbook", "unit", "head", "job", "tape", "operator", "ambient"}, names...)...)
	cmd.Flags().BoolVar(&f.yes, "yes", false, yesText)
}

// yesText is the help of --yes in every command.
const yesText = "say yes beforehand: nothing is asked"

// addItself is for commands that need the blade to be seated.
func (f *jobFlags) addItself(cmd *cobra.Command) {
	cmd.Flags().BoolVar(&f.itself, "blade-seats-itself", false, "the jig seats and withdraws its own blade: nobody is asked to")
}

// takeProfile accepts the profile as a separate word after --virtual.
func (f *jobFlags) takeProfile(args []string) error {
	if len(args) == 0 {
		return nil
	}
	if f.virtual.profile == "" {
		return app.Wrong("unexpected word %q", args[0])
	}
	f.virtual.profile = args[0]
	return nil
}

// newJob reads the settings and the virtual profile. It opens nothing yet.
func (c *cli) newJob(cmd *cobra.Command, command string, flags jobFlags) (*app.Job, error) {
	loaded, err := c.load(cmd)
	if err != nil {
		return nil, err
	}
	return app.New(c.front(loaded.Audio), orderOf(loaded, command, flags))
}

// orderOf makes the request from the settings and the flags.
func orderOf(loaded settings.Loaded, command string, flags jobFlags) app.Order {
	return app.Order{Command: command, Program: "headtrue " + version(), Settings: loaded,
		Virtual: flags.virtual.profile, Seed: flags.virtual.seed, Accepted: flags.yes, BladeSeatsItself: flags.itself}
}

// front is this terminal as the front end of a run. If the sound comes on standard input, the
// person is asked on the terminal of the process.
func (c *cli) front(audio string) app.Front {
	f := app.Front{Note: c.note, Interruptible: c.interruptible,
		Live: c.err.Rewrites, During: c.err.During,
		Show: func(stages []string) func(sweep.Event) { return progress.New(c.err, stages).Tell }}
	if person := c.terminal(audio); person != nil {
		f.Ask = person.Ask
	}
	return f
}
