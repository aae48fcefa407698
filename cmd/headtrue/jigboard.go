package main

import (
	"context"
	"fmt"

	"github.com/spf13/cobra"

	"headtrue/cmd/headtrue/app"
	"headtrue/cmd/headtrue/app/barejig"
	"headtrue/cmd/headtrue/app/cautions"
	"headtrue/firmware-protocol/firmware"
)

func (o *jigOrder) flashCommand() *cobra.Command {
	f := barejig.Flash{Baud: firmware.Baud, Programmer: firmware.Programmer}
	cmd := &cobra.Command{
		Use: "flash", Short: "Write the firmware that this program carries onto a board",
		Long: `Write the firmware that this program carries, or that of --image, onto an ATmega328P
board at 16 MHz, by avrdude, which must be installed. It shows first what it will run, and
asks. Boards with an older boot loader need --baud 57600. Whatever the board did before is
overwritten; its memory of positions starts anew if the layout has changed. Take the blade
off the screw and cut the motor's supply meanwhile.`,
		Example: "  headtrue jig flash --port /dev/ttyACM0\n  headtrue jig flash --port /dev/ttyUSB0 --baud 57600 --dry-run",
		RunE: func(cmd *cobra.Command, _ []string) error {
			loaded, err := o.cli.load(cmd)
			if err != nil {
				return err
			}
			if f.Port = loaded.Port; f.Port == "" && f.Save == "" || o.virtual.given() {
				return app.Wrong("flash needs the port of a real board: give --port (headtrue devices lists them)")
			}
			r, err := f.Run(cmd.Context(), o.cli.front(""), o.cli.err)
			if err != nil {
				return err
			}
			return o.show(r, r.Text()+"\n")
		},
	}
	cmd.Flags().IntVar(&f.Baud, "baud", f.Baud, "speed of the boot loader in bits per second")
	cmd.Flags().StringVar(&f.Programmer, "programmer", f.Programmer, "avrdude's `name` of the boot loader or programmer")
	cmd.Flags().StringVar(&f.Image, "image", "", "write this `file` of Intel hex instead of the firmware of this program")
	cmd.Flags().StringVar(&f.Save, "save", "", "only save the firmware of this program into this `file`, for another way to write it")
	cmd.Flags().BoolVar(&f.DryRun, "dry-run", false, "show what would be done, and do nothing")
	cmd.Flags().BoolVar(&f.Yes, "yes", false, yesText)
	return cmd
}

func (o *jigOrder) configureCommand() *cobra.Command {
	var conf barejig.Configuration
	cmd := &cobra.Command{
		Use: "configure", Short: "Store on the jig how it is built",
		Long: `Store on the jig how it is built: the inputs that are there, the microsteps and the
current of its driver, its direction and greatest speed, and a random identity by which
records tell it from others. What no flag names stays as it is. Other microsteps, or
another direction, make its position unknown.`,
		Example: "  headtrue jig configure --port /dev/ttyACM0 --fitted stop,supply --microsteps 16 --milliamps 250",
		RunE: func(cmd *cobra.Command, _ []string) error {
			o.anyMicrosteps = true
			b, err := o.open(cmd.Context(), cmd)
			if err != nil {
				return err
			}
			defer b.Close()
			stored, err := conf.Store(cmd.Context(), b)
			if err != nil {
				return app.LinkFailure(err)
			}
			return o.show(stored, stored.Text())
		},
	}
	flags := cmd.Flags()
	conf.Named = flags.Changed
	flags.StringVar(&conf.Fitted, "fitted", "", "`inputs` that are there: any of stop,limits,stall,encoder,supply, or none")
	flags.BoolVar(&conf.EncoderBack, "encoder-back", false, "the encoder's angle falls while the count grows")
	flags.BoolVar(&conf.Reversed, "reversed", false, "the motor turns the other way for a growing count")
	flags.Uint16Var(&conf.Microsteps, "microsteps", 0, "microsteps per full step, as the driver's straps have them")
	flags.Uint16Var(&conf.MaxSpeed, "max-speed", 0, "greatest speed in microsteps per second; 0 is what the firmware allows")
	flags.Uint16Var(&conf.Current, "milliamps", 0, "current of a winding, as the driver is set")
	flags.BoolVar(&conf.NewIdentity, "new-identity", false, "draw another random identity")
	return cmd
}

// show writes a result as JSON or as text.
func (o *jigOrder) show(result any, text string) error {
	if o.cli.json {
		return o.cli.writeJSON(result)
	}
	return o.cli.write(text)
}

func (o *jigOrder) selftestCommand() *cobra.Command {
	var yes bool
	cmd := &cobra.Command{
		Use: "selftest", Short: "Test the jig: window, one turn, steps, watchdog, stop input, limits, supply",
		Long: `Test the jig by itself: whether it refuses targets outside its window, stops when its
stop input or a limit is held (a person holds them) or its motor's supply goes, stops by
itself when the program falls silent, makes the steps it is told and comes back to where it
was. It makes one turn by itself and asks what the blade did: so the scale is proved. The
blade must be off the screw, and --yes says that it is. Without a terminal the tests that
need a person are left out, and named; so are those of inputs that are not fitted.

Without an encoder, steps and repeatability are those that the jig counts: look at the
blade as well.`,
		Example: "  headtrue jig selftest --port /dev/ttyACM0\n  headtrue jig selftest --virtual",
		RunE: func(cmd *cobra.Command, _ []string) error {
			ctx, stop := o.cli.interruptible(cmd.Context(), "the jig stops")
			defer stop()
			return o.selftest(ctx, cmd, yes)
		},
	}
	cmd.Flags().BoolVar(&yes, "yes", false, yesText)
	return cmd
}

func (o *jigOrder) selftest(ctx context.Context, cmd *cobra.Command, yes bool) error {
	c := o.cli
	asks := !yes && !o.virtual.given()
	if asks && c.atInput() == nil {
		return app.Wrong("nobody can be asked whether the blade is off the screw: run in a terminal, or say --yes")
	}
	o.bladeOff = true
	b, err := o.open(ctx, cmd)
	if err != nil {
		return err
	}
	defer b.Close()
	if asks {
		if err := cautions.Accept(ctx, c.atInput().Ask, cautions.Before(cautions.Test, 0)+"\nThe motor will turn. Is the blade off the screw?"); err != nil {
			return app.NotBegun("%w", err)
		}
	}
	front := c.front("")
	if o.virtual.given() {
		front.Ask = nil
	}
	done, err := barejig.Test(ctx, b.Jig, front, func(r barejig.Result) {
		if !c.json {
			c.say("%-16s %-10s %s", r.Test, selfTestWord(r), r.Found)
		}
	})
	if err != nil {
		return app.LinkFailure(err)
	}
	if c.json {
		if err := c.writeJSON(done); err != nil {
			return err
		}
	}
	if done.Failed > 0 {
		return &failure{code: exitUnusable, err: fmt.Errorf("%d of %d tests failed", done.Failed, len(done.Tests)), told: c.json,
			do: "do not turn a screw with this jig before they pass"}
	}
	return nil
}

func selfTestWord(r barejig.Result) string {
	switch {
	case r.Passed == nil:
		return "not tried"
	case *r.Passed:
		return "ok"
	}
	return "FAILED"
}
