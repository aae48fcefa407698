package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"sync"

	"github.com/spf13/cobra"

	"headtrue/cmd/headtrue/app"
	"headtrue/cmd/headtrue/app/kept"
	"headtrue/cmd/headtrue/app/realtime"
	"headtrue/sweep/bench"
)

// benchOrder is the request for a bench.
type benchOrder struct {
	profile, programme, sink, truth       string
	seed                                  uint64
	profileGiven, seedGiven, late, byHand bool
	keep, forget                          string
}

// allDecks is the value of --keep without a name.
const allDecks = " "

// benchExample is run by a test, line by line. A shell opens a named pipe only once somebody
// reads it; by cat the bench begins before that.
const benchExample = `  headtrue bench --keep bench1 --profile tone
  headtrue align --virtual=bench1 --tone 10k
  headtrue restore --virtual=bench1
  headtrue bench --forget bench1

  # in real time, without a sound server: in one terminal
  mkfifo sound
  headtrue bench --profile tone --sink - | cat > sound
  # in another, with the port that the first one says
  headtrue align --port /dev/pts/5 --audio raw:f32le --tone 10k --yes --blade-seats-itself < sound`

func (c *cli) benchCommand() *cobra.Command {
	var o benchOrder
	cmd := &cobra.Command{
		Use:   "bench",
		Short: "Run the virtual bench, or keep a virtual deck: a deck to try things with in place of a real one",
		Long: `Keep a virtual deck, or run one as a process of its own.

--keep NAME makes a virtual deck of --profile and --seed that keeps its screw, its
backlash and the memory of its jig from command to command, or shows the one of that
name as it stands; --keep alone shows all, --forget NAME removes one. --virtual=NAME is
then that deck in every command: align, sweep, restore, proof, work, check, jig. No time
passes for it between two commands, but that its motor is off, the blade away and its
head settled; the tape is rewound, and faults of the sound come anew, while those of the
jig come once. Two commands cannot run it at once. A command that is killed, or left at
once by a second Ctrl-C, leaves the deck as it was before. Kept decks are files in the
folder headtrue/decks of XDG_DATA_HOME, else of ~/.local/share, whatever the logbook.

Without --keep and --forget the bench runs in real time, until Ctrl-C; --profile may
then be a kept deck, too. It shows the path of a pseudo-terminal on which its jig answers
as a serial port, and plays its deck to a sink: - writes raw 32-bit float stereo to
standard output, pulse:NAME plays into that sink of the sound server (by pacat or
paplay, which must be installed; headtrue hears it as --audio pulse:NAME.monitor), none
plays to nobody. Without a sound server, a named pipe carries the sound from one
terminal to another, as in the examples. The blade is seated and withdrawn by the bench
itself, as the motor is energised and released. Neither deck nor jig waits for the sink:
sound that it does not take within 2 s is lost.

--late makes the bench as late as real ones can be: 2 % of the blocks of sound are
held back, by 60 ms on average and 180 at most, so that sound comes in bursts; the
jig replies after 30 to 45 ms and makes the first step of a move up to 100 ms after
its reply; its clock is 300 ppm fast; and 0.1 % of the bytes on its line are wrong.
What the profile says under late: goes before. A sound server paces the sound by
itself, so that none is held back with pulse:NAME.

--by-hand puts a virtual hand in the place of the jig: a person with a screwdriver, who
reacts in 0.3 s, turns too far or not far enough, and presses on the head. It obeys the
requests on standard input, one JSON object a line, such as
{"act":"turn","way":"clockwise","turns":0.125}: act is turn, edge, wrong-way, halfway
(each with way, clockwise or counter-clockwise), mark, slower, hold, trouble, hands-off
or optimum; a turn without turns goes on until the next request. The seed draws the
person, too.

--truth writes the true state of the bench to a file, about twice a second
and at the end: the optimum, the tilt now, backlash and gearing. headtrue align
never sees it.`,
		Example: benchExample,
		Args:    cobra.MaximumNArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			given := cmd.Flags().Changed
			o.profileGiven, o.seedGiven = given("profile"), given("seed")
			keeps := given("keep")
			for _, name := range []string{"programme", "sink", "truth", "late", "by-hand"} {
				if given(name) && (keeps || o.forget != "") {
					return app.Wrong("--%s is for a bench that runs; --profile NAME runs a kept deck", name)
				}
			}
			switch {
			case keeps && o.forget != "":
				return app.Wrong("--keep and --forget contradict each other")
			case o.forget != "" && len(args) == 0:
				return c.forgetDeck(o.forget)
			case keeps && o.keep == allDecks:
				return c.keepDeck(o, args)
			case keeps && len(args) == 0:
				return c.keepDeck(o, []string{o.keep})
			case len(args) > 0:
				return app.Wrong("unexpected word %q", args[0])
			}
			return c.runBench(cmd.Context(), o)
		},
	}
	flags := cmd.Flags()
	flags.StringVar(&o.keep, "keep", "", "make a deck of this `name` that keeps its screw between commands, or show it; all, without a name")
	flags.Lookup("keep").NoOptDefVal = allDecks
	flags.StringVar(&o.forget, "forget", "", "remove the kept deck of this `name`")
	flags.StringVar(&o.profile, "profile", "default", "`profile` of the deck: a name or a YAML file")
	flags.StringVar(&o.programme, "programme", "", "WAV `file` that is on the tape, in place of the profile's programme")
	flags.StringVar(&o.sink, "sink", "none", "destination of the sound: pulse:NAME, - or none")
	flags.StringVar(&o.truth, "truth", "", "`file` for the true state of the bench")
	flags.BoolVar(&o.late, "late", false, "answer late, spoil bytes, and play in bursts")
	flags.BoolVar(&o.byHand, "by-hand", false, byHandText)
	flags.Uint64Var(&o.seed, "seed", 1, "seed of what is random in the deck")
	return cmd
}

