package main

import (
	"context"
	"errors"
	"strings"

	"github.com/spf13/cobra"

	"headtrue/cmd/headtrue/settings"
	"headtrue/sweep"
	"headtrue/sweep/logbook"
	"headtrue/sweep/record"
	"headtrue/sweep/sheet"
)

func (c *cli) proofCommand() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "proof [RUN]",
		Short: "Listen again to a head that was set: how far it stands from the optimum now",
		Long: `Listen again to a head that a run has set, after the lacquer has dried or later, and
say how far it stands from the optimum of that run now, and how far it has moved
since it was left. Nothing is turned: the motor is off, the blade away, and no
port is opened. Play the tape of that run. Without RUN it is the newest that set a
head, of --unit and --head where they are given. The proof is a run of its own in
the logbook, on the same unit, head and job unless others are given.

Fields of --json (null where not known):
  run, proof_of   name of this run, and of the run that set the head
  outcome         how it ended, see headtrue help exit-codes
  off_arcmin, off_sd_arcmin       how far the head stands from the optimum now, its
                  standard uncertainty
  moved_arcmin, moved_sd_arcmin   how far it has moved since it was left
  say, do         the outcome in words, and what to do about it`,
		Example: "  headtrue proof --audio pulse: --unit D-104\n  headtrue proof 20240506T070809Z --audio pulse:",
		Args:    cobra.MaximumNArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			j, err := c.newJob(cmd, "proof", jobFlags{})
			if err != nil {
				return err
			}
			defer j.close()
			if err := j.openBook(); err != nil {
				return err
			}
			rec, err := j.toProve(args)
			if err != nil {
				return err
			}
			if err := j.takeAsLeft(rec); err != nil {
				return err
			}
			if rec.Start().Virtual != "" {
				return usage("run %s was made on a virtual bench that is gone: there is nothing to listen to", rec.Run)
			}
			if c.terminal(j.settings.Audio) == nil {
				c.note("Nobody can be asked: the motor must be off, and the blade clear of the screw.")
			}
			end, err := j.prove(cmd.Context())
			if err != nil {
				return err
			}
			return j.reportProof(end)
		},
	}
	settings.AddFlags(cmd.Flags(), "audio", "audio-rate", "logbook", "unit", "head", "proof-seconds")
	return cmd
}

// toProve finds the run whose head is to be listened to.
func (j *job) toProve(args []string) (logbook.Record, error) {
	if len(args) == 1 {
		rec, err := j.book.Load(args[0])
		if err != nil {
			return rec, usage("%w", err)
		}
		return rec, nil
	}
	f := logbook.Filter{SetHead: true, Real: true, Unit: j.settings.Unit}
	if j.given("head") {
		f.Head = j.settings.Head
	}
	rec, err := j.book.Newest(f)
	if errors.Is(err, logbook.ErrEmpty) {
		return rec, usage("no run in %s has set such a real head: there is nothing to prove", j.book.Where())
	}
	return rec, err
}

// given says that somebody has set a key, and not only what holds without.
func (j *job) given(key string) bool { return j.settings.Source(key) != "default" }

// takeAsLeft makes the job a proof of a run.
func (j *job) takeAsLeft(rec logbook.Record) error {
	s, left := rec.Start(), rec.Left()
	switch {
	case s.ProofOf != "":
		return usage("run %s is a proof itself; name the run that set the head, %s", rec.Run, s.ProofOf)
	case left == nil || left.Released == nil || left.OffArcmin == nil:
		return usage("run %s has not heard how far off it left a head: there is nothing to prove", rec.Run)
	}
	j.asLeft = &sweep.AsLeft{Run: rec.Run, Left: *left}
	if d := rec.Decision(); d != nil {
		j.asLeft.OptimumSDArcmin = d.Optimum.SDArcmin
	}
	for key, of := range map[string]struct{ here, there *string }{"unit": {&j.settings.Unit, &s.Unit},
		"head": {&j.settings.Head, &s.Head}, "job": {&j.settings.Job, &s.Job}} {
		if !j.given(key) {
			*of.here = *of.there
		}
	}
	return nil
}

// prove is the run itself.
func (j *job) prove(ctx context.Context) (record.End, error) {
	return j.perform(ctx, func(ctx context.Context, s sweep.Setup) (record.End, error) {
		return sweep.Prove(ctx, s, *j.asLeft)
	})
}

// proved is what proof writes for machines.
type proved struct {
	Run           string         `json:"run"`
	ProofOf       string         `json:"proof_of"`
	Outcome       record.Outcome `json:"outcome"`
	OffArcmin     *float64       `json:"off_arcmin"`
	OffSDArcmin   *float64       `json:"off_sd_arcmin"`
	MovedArcmin   *float64       `json:"moved_arcmin"`
	MovedSDArcmin *float64       `json:"moved_sd_arcmin"`
	Say           string         `json:"say"`
	Do            string         `json:"do"`
}

func (j *job) reportProof(end record.End) error {
	rec, err := j.book.Load(j.run.ID())
	if err != nil {
		return err
	}
	failed := ended(end, false)
	if !j.cli.json {
		if failed == nil {
			j.cli.say("\n%s", sheet.Wrap(capital(end.Say)+".", 0))
		}
		return failed
	}
	p := proved{Run: rec.Run, ProofOf: j.asLeft.Run, Outcome: end.Outcome, Say: end.Say, Do: end.Do}
	if left := rec.Left(); left != nil {
		moved, sd := sweep.Moved(*left.Released, j.asLeft.Left)
		p.OffArcmin, p.OffSDArcmin, p.MovedArcmin, p.MovedSDArcmin = left.OffArcmin, &left.OffSDArcmin, &moved, &sd
	}
	if err := j.cli.writeJSON(p); err != nil {
		return unwritten(end, err)
	}
	return failed
}

// capital begins a sentence.
func capital(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}
