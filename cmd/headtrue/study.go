package main

import (
	"context"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"headtrue/cmd/headtrue/app"
	"headtrue/cmd/headtrue/app/sheetfile"
	"headtrue/cmd/headtrue/app/studies"
	"headtrue/cmd/headtrue/nearest"
	"headtrue/cmd/headtrue/settings"
	"headtrue/sweep/logbook"
	"headtrue/sweep/sheet"
	"headtrue/sweep/study"
)

func (c *cli) studyCommand() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "study",
		Short: "Study many runs: control charts, repeatability, drift",
		Long: `Study many runs together. chart and reference need the logbook only; repeat and drift
have a plan, kept as studies/NAME in the folder of the logbook, and take their
figures from the runs that were recorded for it.`,
		Example: "  headtrue study chart --of left-off --unit REF --command align --baseline 25",
	}
	cmd.AddCommand(c.studyChartCommand(), c.studyReferenceCommand(), c.studyRepeatCommand(), c.studyDriftCommand())
	return cmd
}

type chartOrder struct {
	filter          filterFlags
	of, kind, group string
	from            study.Baseline
	output          string
}

func (c *cli) studyChartCommand() *cobra.Command {
	var o chartOrder
	cmd := &cobra.Command{
		Use: "chart", Short: "Draw a control chart of a figure of many runs, and say which runs break its rules",
		Long: `Draw a control chart of one figure of the runs that the filters pick, the oldest
first: its centre, its limits at 3 sigma, and what breaks the four Western Electric
rules. Sigma comes from the differences of neighbours (individuals) or from the
ranges within groups of equal size (xbar), of all points or of the first --baseline
ones; or both are given by --center and --sigma (of a single value). With -o FILE it
is drawn as well: .pdf or .html, or .svg or .png for its figures alone.

A reference deck that is measured each morning and never set (headtrue sweep --unit
REF) shows whether the bench has moved: chart its found-off.`,
		Example: `  headtrue study chart --of found-off --unit REF --command sweep --baseline 25
  headtrue study chart --of left-off --command align --kind xbar --group day
  headtrue study chart --of tape --job 7/26 --json`,
		RunE: func(cmd *cobra.Command, _ []string) error {
			filter, err := o.complete(cmd)
			if err != nil {
				return err
			}
			return c.withBook(cmd, true, func(ctx context.Context, b *logbook.Book) error { return c.chart(ctx, b, filter, o) })
		},
	}
	settings.AddFlags(cmd.Flags(), "logbook")
	o.filter.add(cmd)
	f := cmd.Flags()
	f.StringVar(&o.of, "of", "left-off", "which `figure`: left-off, found-off, tape (seconds used), backlash, gearing")
	f.StringVar(&o.kind, "kind", "individuals", "individuals, or xbar: the means of groups")
	f.StringVar(&o.group, "group", "day", "what makes a group of xbar: day, unit or operator")
	f.IntVar(&o.from.First, "baseline", 0, "number of first points from which the limits are taken; 0 takes all")
	f.Float64Var(&o.from.CenterArcmin, "center", 0, "centre, if it is given and not taken from the points; with --sigma")
	f.Float64Var(&o.from.SigmaArcmin, "sigma", 0, "standard deviation of a single value; with --center")
	addOutput(cmd, &o.output)
	return cmd
}

func (o *chartOrder) complete(cmd *cobra.Command) (logbook.Filter, error) {
	filter, err := o.filter.filter()
	given := cmd.Flags().Changed
	switch {
	case err != nil:
		return filter, err
	case given("center") != given("sigma"):
		return filter, app.Wrong("--center and --sigma belong together: give both or neither")
	case given("center") && given("baseline"):
		return filter, app.Wrong("the limits are given by --center and --sigma, or taken from the points by --baseline: not both")
	case studies.Figures[o.of].Of == nil:
		return filter, wrongFigure(o.of)
	case o.kind != "individuals" && o.kind != "xbar":
		return filter, app.Wrong("--kind %q: must be individuals or xbar", o.kind)
	case o.kind == "xbar" && studies.Groupings[o.group] == nil:
		return filter, app.Wrong("--group %q: must be day, unit or operator", o.group)
	}
	o.from.Given = given("center")
	filter.OldestFirst = true
	return filter, nil
}

func wrongFigure(of string) error {
	figures := []string{"left-off", "found-off", "tape", "backlash", "gearing"}
	return app.Wrong("--of %q: must be left-off, found-off, tape, backlash or gearing%s", of, nearest.Hint(of, figures))
}

func (c *cli) chart(ctx context.Context, b *logbook.Book, f logbook.Filter, o chartOrder) error {
	drawn, err := studies.ChartOf(ctx, b, f, o.of, o.kind, o.group, o.from)
	if err != nil {
		return err
	}
	return c.showStudy(drawn, drawn.Text, drawn.Page, o.output)
}

// showStudy writes the result of a study: as a page in a file, as JSON, or as text.
func (c *cli) showStudy(result any, text func() string, page func() sheet.Page, output string) error {
	switch kind := strings.ToLower(filepath.Ext(output)); {
	case output != "" && !slices.Contains([]string{".pdf", ".html", ".svg", ".png"}, kind):
		return app.Wrong("--output %q: must end in .pdf, .html, .svg or .png", output)
	case output != "":
		if err := sheetfile.WritePages(output, page()); err != nil {
			return app.Wrong("%w", err)
		}
		c.note("written to %s", output)
	}
	if c.json {
		return c.writeJSON(result)
	}
	return c.write(text())
}

// addOutput adds the flag for a file.
func addOutput(cmd *cobra.Command, output *string) {
	cmd.Flags().StringVarP(output, "output", "o", "", "write it to a `file`, whose ending says the kind (see above)")
}

func (c *cli) studyReferenceCommand() *cobra.Command {
	var f filterFlags
	of, block := "found-off", "week"
	cmd := &cobra.Command{
		Use: "reference", Short: "Say how much a reference deck differs within a day, from day to day and from week to week",
		Long: `Say how much the figure of one or several reference decks differs within a day, from
day to day and from block to block of days, as the NIST/SEMATECH e-Handbook (2.6.1) does
with check standards: measure each a few times on several days of several weeks and never
set it. A deck that has moved since its last insertion shows from day to day; a bench that
changes shows from week to week. Days and weeks with another number of readings than most
are left out, and named.`,
		Example: "  headtrue study reference --unit REF --command sweep\n  headtrue study reference --job references --block month --json",
		RunE: func(cmd *cobra.Command, _ []string) error {
			filter, err := f.filter()
			switch {
			case err != nil:
				return err
			case studies.Figures[of].Of == nil:
				return wrongFigure(of)
			case studies.Blocks[block] == nil:
				return app.Wrong("--block %q: must be week or month", block)
			}
			filter.OldestFirst = true
			return c.withBook(cmd, true, func(ctx context.Context, b *logbook.Book) error { return c.reference(ctx, b, filter, of, block) })
		},
	}
	settings.AddFlags(cmd.Flags(), "logbook")
	f.add(cmd)
	cmd.Flags().StringVar(&of, "of", of, "which `figure`: left-off, found-off, tape (seconds used), backlash, gearing")
	cmd.Flags().StringVar(&block, "block", block, "what days are put together: week or month")
	return cmd
}

func (c *cli) reference(ctx context.Context, b *logbook.Book, f logbook.Filter, of, block string) error {
	r, err := studies.ReferenceOf(ctx, b, f, of, block)
	if err != nil {
		return err
	}
	if c.json {
		return c.writeJSON(r)
	}
	return c.write(r.Text(block))
}
