package main

import (
	"github.com/spf13/cobra"

	"headtrue/cmd/headtrue/app"
	"headtrue/cmd/headtrue/panel"
	"headtrue/cmd/headtrue/settings"
)

func (c *cli) panelCommand() *cobra.Command {
	var virtual virtualFlags
	o := panel.Order{Program: "headtrue " + version(), Pace: 1, Note: c.note}
	cmd := &cobra.Command{Use: "panel", Short: "Serve the page for the bench: see it, hear it, stop it", Long: panel.Help,
		Example: "  headtrue panel --port /dev/ttyACM0 --audio pulse: --tone 10k\n  headtrue panel --virtual",
		RunE: func(cmd *cobra.Command, _ []string) error {
			if c.json {
				return app.Wrong("a panel is a page: leave --json out")
			}
			o.Load = func(over map[string]string, from string) (settings.Loaded, error) { return c.loadOver(cmd, over, from) }
			o.Virtual, o.Seed, o.SeedGiven = virtual.name, virtual.seed, virtual.seedGiven()
			p, err := panel.New(o)
			if err != nil {
				return err
			}
			ctx, stop := c.interruptible(cmd.Context(), "the panel ends, and the motor stops")
			defer stop()
			c.say("%s\nOpen this address in a browser on this machine; whoever has it can turn the motor. Ctrl-C ends the panel.", p.URL())
			return p.Serve(ctx)
		},
	}
	settings.AddFlags(cmd.Flags(), "port", "audio", "jig", "logbook", "unit", "head", "job", "tape", "operator", "tone", "within", "window", "deck", "to", "reference-tape")
	virtual.add(cmd.Flags())
	cmd.Flags().StringVar(&o.Address, "address", panel.UsualAddress, "`address` and port of this machine at which the page is served")
	return cmd
}
