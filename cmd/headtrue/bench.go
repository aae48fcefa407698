package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"sync"

	"github.com/spf13/cobra"

	"headtrue/cmd/headtrue/app"
	"headtrue/cmd/headtrue/app/realtime"
	"headtrue/cmd/headtrue/settings"
	"headtrue/jig/virtual"
	"headtrue/sweep/bench"
)

// benchOrder is the request for a bench.
type benchOrder struct {
	profile, programme, sink, truth string
	seed                            uint64
	late                            bool
}

func (c *cli) benchCommand() *cobra.Command {
	var o benchOrder
	cmd := &cobra.Command{
		Use:   "bench",
		Short: "Run the virtual bench: a deck to play with in place of a real one",
		Long: `Run the virtual bench as a process of its own, in real time, until Ctrl-C. It shows
the path of a pseudo-terminal on which its jig answers as a serial port, and
plays its deck to a sink: pulse:NAME plays into that sink of the sound server
(by pacat or paplay, which must be installed), - writes raw 32-bit float stereo
to standard output, none plays to nobody. The blade is seated and withdrawn by
the bench itself, as the motor is energised and released. Neither deck nor jig
waits for the sink: sound that it does not take within 2 s is lost.

--late makes the bench as late as real ones can be: 2 % of the blocks of sound are
held back, by 60 ms on average and 180 at most, so that sound comes in bursts; the
jig replies after 30 to 45 ms and makes the first step of a move up to 100 ms after
its reply; its clock is 300 ppm fast; and 0.1 % of the bytes on its line are wrong.
What the profile says under late: goes before. A sound server paces the sound by
itself, so that none is held back with pulse:NAME.

--truth writes what the bench knows about itself to a file, about twice a second
and at the end: the optimum, the tilt now, slack and gearing. headtrue align
never sees it.`,
		Example: `  headtrue bench --sink pulse:deck --truth truth.json
  headtrue align --port /dev/pts/5 --audio pulse:deck.monitor --yes --blade-seats-itself`,
		Args: cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error { return c.runBench(cmd.Context(), o) },
	}
	flags := cmd.Flags()
	flags.StringVar(&o.profile, "profile", "default", "`profile` of the virtual bench: a name or a YAML file")
	flags.StringVar(&o.programme, "programme", "", "WAV `file` that is on the tape, in place of the profile's programme")
	flags.StringVar(&o.sink, "sink", "none", "destination of the sound: pulse:NAME, - or none")
	flags.StringVar(&o.truth, "truth", "", "`file` for what the bench knows about itself")
	flags.BoolVar(&o.late, "late", false, "answer late, spoil bytes, and play in bursts")
	flags.Uint64Var(&o.seed, "seed", 1, "seed of what is random in the bench")
	return cmd
}

func (c *cli) runBench(ctx context.Context, o benchOrder) error {
	c.answered = o.sink == "-" // standard output carries the sound, so no JSON
	p, err := settings.Bench(o.profile)
	if err != nil {
		return app.Wrong("%w", err)
	}
	if o.programme != "" {
		p.Programme.Kind, p.Programme.WAV = "wav", o.programme
	}
	if o.late {
		p.Late = p.Late.OrUsual()
	}
	ready := sync.OnceFunc(c.err.During("preparing the deck"))
	defer ready()
	v := virtual.New(p.JigFor(o.seed))
	late := p.Late
	late.SoundMillis = 0   // the bench applies this delay
	p.Late.HeldPercent = 0 // the player, not the bench, holds blocks back: time goes on
	b, err := bench.New(p, o.seed, &realtime.PacedJig{Jig: v})
	if err != nil {
		return app.Wrong("%w", err)
	}
	defer b.Close()
	ctx, stop := c.interruptible(ctx, "the bench ends")
	defer stop()
	line, err := virtual.OpenLine(ctx, v)
	if err != nil {
		return app.NotReady("run the virtual bench inside align instead: align --virtual", "%w", err)
	}
	defer line.Close()
	out, err := realtime.OpenSink(ctx, o.sink, c.sound)
	if err != nil {
		return err
	}
	ready()
	if err := c.sayPort(line.Path, o); err != nil {
		return err
	}
	stopTruth := realtime.KeepTruth(b, o.truth, c.note)
	err = realtime.Play(ctx, b, late, o.seed, o.sink, out)
	return errors.Join(benchEnd(ctx, err), stopTruth(), out.Close())
}

// benchEnd is the error of a bench; Ctrl-C ends it without a failure.
func benchEnd(ctx context.Context, err error) error {
	if ctx.Err() != nil {
		return nil
	}
	return fmt.Errorf("the bench stopped playing: %w", err)
}

// begun is the JSON of bench.
type begun struct {
	Port    string `json:"port" help:"of the jig, for --port"`
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
	_, err := fmt.Fprintf(to, "jig on %s, playing to %s at %d frames per second; Ctrl-C ends\n", path, o.sink, bench.Rate)
	return err
}
