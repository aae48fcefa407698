package sweep

import (
	"context"
	"fmt"

	"headtrue/sweep/estimate"

	"headtrue/dsp"
	"headtrue/dsp/audio"
	"headtrue/jig"
	"headtrue/sweep/axis"
	"headtrue/sweep/record"
)

// course is one run under way.
type course struct {
	Setup
	plan  estimate.Task
	meter *dsp.Meter
	axis  *axis.Axis
	clip  Clip
	// first and next are sample numbers: where the tape seconds began to be
	// counted, and the end of the last block.
	first, next int64
	started     bool
	asked       bool // a person was waited for: the sound that went by does not count
	behind      bool // the sound was told to be late
	found       record.Found
	mix         mixState // what was heard of a second source
	left        record.Left
	blade       bladeTilt
	steps       []record.Step
	// scanned is the first step of the scan under way. Between two scans lies a
	// long move, through which a tone's periods cannot be counted for certain:
	// each scan is judged by itself.
	scanned int
	// run is the first step of the run under way, and last the last place whose
	// delay could be used: what a tone's periods are counted from.
	run  int
	last place
	// way is the delay line by which the bracket on a programme was found: places
	// far from it tell nothing.
	way estimate.Line
	// dullPasses is how often in a row the treble has shown no top.
	dullPasses int
	// straight is whether the programme's phase was the line of one delay
	// wherever the delay could be used.
	straight dsp.Straight
	// foundHome is where the screw, arriving from the home side, stands as
	// found, by the line near there.
	foundHome record.Estimate
	// ref is the reading that silence and dead channels are judged against.
	ref *record.Reading
	// screwDeg is where the screw was last driven to, homeRun how far it has
	// been driven in the home direction without a move back: once that exceeds
	// any slack, the screw has arrived from its home side.
	screwDeg float64
	homeRun  float64
	// path is where the jig stood when, and verifiedAt when the place was listened to last.
	path       []estimate.Whereabouts
	verifiedAt float64
	// trip is the jig's way since as found, lastDeg where the jig was heard to be last,
	// and decided the last decision: by them goes where a run that breaks off has left
	// the screw.
	trip    estimate.Trip
	lastDeg float64
	epoch   uint16 // of the count that degrees are told in
	// bladeAway says that the screw has been let go of at its place.
	bladeAway bool
	decided   *record.Decision
	windowDeg float64 // as far as a restore may drive, either way
	// back is what a restore goes back behind; nil in any other run.
	back *wayBack
}

func begin(s Setup) *course {
	rate, homeSide := s.Sound.Rate(), 1.0
	if s.Jig != nil && s.Jig.Profile().HomeSide < 0 {
		homeSide = -1
	}
	s.Plan = s.Plan.Defaults()
	return &course{
		Setup: s, plan: estimate.NewTask(s.Plan, homeSide),
		meter: dsp.NewMeter(rate, s.Plan.ToneHz, s.Plan.FurtherTonesHz...),
		axis:  axis.New(rate),
	}
}

// tell passes an event on.
func (c *course) tell(phase, format string, args ...any) {
	if c.Tell != nil {
		c.Tell(Event{Phase: phase, Say: fmt.Sprintf(format, args...), TapeSeconds: c.tapeSeconds()})
	}
}

// save makes an entry durable.
func (c *course) save(e record.Entry) error {
	e.TapeSeconds = c.tapeSeconds()
	if e.Decision != nil {
		saved := *e.Decision
		c.decided = &saved
	}
	if c.Save == nil {
		return nil
	}
	return notSaved("the record", c.Save(e))
}

// ask has a person do something.
func (c *course) ask(ctx context.Context, p Prompt) error {
	if c.Ask == nil {
		return nil
	}
	c.asked = true
	return c.Ask(ctx, p)
}

func (c *course) seconds(frames int64) float64 { return float64(frames) / float64(c.Sound.Rate()) }

// tapeSeconds is the sound consumed since the first block that counts.
func (c *course) tapeSeconds() float64 {
	if !c.started {
		return 0
	}
	return c.seconds(c.next - c.first)
}

// pull reads one block, lays it on the axis, and keeps an open clip. It lets the jig be
// asked on: a run that hangs no longer does.
func (c *course) pull(ctx context.Context) (audio.Block, error) {
	b, err := c.Sound.Next(ctx)
	if err != nil {
		return b, err
	}
	switch {
	case !c.started:
		c.first, c.started = b.Start, true
	case c.asked:
		c.first += b.Start - c.next
	}
	c.asked = false
	c.next = b.End()
	c.lay(b)
	if c.clip != nil {
		return b, notSaved("a clip", c.clip.Add(b))
	}
	return b, nil
}

// lay lays a block, and what the jig has said meanwhile, on the axis.
func (c *course) lay(b audio.Block) {
	if c.Jig == nil {
		return
	}
	c.Jig.Renew()
	for _, s := range c.Jig.Heard() {
		c.axis.Jig(s.Micros, s.Asked, s.Heard)
		c.lastDeg = float64(c.Jig.At(float64(s.Micros)))
	}
	c.axis.Sound(b.End(), b.Arrived, b.Lost > 0)
	c.tellLate()
}

// Sound that falls behind is told from so many seconds on, and again once it has been
// on time.
const tellLateSeconds = 0.5

func (c *course) tellLate() {
	switch late := c.axis.LateSeconds(); {
	case late > tellLateSeconds && !c.behind:
		c.behind = true
		c.tell("sound", "the sound arrives %.1f s late: the computer is busy, or the sound server is; nothing is lost", late)
	case late < tellLateSeconds/2:
		c.behind = false
	}
}

