package main

import (
	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"headtrue/cmd/headtrue/app"
	"headtrue/cmd/headtrue/app/cues"
	"headtrue/cmd/headtrue/progress"
	"headtrue/cmd/headtrue/settings"
	"headtrue/sweep"
)

// virtualFlags choose the virtual deck inside this process.
type virtualFlags struct {
	name string // as kept.Find takes it
	seed uint64
	set  *pflag.FlagSet
}

func (v *virtualFlags) add(flags *pflag.FlagSet) {
	v.set = flags
	flags.StringVar(&v.name, "virtual", "", "on a virtual deck in this process: a fresh one or, as --virtual=`DECK`, one of a profile or YAML file, or a kept one (headtrue bench --keep)")
	flags.Lookup("virtual").NoOptDefVal = "default"
	flags.Uint64Var(&v.seed, "seed", 1, "seed of a fresh virtual deck: what is random in it")
}

// given reports whether the deck is a virtual one.
func (v *virtualFlags) given() bool { return v.name != "" }

// seedGiven reports whether a person has chosen the seed.
func (v *virtualFlags) seedGiven() bool { return v.set != nil && v.set.Changed("seed") }

// jobFlags are the flags of every command that turns the screw, apart from the settings.
type jobFlags struct {
	virtual virtualFlags
	yes     bool
	itself  bool // the jig seats its own blade
	hand    handFlags
}

// handFlags are those of a run whose screw a person turns.
type handFlags struct {
	byHand      bool
	cue, output string
	set         *pflag.FlagSet
}

func (h *handFlags) add(flags *pflag.FlagSet) {
	h.set = flags
	flags.BoolVar(&h.byHand, "by-hand", false, byHandText)
	flags.StringVar(&h.cue, "cue", string(cues.Tone), "with --by-hand, sounds that guide you while you look at the screw: tone, voice (tones and words) or off")
	flags.StringVar(&h.output, "cue-output", "", "`device` that plays them: pulse:NAME, another than the input; the sound server's usual output if empty")
}

// cueGiven reports whether a person has chosen the sounds.
func (h *handFlags) cueGiven() bool {
	return h.set != nil && (h.set.Changed("cue") || h.set.Changed("cue-output"))
}

// wrong returns an error for flags that do not fit together.
func (h *handFlags) wrong() error {
	if h.set == nil {
		return nil
	}
	if !h.byHand && h.cueGiven() {
		return app.Wrong("--cue and --cue-output are for --by-hand")
	}
	if _, err := cues.ParseMode(h.cue); err != nil {
		return app.Wrong("%w", err)
	}
	return nil
}

// add adds the flags of every real bench, and the flags of the named settings.
func (f *jobFlags) add(cmd *cobra.Command, names ...string) {
	settings.AddFlags(cmd.Flags(), append([]string{"port", "audio", "jig", "logbook", "unit", "head", "job", "tape", "operator", "ambient"}, names...)...)
	cmd.Flags().BoolVar(&f.yes, "yes", false, yesText)
}

// byHandText is the help of --by-hand in every command.
const byHandText = "without a jig: a person turns the screw"

// yesText is the help of --yes in every command.
const yesText = "say yes beforehand: nothing is asked"

// addItself is for commands that need the blade to be seated.
func (f *jobFlags) addItself(cmd *cobra.Command) {
	cmd.Flags().BoolVar(&f.itself, "blade-seats-itself", false, "the jig seats and withdraws its own blade: nobody is asked to")
}

// takeDeck accepts the name of the virtual deck as a separate word after --virtual.
func (f *jobFlags) takeDeck(args []string) error {
	if len(args) == 0 {
		return nil
	}
	if !f.virtual.given() {
		return app.Wrong("unexpected word %q", args[0])
	}
	f.virtual.name = args[0]
	return nil
}

// newJob reads the settings and finds the virtual deck. It opens nothing yet.
func (c *cli) newJob(cmd *cobra.Command, command string, flags jobFlags) (*app.Job, error) {
	if err := flags.hand.wrong(); err != nil {
		return nil, err
	}
	loaded, err := c.load(cmd)
	if err != nil {
		return nil, err
	}
	return app.New(c.front(loaded.Audio), orderOf(loaded, command, flags))
}

// orderOf makes the request from the settings and the flags.
func orderOf(loaded settings.Loaded, command string, flags jobFlags) app.Order {
	return app.Order{Command: command, Program: "headtrue " + version(), Settings: loaded,
		Virtual: flags.virtual.name, Seed: flags.virtual.seed, SeedGiven: flags.virtual.seedGiven(), Accepted: flags.yes, BladeSeatsItself: flags.itself, ByHand: flags.hand.byHand,
		Cue: cues.Mode(flags.hand.cue), CueGiven: flags.hand.cueGiven(), CueOutput: flags.hand.output}
}

// front is this terminal as the front end of a run. If the sound comes on standard input, the
// person is asked on the terminal of the process.
func (c *cli) front(audio string) app.Front {
	f := app.Front{Note: c.note, Interruptible: c.interruptible,
		Live: c.err.Rewrites, During: c.err.During,
		Show: func(j *app.Job) func(sweep.Event) { return progress.New(c.err, j.Stages()).Tell }}
	if person := c.terminal(audio); person != nil {
		f.Ask = app.ByText(person.Ask)
	}
	return f
}
