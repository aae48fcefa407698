package main

import (
	"encoding/json"
	"fmt"

	"github.com/spf13/cobra"

	"headtrue/cmd/headtrue/app/listening"
	"headtrue/cmd/headtrue/live"
	"headtrue/cmd/headtrue/settings"
	"headtrue/cmd/headtrue/terminal"
)

func (c *cli) listenCommand() *cobra.Command {
	var o listening.Order
	var virtual virtualFlags
	var format string
	large := false
	cmd := &cobra.Command{
		Use:   "listen [FILE]",
		Short: "Show what is heard, live: levels, treble, delay, tilt, speed, flutter, faults",
		Long: `Listen to a live input (--audio), a WAV or FLAC file, raw PCM on standard input (-) or
a virtual deck, and show about 25 times a second what is heard. No jig is needed, nothing
turns and nothing is recorded, unless --record names a file for the sound. It ends with
the sound, with Ctrl-C or after --seconds, with one line that sums it up.

The tilt is that of all sound since the head stands still, a minute at most: its
uncertainty becomes smaller as you wait, and begins anew as soon as the head turns. It
includes noise, wander, crosstalk of -40 dB and 1 % of speed, but not the fixed delay of
the channels, which channel_delay_us takes out. A tone leaves whole periods open: the
smallest tilt that fits is shown.

On a terminal the lines are redrawn in place; --large draws the digits for reading from
two metres (80x24). A pipe gets a plain line about once a second. With --json each update
is an object on a line of its own, and the line at the end goes to standard error.

A file is heard as fast as the machine can, and with --pace in real time. A virtual deck
is heard in real time on a terminal and with --pace, else as fast as the machine can; it
turns nothing. With --reference FILE, the recording that is on the tape, each 10 s of
sound are compared with it: only this shows whether left and right are swapped.`,
		Example: `  headtrue listen --audio pulse: --tone 10k --large --seconds 600
  headtrue listen --virtual --seconds 10 --json
  headtrue listen --reference album.flac recording.wav`,
		Args: cobra.MaximumNArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			loaded, err := c.load(cmd)
			if err != nil {
				return err
			}
			switch {
			case virtual.given() && len(args) > 0:
				virtual.name = args[0] // --virtual DECK as two words
			case len(args) > 0:
				o.Source = sourceName(args[0], format)
			default:
				o.Source, o.RateHz = loaded.Audio, max(o.RateHz, loaded.AudioRateHz)
			}
			o.Virtual, o.Seed, o.SeedGiven = virtual.name, virtual.seed, virtual.seedGiven()
			o.ToneHz, o.FurtherHz, o.FixedDelayUS = loaded.ToneHz, loaded.FurtherTones(), loaded.ChannelDelayUS
			return c.listen(cmd, o, large)
		},
	}
	flags := cmd.Flags()
	settings.AddFlags(flags, "audio", "tone", "unit", "head")
	virtual.add(flags)
	addSoundFlags(flags, &o.RateHz, &format, &o.Reference, &o.Seconds)
	flags.BoolVar(&o.Pace, "pace", false, "hear a file or a virtual deck in real time")
	flags.BoolVar(&large, "large", false, "draw the digits big, for a terminal of 80x24")
	flags.StringVar(&o.Record, "record", "", "write the sound into this WAV `file`")
	return cmd
}

func (c *cli) listen(cmd *cobra.Command, o listening.Order, large bool) error {
	display := live.Display{Panel: terminal.Panel{To: c.results}, View: live.View{Large: large}}
	redraws := c.results.Rewrites && !c.json
	o.Pace = o.Pace || o.Virtual != "" && redraws
	show := display.Plain
	switch encoder := json.NewEncoder(c.data); {
	case c.json:
		c.answered = true
		show = func(u listening.Update) error { return encoder.Encode(u) }
	case redraws:
		show = display.Redraw
	}
	ctx, stop := c.interruptible(cmd.Context(), "the listening ends")
	defer stop()
	heard, err := o.Listen(ctx, show)
	if heard.Seconds == 0 && err != nil {
		return err
	}
	if c.json {
		c.note("%s", live.Summary(heard))
		return err
	}
	fmt.Fprintln(c.out, live.Summary(heard))
	return err
}
