package main

import (
	"context"
	"fmt"
	"os"
	"path/filepath"

	"github.com/spf13/cobra"

	"headtrue/cmd/headtrue/app"
	"headtrue/cmd/headtrue/app/sheetfile"
	"headtrue/cmd/headtrue/runjson"
	"headtrue/cmd/headtrue/settings"
	"headtrue/sweep"
	"headtrue/sweep/logbook"
	"headtrue/sweep/record"
	"headtrue/sweep/sheet"
)

func (c *cli) demoCommand() *cobra.Command {
	var out string
	var seed uint64
	cmd := &cobra.Command{
		Use:   "demo",
		Short: "Align a virtual deck, and keep how it sounded before and after",
		Long: `Align the default virtual deck from beginning to end: a jig in software, a head that
was found off, music on the tape. It needs no hardware and ignores all settings.
How the deck sounded before and after is kept as before.wav and after.wav, the job
sheet of the run as sheet.pdf. It ends with commands to try next, on a virtual deck that
keeps its screw.`,
		Example: "  headtrue demo\n  headtrue demo --seed 3 --folder /tmp",
		RunE:    func(cmd *cobra.Command, _ []string) error { return c.demo(cmd.Context(), out, seed) },
	}
	cmd.Flags().StringVar(&out, "folder", ".", "`folder` for before.wav, after.wav and sheet.pdf, made if there is none")
	cmd.Flags().Uint64Var(&seed, "seed", 1, "seed: another deck for each")
	return cmd
}

// demoClips are the names of the clips that a run keeps, and of the demo's files.
var demoClips = map[string]string{"as-found": "before.wav", "as-left": "after.wav"}

func (c *cli) demo(ctx context.Context, out string, seed uint64) error {
	defaults, err := settings.LoadDefaults()
	if err != nil {
		return err
	}
	if err := os.MkdirAll(out, 0o755); err != nil {
		return app.Wrong("--folder: %w; name a folder, or a place where one can be made", err)
	}
	dir, err := os.MkdirTemp("", "headtrue-demo-")
	if err != nil {
		return err
	}
	defer os.RemoveAll(dir)
	book, err := logbook.Open(dir, "")
	if err != nil {
		return err
	}
	j, err := app.New(c.front(""), app.Order{Command: "demo", Program: "headtrue " + version(), Settings: defaults,
		Virtual: "default", Seed: seed, Unnamed: true})
	if err != nil {
		return err
	}
	j.Plan = sweep.Plan{} // all defaults of package sweep
	j.RecordIn(book)
	defer j.Close()
	c.note("A virtual deck, whose head is off by an amount that the program has to find.\n")
	var end record.End
	var off [2]float64
	end, err = j.Perform(ctx, func(ctx context.Context, s sweep.Setup) (record.End, error) {
		s.Clip = func(name string) (sweep.Clip, error) { return j.Clip(filepath.Join(out, demoClips[name])) }
		off[0] = j.Rig().Bench.Truth().ErrorArcmin
		end, err := sweep.Align(ctx, s)
		off[1] = j.Rig().Bench.Truth().ErrorArcmin
		return end, err
	})
	if err != nil {
		return err
	}
	return c.reportDemo(ctx, j, end, out, off)
}

// tryNext are commands that work one after the other; a test runs them.
const tryNext = `  headtrue bench --keep bench1              make the deck
  headtrue align --virtual=bench1           find the optimum and set the head
  headtrue sheet -o bench1.pdf              its job sheet
  headtrue proof --virtual=bench1           listen again to the head that was set
  headtrue restore --virtual=bench1         put the screw back as it was found`

// demonstrated is the JSON of demo.
type demonstrated struct {
	runjson.Aligned
	Before              string  `json:"before_wav"`
	After               string  `json:"after_wav" help:"the files of sound before and after"`
	Sheet               string  `json:"sheet_pdf" help:"the file of the job sheet"`
	TruthFoundOffArcmin float64 `json:"truth_found_off_arcmin"`
	TruthLeftOffArcmin  float64 `json:"truth_left_off_arcmin" help:"true distance of the head from the optimum before and after"`
}

func (c *cli) reportDemo(ctx context.Context, j *app.Job, end record.End, out string, off [2]float64) error {
	rec, err := j.Recorded()
	if err != nil {
		return err
	}
	page := filepath.Join(out, "sheet.pdf")
	if err := sheetfile.Write(ctx, j.Book(), j.Settings.Settings, page, rec, sheetfile.ForWorkshop); err != nil {
		return err
	}
	before, after := filepath.Join(out, demoClips["as-found"]), filepath.Join(out, demoClips["as-left"])
	if c.json {
		err = c.writeJSON(demonstrated{runjson.AlignedFrom(j.Run(), end, rec.Entries), before, after, page, off[0], off[1]})
	} else {
		_, err = fmt.Fprintf(c.out, `
%s
The bench's own truth: the head was %.1f' off and is now %.1f' off the optimum.

Listen to the difference:
  %s
  %s
The job sheet:
  %s

What to try next, on a virtual deck that keeps its screw from command to command:
%s
`, sheet.Brief(rec.Entries), off[0], off[1], before, after, page, tryNext)
	}
	if err != nil {
		return unwritten(end, err)
	}
	return ended(end, !c.json)
}