func (c *cli) runBench(ctx context.Context, o benchOrder) (err error) {
	c.answered = o.sink == "-" // standard output carries the sound, so no JSON
	deck, err := kept.Find(o.profile, o.seed, o.seedGiven)
	if err != nil {
		return app.Wrong("%w", err)
	}
	p := deck.Profile
	o.seed = deck.Seed
	if o.programme != "" {
		p.Programme.Kind, p.Programme.WAV = "wav", o.programme
	}
	if o.late {
		p.Late = p.Late.OrUsual()
	}
	ready := sync.OnceFunc(c.err.During("preparing the deck"))
	defer ready()
	d, err := realtime.New(deck, p, o.byHand)
	if err != nil {
		return app.DeckFailure(err)
	}
	defer func() { err = errors.Join(err, d.End()) }()
	ctx, stop := c.interruptible(ctx, "the bench ends")
	defer stop()
	return d.Play(ctx, realtime.Surroundings{Sink: o.sink, Truth: o.truth, Sound: c.sound, Requests: c.in, Note: c.note,
		Began: func(port string) error {
			ready()
			return c.sayPort(port, o)
		}})
}

// begun is the JSON of bench.
type begun struct {
	Port    string `json:"port" help:"of the jig, for --port; empty by hand"`
	Profile string `json:"profile" help:"of the bench"`
	Rate    int    `json:"rate" help:"of the sound, frames per second"`
	Seed    uint64 `json:"seed"`
	Sink    string `json:"sink" help:"seed of the random draws, and the destination of the sound"`
}

// sayPort reports the port of the jig: on standard output, unless that carries the sound.
func (c *cli) sayPort(path string, o benchOrder) error {
	to := c.out
	if o.sink == "-" {
		to = c.err
	} else if c.json {
		to = c.data
	}
	if c.json {
		c.answered = true
		return json.NewEncoder(to).Encode(begun{path, o.profile, bench.Rate, o.seed, o.sink})
	}
	turnedBy := "jig on " + path
	if o.byHand {
		turnedBy = "turned by hand, by requests on standard input"
	}
	_, err := fmt.Fprintf(to, "%s, playing to %s at %d frames per second; Ctrl-C ends\n", turnedBy, o.sink, bench.Rate)
	return err
}

// keptDecks is the JSON of bench --keep.
type keptDecks struct {
	Decks []kept.Shown `json:"decks"`
}

// keepDeck makes the named deck, unless it is there, and shows it; without a name it shows all.
func (c *cli) keepDeck(o benchOrder, names []string) error {
	there := kept.Names()
	switch {
	case len(names) == 0 && len(there) == 0 && !c.json:
		c.say("no deck is kept; headtrue bench --keep NAME makes one")
	case len(names) == 0:
		names = there
	case !slices.Contains(there, names[0]):
		if err := kept.Make(names[0], o.profile, o.seed); err != nil {
			return app.DeckFailure(err)
		}
		c.note("made the deck %s: align and others run on it with --virtual=%s", names[0], names[0])
	}
	all := keptDecks{Decks: []kept.Shown{}}
	for _, name := range names {
		d, err := kept.Show(name)
		if err != nil {
			return app.Wrong("%w", err)
		}
		if o.profileGiven && d.Profile != o.profile || o.seedGiven && d.Seed != o.seed {
			return app.Wrong("the kept deck %q is of profile %q, seed %d: headtrue bench --forget '%s' makes room for another", name, d.Profile, d.Seed, name)
		}
		all.Decks = append(all.Decks, d)
	}
	if c.json {
		return c.writeJSON(all)
	}
	for _, d := range all.Decks {
		c.say("%s: profile %s, seed %d, made %s; commands so far: %d", d.Name, d.Profile, d.Seed, d.Made, d.Commands)
		c.say("  screw   %+.1f degrees from where it was first found; the head is %+.2f' off the optimum", d.ScrewDeg, d.OffArcmin)
		c.say("  jig     at %d microsteps, %s; count number %d, start number %d", d.Position, d.Memory, d.Epoch, d.BootCount)
		c.say("  file    %s", d.File)
	}
	return nil
}

func (c *cli) forgetDeck(name string) error {
	if err := kept.Forget(name); err != nil {
		return app.DeckFailure(err)
	}
	c.note("the kept deck %s is removed", name)
	return nil
}
