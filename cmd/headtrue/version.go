package main

import (
	"bytes"
	"compress/gzip"
	_ "embed"
	"io"
	"runtime"
	"runtime/debug"

	"github.com/spf13/cobra"
)

func (c *cli) versionCommand() *cobra.Command {
	withLicences := false
	cmd := &cobra.Command{
		Use:     "version",
		Short:   "Show which headtrue this is",
		Long:    `Show which headtrue this is, or the licences of it and of all that is built into it.`,
		Example: "  headtrue version\n  headtrue version --licences",
		RunE:    func(*cobra.Command, []string) error { return c.sayVersion(withLicences) },
	}
	cmd.Flags().BoolVar(&withLicences, "licences", false, "write the licences of headtrue and of all that is built into it")
	return cmd
}

func (c *cli) sayVersion(withLicences bool) error {
	b := built{version(), runtime.Version(), runtime.GOOS, runtime.GOARCH, ""}
	if withLicences {
		var err error
		if b.Licences, err = licences(); err != nil {
			return err
		}
	}
	switch {
	case c.json:
		return c.writeJSON(b)
	case withLicences:
		return c.write(b.Licences)
	}
	c.say("headtrue %s, %s, %s/%s", b.Version, b.Go, b.System, b.Processor)
	return nil
}

// built is the JSON of version.
type built struct {
	Version   string `json:"version"`
	Go        string `json:"go" help:"the version of headtrue, and of the compiler"`
	System    string `json:"system"`
	Processor string `json:"processor" help:"the system for which it was built"`
	Licences  string `json:"licences,omitempty" help:"their texts, with --licences"`
}

// version is the module's version as the build recorded it.
func version() string {
	info, ok := debug.ReadBuildInfo()
	if !ok || info.Main.Version == "" {
		return "(devel)"
	}
	return info.Main.Version
}

// After a change of go.mod: go generate ./cmd/headtrue, on a system that has
// the package avr-libc.
//
//go:generate go run ./testdata/licences

//go:embed licences.txt.gz
var packedLicences []byte

// licences returns the licences of everything that is built in.
func licences() (string, error) {
	r, err := gzip.NewReader(bytes.NewReader(packedLicences))
	if err != nil {
		return "", err
	}
	text, err := io.ReadAll(r)
	return string(text), err
}
