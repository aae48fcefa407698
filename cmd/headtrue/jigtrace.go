package main

import (
	"context"
	"time"

	"github.com/spf13/cobra"

	"headtrue/cmd/headtrue/app"
	"headtrue/jig"
)

func (o *jigOrder) traceCommand() *cobra.Command {
	seconds := 10.0
	cmd := &cobra.Command{
		Use: "trace", Short: "Greet the jig, ask it now and then, and show what passes on the link", Args: cobra.NoArgs,
		Long: `Greet the jig, ask for its status twice a second, and write what passes on the link in
words: seconds, > from the program or < from the jig, and the frame. Any other command
of the jig writes the same with --trace FILE.`,
		Example: "  headtrue jig trace --port /dev/ttyACM0 --seconds 5",
		RunE: func(cmd *cobra.Command, _ []string) error {
			if o.cli.json {
				return app.Wrong("a trace is lines of text: leave --json out")
			}
			if o.trace != "" {
				return app.Wrong("trace writes to standard output: leave --trace out")
			}
			ctx, stop := o.cli.interruptible(cmd.Context(), "the trace ends")
			defer stop()
			o.traceTo = o.cli.out
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
	cmd.Flags().Float64Var(&seconds, "seconds", seconds, "end after so many seconds")
	return cmd
}
