package main

import (
	"context"
	"errors"
	"strconv"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"headtrue/cmd/headtrue/app"
	"headtrue/cmd/headtrue/app/studies"
	"headtrue/cmd/headtrue/settings"
	"headtrue/sweep/logbook"
	"headtrue/sweep/record"
)

// driftRun is the JSON of drift run.
type driftRun struct {
	Study    string `json:"study"`
	Points   int    `json:"points"`
	Measured int    `json:"measured"`
	Missed   int    `json:"missed" help:"points of the schedule: planned, measured and missed"`
}

func (c *cli) studyDriftCommand() *cobra.Command {
	cmd := &cobra.Command{
		Use: "drift", Short: "Follow how a head that was set moves over days and weeks",
		Long:    "Follow how a head that was set moves over days and weeks: run measures by a\nschedule, report fits laws of drift to what was measured.",
		Example: "  headtrue study drift run lacquer --every 6h --for 21d --audio pulse: --tone 10k",
	}
	cmd.AddCommand(c.driftRunCommand(), c.driftReportCommand())
	return cmd
}

type driftOrder struct {
	every, during, start, stop string
	turn                       bool
}

func (c *cli) driftRunCommand() *cobra.Command {
	var flags jobFlags
	var o driftOrder
	cmd := &cobra.Command{
		Use: "run NAME", Short: "Measure by a schedule, unattended",
		Long: `Measure the tilt of the head at fixed times until the schedule is over. It listens
only: the blade is off, no jig is used, the screw does not move; the tilt is that by the
delay, with the fixed delay of the channels in it; of a single tone it is the smallest
that fits, 9' either side at 10 kHz, so that the head should have been set. With --turn the optimum is searched
for each time and the screw put back, by a jig that seats its own blade.

The schedule is laid down at the first call, in studies/NAME.json in the folder of the
logbook; called again, after a restart of the machine too, it goes on with that. What
was due meanwhile is missed: it is named, and never made up. A point can be measured up
to a quarter of the interval late.

--start-command and --stop-command (a relay, a remote control) are carried out by the
shell before and after each point, with a minute's time for each; the second always,
whatever happened, but for a second Ctrl-C, which leaves at once. A tape that does not
run, or a start command that fails, makes a missed point whose record has the reason.
What the start command leaves running, as in 'player &', is ended after the point.

configs/systemd/headtrue-drift@.service runs it as a service.

With --virtual --time-lapse the clock jumps from point to point, so that weeks take a
minute, and the virtual deck ages by its profile: --virtual=weeks settles, creeps, warms
and gets lacquer on the tenth day. Such studies have a logbook of their own, the folder
time-lapse in that of the logbook; report needs --time-lapse, too.`,
		Example: `  headtrue study drift run lacquer --every 6h --for 21d --audio pulse: --tone 10k \
      --unit D-104 --ambient file:air.txt --start-command 'relay on' --stop-command 'relay off'
  headtrue study drift run lacquer --audio pulse: --tone 10k
  headtrue study drift run weeks --virtual=weeks --tone 10k --time-lapse`,
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := app.CheckStudy(args[0]); err != nil {
				return err
			}
			command := app.CommandDrift
			if o.turn {
				command = app.CommandSearch
			}
			j, err := c.newJob(cmd, command, flags)
			if err != nil {
				return err
			}
			defer j.Close()
			switch s := j.Settings; {
			case c.lapse && !j.IsVirtual():
				return app.Wrong("--time-lapse is for the virtual bench: add --virtual=weeks")
			case c.lapse && j.IsKept():
				return app.Wrong("no time passes for a kept deck: leave --time-lapse out, or name a profile, as --virtual=weeks")
			case j.IsVirtual():
			case o.turn && !(flags.yes && flags.itself):
				return app.Wrong("--turn turns the screw with nobody there: it needs --yes and --blade-seats-itself")
			case !o.turn && !app.IsLive(s.Audio):
				return app.Wrong("--audio %q: a schedule needs a live input, as headtrue devices names it", s.Audio)
			}
			return c.drift(j, cmd, args[0], o)
		},
	}
	flags.add(cmd, "tone", "within", "window", "deck", "stop-and-measure")
	flags.virtual.add(cmd.Flags())
	flags.addItself(cmd)
	f := cmd.Flags()
	c.addLapse(cmd)
	f.StringVar(&o.every, "every", "6h", "`time` from one point to the next: 90m, 6h, 1d")
	f.StringVar(&o.during, "for", "21d", "`time` from the first point to the last")
	f.StringVar(&o.start, "start-command", "", "shell `command` that starts the tape")
	f.StringVar(&o.stop, "stop-command", "", "shell `command` that stops it")
	f.BoolVar(&o.turn, "turn", false, "search for the optimum each time, and put the screw back")
	return cmd
}

