package main

import (
	"context"
	"io"
	"time"

	"github.com/spf13/cobra"

	"headtrue/cmd/headtrue/app"
	"headtrue/cmd/headtrue/app/barejig"
	"headtrue/cmd/headtrue/app/kept"
	"headtrue/cmd/headtrue/settings"
	"headtrue/jig"
)

// jigCommand holds the commands for the jig alone, without sound.
func (c *cli) jigCommand() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "jig",
		Short: "Look at the jig alone, test it, turn it by hand, flash it",
		Long: `What is done with the jig alone, without sound. Opening its port resets many boards,
which switches their motor off.`,
		Example: "  headtrue jig info --port /dev/ttyACM0\n  headtrue jig selftest --port /dev/ttyACM0\n  headtrue jig info --virtual=bench1",
	}
	o := &jigOrder{cli: c}
	settings.AddFlags(cmd.PersistentFlags(), "port", "jig")
	cmd.PersistentFlags().StringVar(&o.trace, "trace-to", "", "write what passes on the link to a `file`, in words and with times; - is standard error")
	o.virtual.add(cmd.PersistentFlags())
	cmd.AddCommand(o.infoCommand(), o.nudgeCommand(), o.turnBackCommand(), o.releaseCommand(), o.selftestCommand(), o.traceCommand(), o.flashCommand(), o.configureCommand())
	return cmd
}

// jigOrder is what the commands of the jig share.
type jigOrder struct {
	cli     *cli
	trace   string
	traceTo io.Writer // instead of a file
	virtual virtualFlags
	// bladeOff is set if the blade is off the screw.
	bladeOff      bool
	anyMicrosteps bool // those of the profile need not be the jig's
}

func (o *jigOrder) open(ctx context.Context, cmd *cobra.Command) (*barejig.Jig, error) {
	loaded, err := o.cli.load(cmd)
	if err != nil {
		return nil, err
	}
	order := barejig.Order{Settings: loaded.Settings, BladeOff: o.bladeOff, AnyMicrosteps: o.anyMicrosteps, Trace: o.trace, TraceTo: o.traceTo, Fault: o.cli.showFault}
	if o.virtual.given() {
		deck, err := kept.Find(o.virtual.name, o.virtual.seed, o.virtual.seedGiven())
		if err != nil {
			return nil, app.Wrong("%w", err)
		}
		order.Deck = &deck
	}
	if o.trace == "-" && o.traceTo == nil {
		order.TraceTo = o.cli.err
	}
	defer o.cli.err.During("greeting the jig")()
	return order.Open(ctx)
}

func (o *jigOrder) infoCommand() *cobra.Command {
	return &cobra.Command{
		Use: "info", Short: "Show what the jig is, and where it stands",
		Example: "  headtrue jig info --port /dev/ttyACM0 --json",
		RunE: func(cmd *cobra.Command, _ []string) error {
			b, err := o.open(cmd.Context(), cmd)
			if err != nil {
				return err
			}
			defer b.Close()
			i, err := b.Info(cmd.Context())
			if err != nil {
				return app.LinkFailure(err)
			}
			return o.show(i, i.Text())
		},
	}
}

func (o *jigOrder) releaseCommand() *cobra.Command {
	return &cobra.Command{
		Use: "release", Short: "Stop the motor and switch its current off",
		Example: "  headtrue jig release --port /dev/ttyACM0",
		RunE: func(cmd *cobra.Command, _ []string) error {
			b, err := o.open(cmd.Context(), cmd)
			if err != nil {
				return err
			}
			defer b.Close()
			if err := app.Release(cmd.Context(), b.Jig); err != nil {
				return app.LinkFailure(err)
			}
			if o.cli.json {
				i, err := b.Info(cmd.Context())
				if err != nil {
					return app.LinkFailure(err)
				}
				return o.cli.writeJSON(i)
			}
			o.cli.say("the motor stands, its current is off")
			return nil
		},
	}
}

func (o *jigOrder) traceCommand() *cobra.Command {
	seconds := 10.0
	cmd := &cobra.Command{
		Use: "trace", Short: "Greet the jig, ask it now and then, and show what passes on the link",
		Long: `Greet the jig, ask for its status twice a second, and write what passes on the link in
words: seconds, > from the program or < from the jig, and the frame. Any other command
of the jig writes the same with --trace-to FILE.`,
		Example: "  headtrue jig trace --port /dev/ttyACM0 --seconds 5",
		RunE: func(cmd *cobra.Command, _ []string) error {
			if o.cli.json {
				return app.Wrong("a trace is lines of text: leave --json out")
			}
			ctx, stop := o.cli.interruptible(cmd.Context(), "the trace ends")
			defer stop()
			if o.trace == "" {
				o.traceTo = o.cli.out
			}
			b, err := o.open(ctx, cmd)
			if err != nil {
				return err
			}
			defer b.Close()
			ctx, cancel := context.WithTimeout(ctx, time.Duration(seconds*float64(time.Second)))
			defer cancel()
			for err == nil {
				if _, err = b.Status(ctx); err == nil {
					err = jig.Every(500 * time.Millisecond)(ctx)
				}
			}
			if ctx.Err() != nil {
				return nil
			}
			return app.LinkFailure(err)
		},
	}
	cmd.Flags().Float64Var(&seconds, "seconds", seconds, "stop after so many `seconds`")
	return cmd
}