// pass lets one block of sound go by: the jig's way of waiting.
func (c *course) pass(ctx context.Context) error {
	_, err := c.pull(ctx)
	return err
}

// settle lets sound go by until what is heard was played after the last move: the
// settling time, counted from where on the axis the jig came to stand.
func (c *course) settle(ctx context.Context) error {
	stood := c.next
	if c.axis.Ready() {
		stood = c.axis.Sample(c.Jig.StandsSince())
	}
	until := stood + c.samples(c.plan.SettleSeconds)
	for c.next < until {
		if _, err := c.pull(ctx); err != nil {
			return err
		}
	}
	return nil
}

// hear listens for so many seconds and returns what was heard, whatever it is.
func (c *course) hear(ctx context.Context, seconds float64) (record.Reading, dsp.Reading, error) {
	c.meter.Reset()
	if err := c.feed(ctx, seconds, c.meter); err != nil {
		return record.Reading{}, dsp.Reading{}, err
	}
	r, raw := c.read(c.meter)
	if estimate.DelayUsable(r) {
		c.straight.Add(&raw.Straight)
	}
	return r, raw, nil
}

// feed has meters hear the next seconds.
func (c *course) feed(ctx context.Context, seconds float64, meters ...*dsp.Meter) error {
	need := int64(seconds * float64(c.Sound.Rate()))
	for got := int64(0); got < need; {
		b, err := c.pull(ctx)
		if err != nil {
			return err
		}
		got += int64(b.Frames())
		for _, m := range meters {
			m.Add(b)
		}
	}
	return nil
}

// read is what a meter has heard.
func (c *course) read(m *dsp.Meter) (record.Reading, dsp.Reading) {
	raw := m.Reading()
	r := toRecord(c.plan.Tape, raw, c.plan.ToneHz)
	r.DelayTrackedUS = r.DelayUS
	return r, raw
}

// mostTries is how often a place is listened to before its trouble ends the run.
const mostTries = 3

// listen hears a place and answers only with a reading that can be used;
// sound that was lost on the way here or a pause on the tape is waited out for
// a while.
func (c *course) listen(ctx context.Context, seconds float64) (record.Reading, error) {
	var trouble error
	for range mostTries {
		r, raw, err := c.hear(ctx, seconds)
		if err != nil {
			return r, err
		}
		if trouble = c.judge(r, raw); trouble == nil {
			return r, nil
		}
		if err := c.waitOut(ctx, trouble); err != nil {
			return r, err
		}
	}
	return record.Reading{}, trouble
}

// goTo drives the screw to a position; home has it arrive from the home side.
func (c *course) goTo(ctx context.Context, deg float64, home bool) error {
	c.path = append(c.path, estimate.Whereabouts{Seconds: c.tapeSeconds(), Deg: c.screwDeg})
	drive := c.Jig.MoveTo
	if home {
		drive = c.Jig.ArriveAt
	}
	st, err := drive(ctx, jig.Degrees(deg), c.pass)
	if err != nil {
		return err
	}
	c.moved(float64(st.Position), home)
	return c.settle(ctx) // live sound lags: the end of the move is heard here
}

// moved keeps account of where the screw is and from which side it came.
func (c *course) moved(to float64, home bool) {
	run := (to - c.screwDeg) * c.homeSide()
	c.path = append(c.path, estimate.Whereabouts{Seconds: c.tapeSeconds(), Deg: to})
	overshoot := float64(c.Jig.Profile().OvershootDegrees)
	c.screwDeg = to
	switch {
	case home:
		if run < 0 || c.homeRun+run < overshoot-1e-6 {
			c.trip = c.trip.To(to - overshoot*c.homeSide())
		}
		c.homeRun = max(c.homeRun+run, overshoot)
	case run < 0:
		c.homeRun = 0
	default:
		c.homeRun += run
	}
	c.trip = c.trip.To(to)
}

// fromHome says whether the screw arrived from its home side, all slack taken
// up.
func (c *course) fromHome() bool {
	return c.homeRun >= float64(c.Jig.Profile().OvershootDegrees)-1e-6
}

// homeSide is the direction in which the screw arrives, +1 or -1.
func (c *course) homeSide() float64 { return c.plan.HomeSide }

// step drives to a position, listens and saves what was heard.
func (c *course) step(ctx context.Context, phase string, deg, seconds float64, home bool) (record.Step, error) {
	if err := c.goTo(ctx, deg, home); err != nil {
		return record.Step{}, err
	}
	r, err := c.listen(ctx, seconds*c.plan.DwellScale)
	if err != nil {
		return record.Step{}, err
	}
	r.DelayTrackedUS = c.count(r)
	s := record.Step{N: len(c.steps) + 1, Phase: phase, AtSeconds: c.tapeSeconds() - r.Seconds/2,
		ScrewDeg: c.screwDeg, FromHome: c.fromHome(), Reading: r}
	return s, c.keep(s)
}

// keep saves a step, remembers it and tells it.
func (c *course) keep(s record.Step) error {
	if err := c.save(record.Entry{Kind: record.KindStep, Step: &s}); err != nil {
		return err
	}
	c.steps = append(c.steps, s)
	if c.Tell != nil {
		c.Tell(Event{Phase: s.Phase, Step: &s, TapeSeconds: c.tapeSeconds()})
	}
	return nil
}