// drift follows the schedule of a study; it makes the schedule if there is none.
func (c *cli) drift(j *app.Job, cmd *cobra.Command, name string, o driftOrder) error {
	if err := j.OpenBook(); err != nil {
		return err
	}
	if c.lapse {
		during, err := period("for", o.during)
		if err != nil {
			return err
		}
		j.Lapse = app.NewLapse(c.clock.Now().Add(-during)) // it ends now
		c.clock = j.Lapse.Clock()
	}
	j.Book().KeepTimeBy(c.clock.Now)
	plan, err := c.schedule(j, cmd, name, o)
	if err != nil {
		return err
	}
	if c.lapse {
		j.Lapse.GoOn(plan.FirstDue)
	}
	ctx, stop := c.interruptible(cmd.Context(), "stopping; the same command goes on later")
	defer stop()
	err = j.Follow(ctx, c.clock, plan)
	if errors.Is(err, context.Canceled) {
		return &app.Failure{Outcome: record.Interrupted, Err: errors.New("stopped on request; the same command goes on with the schedule")}
	}
	if err != nil {
		return err
	}
	done, err := app.PointsOf(ctx, j.Book(), name)
	if err != nil {
		return err
	}
	r := driftRun{Study: name, Points: plan.Points}
	for _, s := range done {
		if app.DriftOff(s) != nil {
			r.Measured++
		}
	}
	r.Missed = plan.Points - r.Measured
	if c.json {
		return c.writeJSON(r)
	}
	c.say("%d of %d points measured, %d missed: headtrue study drift report %s", r.Measured, r.Points, r.Missed, name)
	return nil
}

// schedule is the stored plan; the flags given now must not differ from it.
func (c *cli) schedule(j *app.Job, cmd *cobra.Command, name string, o driftOrder) (app.Schedule, error) {
	every, err := period("every", o.every)
	if err != nil {
		return app.Schedule{}, err
	}
	during, err := period("for", o.during)
	if err != nil {
		return app.Schedule{}, err
	}
	said := app.Schedule{Study: name, FirstDue: c.clock.Now().UTC().Truncate(time.Second), EverySeconds: every.Seconds(),
		Points: int(during/every) + 1, Turn: o.turn, StartCommand: o.start, StopCommand: o.stop}
	kept, there, err := app.ReadSchedule(j.Book().Dir(), name)
	if err != nil {
		return kept, err
	}
	if !there {
		c.note("study %s: %v", name, said)
		return said, said.Keep(j.Book().Dir())
	}
	for flag, same := range map[string]bool{"every": said.EverySeconds == kept.EverySeconds, "for": said.Points == kept.Points,
		"start-command": said.StartCommand == kept.StartCommand, "stop-command": said.StopCommand == kept.StopCommand} {
		if cmd.Flags().Changed(flag) && !same {
			return kept, app.Wrong("--%s: the plan of study %s says otherwise; leave it out, or choose another name", flag, name)
		}
	}
	if o.turn != kept.Turn {
		return kept, app.Wrong("--turn: study %s was begun with --turn=%t", name, kept.Turn)
	}
	c.note("study %s goes on: %v", name, kept)
	return kept, nil
}

// period reads a duration such as 6h, 90m or 21d.
func period(flag, text string) (time.Duration, error) {
	d, err := time.ParseDuration(text)
	if days, ok := strings.CutSuffix(text, "d"); ok {
		var n float64
		n, err = strconv.ParseFloat(days, 64)
		d = time.Duration(n * 24 * float64(time.Hour))
	}
	if err != nil || d < time.Minute {
		return 0, app.Wrong("--%s %q: a time is written 90m, 6h or 21d, and is a minute or more", flag, text)
	}
	return d, nil
}

