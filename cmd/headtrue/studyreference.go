package main

import (
	"context"

	"github.com/spf13/cobra"

	"headtrue/cmd/headtrue/app"
	"headtrue/cmd/headtrue/app/studies"
	"headtrue/cmd/headtrue/settings"
	"headtrue/sweep/logbook"
)

const referenceFields = `Fields of --json, reference:
  of, in            the figure, and its unit
  readings, left_out   how many were taken, and how many not, as their day or block has
                    another number of them than most
  short_term, day_to_day, block_to_block   sd and dof: of readings of one day about their
                    mean, of days about that of their block, of blocks about that of their unit
  days, blocks, one_reading   sd: what days and blocks add by themselves, and of a single
                    reading on any day
  say               the result in words`

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
are left out, and told.

` + referenceFields,
		Args:    cobra.NoArgs,
		Example: "  headtrue study reference --unit REF --command sweep\n  headtrue study reference --job references --block month --json",
		RunE: func(cmd *cobra.Command, _ []string) error {
			filter, err := f.filter()
			switch {
			case err != nil:
				return err
			case studies.Figures[of].Of == nil:
				return app.Wrong("--of %q: must be left-off, found-off, tape, backlash or gearing", of)
			case studies.Blocks[block] == nil:
				return app.Wrong("--block %q: must be week or month", block)
			}
			filter.OldestFirst = true
			return c.withBook(cmd, true, func(ctx context.Context, b *logbook.Book) error { return c.reference(ctx, b, filter, of, block) })
		},
	}
	settings.AddFlags(cmd.Flags(), "logbook", "clips")
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
