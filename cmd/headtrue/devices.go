package main

import (
	"fmt"
	"strings"
	"text/tabwriter"

	"github.com/spf13/cobra"

	"headtrue/cmd/headtrue/app"
	"headtrue/cmd/headtrue/settings"
	"headtrue/dsp/capture"
	"headtrue/jig/serialport"
)

func (c *cli) devicesCommand() *cobra.Command {
	return &cobra.Command{
		Use:   "devices",
		Short: "List serial ports and sound inputs",
		Long: `List the serial ports, with their USB identity, and the live sound inputs of this
build. Ports are never opened to list them, since that resets many boards.
--port and --audio take the names in the first column.`,
		Example: "  headtrue devices",
		RunE:    func(cmd *cobra.Command, _ []string) error { return c.devices(cmd) },
	}
}

// deviceList is the JSON of devices.
type deviceList struct {
	Inputs []capture.Input `json:"inputs" help:"sound inputs"`
	Ports  []port          `json:"ports" help:"serial ports"`
}

type port struct {
	Port      string `json:"port" help:"the value for --port"`
	VendorID  string `json:"usb_vendor,omitempty"`
	ProductID string `json:"usb_product,omitempty"`
	Serial    string `json:"usb_serial,omitempty"`
	Product   string `json:"product,omitempty" help:"if it is on USB"`
}

func (c *cli) devices(cmd *cobra.Command) error {
	ports, portErr := serialport.List()
	inputs, soundErr := capture.List(cmd.Context())
	for what, err := range map[string]error{"serial ports": portErr, "sound inputs": soundErr} {
		if err != nil {
			c.note("%s: %v", what, err)
		}
	}
	if c.json {
		list := []port{}
		for _, p := range ports {
			list = append(list, port{p.Path, p.VendorID, p.ProductID, p.Serial, p.Product})
		}
		return c.writeJSON(deviceList{append([]capture.Input{}, inputs...), list})
	}
	w := tabwriter.NewWriter(c.out, 2, 8, 2, ' ', 0)
	fmt.Fprintln(w, "SERIAL PORT\tUSB\tPRODUCT\tSERIAL NUMBER")
	for _, p := range ports {
		usb := ""
		if p.VendorID != "" {
			usb = p.VendorID + ":" + p.ProductID
		}
		fmt.Fprintf(w, "%s\t%s\t%s\t%s\n", p.Path, usb, p.Product, p.Serial)
	}
	if len(ports) == 0 {
		fmt.Fprintln(w, "(none)")
	}
	fmt.Fprintln(w, "\nSOUND INPUT\tRATE\tCHANNELS\tABOUT")
	for _, i := range inputs {
		about := i.About
		if i.Default {
			about += " (default)"
		}
		fmt.Fprintf(w, "%s\t%d\t%d\t%s\n", i.Name, i.Rate, i.Channels, strings.TrimSpace(about))
	}
	if len(inputs) == 0 {
		fmt.Fprintln(w, "(none)")
	}
	return w.Flush()
}

func (c *cli) configCommand() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "config [KEY...]",
		Short: "Show every setting and where it came from",
		Long: `Show every setting that holds, or those named, its unit, and where it came from:
default, profile, file and line, environment variable or flag. headtrue help settings
says what each of them means.`,
		Example: "  headtrue config\n  headtrue config window_deg jig\n  HEADTRUE_WINDOW_DEG=90 headtrue config --deck m3",
		RunE: func(cmd *cobra.Command, args []string) error {
			loaded, err := c.load(cmd)
			if err != nil {
				return err
			}
			if err := loaded.Keep(args); err != nil {
				return app.Wrong("%w", err)
			}
			return c.showConfig(loaded)
		},
	}
	settings.AddFlags(cmd.Flags(), settings.Flags()...)
	return cmd
}

func (c *cli) showConfig(l settings.Loaded) error {
	if c.json {
		return c.writeJSON(l.Values)
	}
	if l.File == "" {
		if file, err := settings.DefaultFile(); err == nil {
			c.note("no configuration file; it would be %s", file)
		}
	}
	w := tabwriter.NewWriter(c.out, 2, 8, 2, ' ', 0)
	fmt.Fprintln(w, "KEY\tVALUE\tFROM")
	for _, v := range l.Values {
		value := strings.TrimSpace(fmt.Sprint(v.Value, " ", v.Unit))
		if value == "" {
			value = "-"
		}
		fmt.Fprintf(w, "%s\t%s\t%s\n", v.Key, value, v.Source)
	}
	return w.Flush()
}