type driftReportOrder struct {
	event            string
	limit, reference float64
	referenceGiven   bool
	cyclesPerPoint   float64
	cyclesGiven      bool
	untilDays        float64
	output           string
}

func (c *cli) driftReportCommand() *cobra.Command {
	var o driftReportOrder
	cmd := &cobra.Command{
		Use: "report NAME", Short: "Fit laws of drift to a study, and say when the head leaves a tolerance",
		Long: `Show what the points of a drift study show so far: which law fits best (constant, steady
creep, settling, slowing creep), with the temperature if every point has one; level
shifts; when the head leaves --tolerance-arcmin. Days count from the first point. With --event, as
when lacquer was put on the screw, its step is fitted together with every law, and laws,
shifts and forecast take the points after it and count days from it. No forecast reaches
beyond three times the span of the points. With -o FILE it is drawn as well: .pdf or
.html, or .svg or .png for its figures alone.`,
		Example: `  headtrue study drift report lacquer --tolerance-arcmin 1.5
  headtrue study drift report lacquer --event 2026-11-20T10:00 --json`,
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := app.CheckStudy(args[0]); err != nil {
				return err
			}
			if !(o.limit > 0) || !(o.untilDays > 0) || o.cyclesPerPoint < 0 {
				return app.Wrong("--tolerance-arcmin and --days must be above zero, --cycles-per-point not below it")
			}
			o.referenceGiven, o.cyclesGiven = cmd.Flags().Changed("tilt-arcmin"), cmd.Flags().Changed("cycles-per-point")
			return c.withBook(cmd, true, func(ctx context.Context, b *logbook.Book) error { return c.reportDrift(ctx, b, args[0], o) })
		},
	}
	settings.AddFlags(cmd.Flags(), "logbook")
	addOutput(cmd, &o.output)
	c.addLapse(cmd)
	f := cmd.Flags()
	f.StringVar(&o.event, "event", "", "`moment` of something done to the head or its screw: 2026-11-20T10:00")
	f.Float64Var(&o.limit, "tolerance-arcmin", 1.5, "tolerance: `arcmin` either side of the tilt that the head should have")
	f.Float64Var(&o.reference, "tilt-arcmin", 0, "tilt that the head should have, `arcmin` (else that at the first point)")
	f.Float64Var(&o.untilDays, "days", 365, "how many `days` after the last point to look ahead")
	f.Float64Var(&o.cyclesPerPoint, "cycles-per-point", 0, "`cassettes` put in for each point that was measured; 0: not counted (else one for each tape that the start command started; else it is asked)")
	return cmd
}

// cycles are the cassettes put in for each point: as the flag says. If the plan starts the tape
// itself they are counted; if not, a person is asked.
func (c *cli) cycles(ctx context.Context, b *logbook.Book, name string, o driftReportOrder) (*float64, error) {
	if o.cyclesGiven {
		return &o.cyclesPerPoint, nil
	}
	plan, there, err := app.ReadSchedule(b.Dir(), name)
	person := c.atInput()
	if err != nil || !there || plan.StartCommand != "" || person == nil || c.json {
		return nil, err
	}
	answer, err := person.Ask(ctx, "How many cassettes were put in for each point (Enter: they do not count)? ")
	if err != nil || answer == "" {
		return nil, err
	}
	each, err := strconv.ParseFloat(answer, 64)
	if err != nil || each < 0 {
		return nil, app.Wrong("%q is no number of cassettes", answer)
	}
	return &each, nil
}

func (c *cli) reportDrift(ctx context.Context, b *logbook.Book, name string, o driftReportOrder) error {
	asked := studies.DriftOrder{LimitArcmin: o.limit, UntilDays: o.untilDays}
	var err error
	if asked.CyclesPerPoint, err = c.cycles(ctx, b, name, o); err != nil {
		return err
	}
	if asked.Event, err = app.Instant("event", o.event); err != nil {
		return err
	}
	if o.referenceGiven {
		asked.Reference = &o.reference
	}
	d, err := studies.DriftOf(ctx, b, name, asked, c.clock.Now())
	if err != nil {
		return err
	}
	return c.showStudy(d.Drift, d.Text, d.Page, o.output)
}
