package main

import (
	"context"
	"fmt"
	"os/exec"
	"strings"

	"github.com/spf13/cobra"

	"headtrue/cmd/headtrue/app"
	"headtrue/cmd/headtrue/app/barejig"
	"headtrue/cmd/headtrue/app/cautions"
	"headtrue/firmware-protocol/firmware"
)

// flashed is the JSON of flash.
type flashed struct {
	ImageBytes int      `json:"image_bytes"`
	Command    []string `json:"command"`
	Flashed    bool     `json:"flashed" help:"size of the image, the command that writes it, and whether it was run"`
}

func (o *jigOrder) flashCommand() *cobra.Command {
	order := flashOrder{Flash: barejig.Flash{Baud: firmware.Baud, Programmer: firmware.Programmer}}
	cmd := &cobra.Command{
		Use: "flash", Short: "Write the firmware that this program carries onto a board",
		Long: `Write the firmware that this program carries onto an ATmega328P board at 16 MHz, by
avrdude, which must be installed. It shows first what it will run, and asks. Boards with
an older boot loader need --baud 57600. Whatever the board did before is overwritten, and
its memory of positions starts anew if the layout has changed. Take the blade off the
screw and cut the motor's supply meanwhile.`,
		Example: "  headtrue jig flash --port /dev/ttyACM0\n  headtrue jig flash --port /dev/ttyUSB0 --baud 57600 --dry-run",
		RunE: func(cmd *cobra.Command, _ []string) error {
			loaded, err := o.cli.load(cmd)
			if err != nil {
				return err
			}
			if order.Port = loaded.Port; order.Port == "" || o.virtual.given() {
				return app.Wrong("flash needs the port of a real board: give --port (headtrue devices lists them)")
			}
			return o.cli.flash(cmd.Context(), order)
		},
	}
	cmd.Flags().IntVar(&order.Baud, "baud", order.Baud, "speed of the boot loader in bits per second")
	cmd.Flags().StringVar(&order.Programmer, "programmer", order.Programmer, "avrdude's `name` of the boot loader or programmer")
	cmd.Flags().BoolVar(&order.dryRun, "dry-run", false, "show what would be done, and do nothing")
	cmd.Flags().BoolVar(&order.yes, "yes", false, yesText)
	return cmd
}

type flashOrder struct {
	barejig.Flash
	dryRun, yes bool
}

func (c *cli) flash(ctx context.Context, f flashOrder) (err error) {
	result := flashed{ImageBytes: len(firmware.Image)}
	result.Flashed, err = f.Write(ctx, func(call []string) (bool, error) {
		result.Command = call
		c.note("The firmware of this program (%d bytes of Intel hex, for an %s at 16 MHz) is to be written\nto the board on %s, by\n\n  %s\n",
			result.ImageBytes, firmware.Chip, f.Port, strings.Join(call, " "))
		if f.dryRun {
			return false, nil
		}
		if _, err := exec.LookPath(call[0]); err != nil {
			return false, app.NotReady("install avrdude (on Debian: apt-get install avrdude)", "%w", err)
		}
		if f.yes {
			return true, nil
		}
		return true, c.askFlash(ctx)
	}, c.err)
	if err != nil {
		return err
	}
	return c.reportFlash(result)
}

func (c *cli) askFlash(ctx context.Context) error {
	person := c.atInput()
	if person == nil {
		return app.Wrong("nobody can be asked: run in a terminal, or say --yes")
	}
	if err := cautions.Accept(ctx, person.Ask, "Is the blade off the screw and the motor's supply cut?"); err != nil {
		return app.NotBegun("nothing was written: %w", err)
	}
	return nil
}

func (c *cli) reportFlash(r flashed) error {
	if c.json {
		return c.writeJSON(r)
	}
	words := "nothing was written"
	if r.Flashed {
		words = fmt.Sprintf("written and verified: %d bytes of hex; try headtrue jig selftest", r.ImageBytes)
	}
	c.say("%s", words)
	return nil
}

func (o *jigOrder) selftestCommand() *cobra.Command {
	var yes bool
	cmd := &cobra.Command{
		Use: "selftest", Short: "Test the jig: window, stop input, limits, watchdog, steps, repeatability",
		Long: `Test the jig by itself: whether it refuses targets outside its window, stops when its
stop input or a limit is held (a person holds them), stops by itself when the program
falls silent, makes the steps it is told and comes back to where it was. The motor turns
half a turn to and fro: the blade must be off the screw, and --yes says that it is. Without a terminal the tests that
need a person are left out, and named.

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
