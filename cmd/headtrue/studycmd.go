package main

import "github.com/spf13/cobra"

func (c *cli) studyCommand() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "study",
		Short: "Study many runs: control charts, repeatability, drift",
		Long: `Study what many runs tell together. chart and reference need the logbook only; repeat and drift
have a plan, kept as studies/NAME in the folder of the logbook, and take their
figures from the runs that were recorded for it.

` + chartFields + "\n" + referenceFields + "\n" + repeatFields + "\n" + reportFields + "\n" + driftRunFields + "\n" + driftReportFields,
		Example: "  headtrue study chart --of left-off --unit REF --command align --baseline 25",
	}
	cmd.AddCommand(c.studyChartCommand(), c.studyReferenceCommand(), c.studyRepeatCommand(), c.studyDriftCommand())
	return cmd
}
