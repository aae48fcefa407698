package bench

import (
	"context"
	"fmt"
	"sync"

	"headtrue/dsp/audio"
	"headtrue/jig/virtual"
)

// Bench is a running deck with its jig, or with a hand in the jig's place. It is an audio.Source. Only one goroutine may use
// it, except for Truth; but with Lockstep others may let time pass, as a STOP does that waits
// for its reply.
type Bench struct {
	profile   Profile
	advance   func(frames int)
	look      func() shaft
	mount     *mount
	transport *transport
	head      *head
	out       *electronics
	tape      *tape // now at the head
	recorded  *tape // the tape from its beginning
	after     *tape // the tape after the end of the tone
	over      bool
	frame     int64
	lost      map[int]bool // faults of lost samples already carried out
	delivery  *delivery
	time      *virtual.Lockstep // nil without Lockstep
	closed    bool
	programs  uint64 // that have run the deck before

	passing sync.Mutex // guards what Next and pass share
	mu      sync.Mutex
	truth   Truth
}

// Jig turns the screw: the virtual jig, or firmware in a simulator.
type Jig interface {
	// Advance lets a number of frames of sound pass, Rate per second.
	Advance(frames int)
	Shaft() virtual.Shaft
}

// New makes a bench whose screw is turned by j, which should have the options p.Jig(). If
// j is nil the screw stands still. The same profile, seed and orders to the jig give the
// same sound.
func New(p Profile, seed uint64, j Jig) (*Bench, error) {
	if j == nil {
		return newBench(p, seed, State{}, func(int) {}, func() shaft { return shaft{} })
	}
	return newBench(p, seed, State{}, j.Advance, lookAt(j))
}

func lookAt(j Jig) func() shaft {
	return func() shaft {
		s := j.Shaft()
		return shaft{microsteps: s.Microsteps, energised: s.Energised, stepping: s.Stepping}
	}
}

// Jig returns the options of the virtual jig of the profile.
func (p Profile) Jig() virtual.Options {
	o := virtual.Options{
		MicrostepsPerMotorTurn: p.Motor.StepsPerTurn * p.Motor.Microsteps,
		MaxSpeed:               p.Motor.MaxSpeed, Accel: p.Motor.Accel, StartStop: p.Motor.StartStop,
		Rate: Rate, NoResetOnOpen: p.Motor.NoResetOnOpen, Encoder: p.Motor.Encoder,
		Late: p.Late.jig(),
	}
	for _, f := range p.JigFaults {
		o.Faults = append(o.Faults, virtual.Fault{Kind: f.Kind, AtStep: f.AtStep, AtSeconds: f.AtSeconds, Amount: f.Amount})
	}
	return o
}

// JigFor is Jig with the random part of the jig's lateness drawn from the bench's seed;
// in Jig it is the same for all seeds.
func (p Profile) JigFor(seed uint64) virtual.Options {
	o := p.Jig()
	o.Late.Seed = stream(seed, streamJig).Uint64()
	return o
}

func newBench(p Profile, seed uint64, s State, advance func(int), look func() shaft) (*Bench, error) {
	if err := p.Validate(); err != nil {
		return nil, err
	}
	noise := s.noiseSeed(seed)
	b := &Bench{
		profile: p, advance: advance, look: look, transport: newTransport(p, noise), lost: map[int]bool{},
		delivery: newDelivery(p.Late, noise),
	}
	if err := b.load(p, seed); err != nil {
		return nil, err
	}
	// Always draw all of these, in this order, so that no range changes another's number.
	draw := stream(seed, streamDraws)
	start := p.Deck.StartTiltArcmin + uniform(draw, p.Deck.StartTiltRangeArcmin)
	delay := p.Deck.ChannelDelayUS + uniform(draw, p.Deck.ChannelDelayRangeUS)
	gearing := p.Screw.gearing() * (1 + uniform(draw, p.Screw.GearingRangePercent/100))
	place := draw.Float64()
	p.Tape.TiltArcmin += uniform(draw, p.Tape.TiltRangeArcmin)
	delay += p.Deck.ChannelDelaySDUS * draw.NormFloat64()
	b.profile = p

	b.mount = newMount(p, noise, gearing, start, look().microsteps)
	if s != (State{}) {
		b.mount.resume(s, look().microsteps)
	}
	b.head = newHead(p.Deck, delay)
	view := newView(p, start)
	optimum := view.liesAlongArcmin()
	if p.Programme.RandomStart && b.tape != nil {
		b.head.position = place * float64(b.tape.track[0].n)
	}
	b.out = newElectronics(p, noise, hissRMS(b.tape, p, view))
	b.truth = Truth{
		FoundTiltArcmin: start - p.Tape.TiltArcmin, TapeTiltArcmin: p.Tape.TiltArcmin,
		OptimumTiltArcmin: optimum, OptimumLeftArcmin: view.gap[0].liesAlongArcmin(), OptimumRightArcmin: view.gap[1].liesAlongArcmin(),
		BrightestTiltArcmin:  view.brightestArcmin(p.Programme.trebleHz()),
		GapsDiffer:           p.Deck.GapSkewArcmin != 0,
		OptimumScrewDeg:      p.Screw.unbent(360 * (optimum + p.Tape.TiltArcmin - start) / gearing),
		GearingArcminPerTurn: gearing, SlackDeg: b.mount.firstSlack(), BacklashDeg: p.Screw.SlackDeg + 2*p.Screw.WindUpDeg,
		ChannelDelayUS: delay,
	}
	if !p.Tape.NoHiss && b.tape != nil {
		b.truth.TrebleSNdB = [2]float64{p.Tape.TrebleSNdB, p.Tape.TrebleSNdB}
	}
	b.control()
	b.head.settle()
	b.out.settle()
	b.tell()
	return b, nil
}

// load makes the tape, and the music after it if a fault ends the tone.
func (b *Bench) load(p Profile, seed uint64) (err error) {
	for _, f := range p.Faults {
		if f.Kind != ToneOver || f.Then != "music" {
			continue
		}
		next := p.Programme
		next.Kind = "music"
		if b.after, err = p.tape(next, seed); err != nil {
			return err
		}
	}
	b.tape, err = p.tape(p.Programme, seed)
	b.recorded = b.tape
	return err
}

// Mend removes the faults of sound and mount and rewinds the tape, as a person does
// before the next run. Call it between blocks.
func (b *Bench) Mend() {
	b.profile.Faults, b.mount.faults = nil, nil
	b.tape, b.over, b.head.position = b.recorded, false, 0
}

// Rate returns the sampling rate in frames per second.
func (b *Bench) Rate() int { return Rate }

// Next lets time pass, the jig's too, until the next block is delivered, and returns it.
// It returns audio.ErrStopped after the fault of that name.
func (b *Bench) Next(ctx context.Context) (audio.Block, error) {
	for {
		if err := ctx.Err(); err != nil {
			return audio.Block{}, err
		}
		if b.closed {
			return audio.Block{}, fmt.Errorf("bench: next block at frame %d: the bench is closed", b.frame)
		}
		block, frames, err := b.arrived()
		if frames == 0 || err != nil {
			return block, err
		}
		if b.time != nil {
			b.time.Advance(frames)
		} else {
			b.pass(frames)
		}
	}
}

// arrived returns the oldest block that has arrived, or the frames until there may be one.
func (b *Bench) arrived() (block audio.Block, frames int, err error) {
	b.passing.Lock()
	defer b.passing.Unlock()
	d := b.delivery
	if block, ok := d.take(b.frame); ok {
		return block, 0, nil
	}
	if len(d.made) == 0 && d.filled == 0 && b.stopped() {
		return block, 0, audio.ErrStopped
	}
	return block, d.untilNext(b.frame), nil
}

// Lockstep puts the bench's time under control of a host: while the host waits, sound is
// made and the jig turns; the sound waits to be pulled. Call it before the first block is
// made.
func (b *Bench) Lockstep(board virtual.Timed) *virtual.Lockstep {
	b.time = virtual.NewLockstep(Rate, board, b.pass)
	return b.time
}

// pass lets a number of frames pass: it makes sound and advances the jig.
func (b *Bench) pass(frames int) {
	b.passing.Lock()
	defer b.passing.Unlock()
	d := b.delivery
	for frames > 0 {
		over := d.filled == 0 && b.stopped() // nothing more is delivered
		if d.filled == 0 && !over {
			b.lose()
		}
		left, right := d.room(frames)
		b.run(left, right)
		frames -= len(left)
		if !over && d.full(len(left), b.frame) || over {
			b.tell()
		}
	}
}

func (b *Bench) stopped() bool { return find(b.profile.Faults, AudioStops, b.seconds()) != nil }

// Close ends the bench. It does not close the virtual jig.
func (b *Bench) Close() error {
	b.closed = true
	return nil
}

// Truth returns the true state after the last block. Another goroutine may call it.
func (b *Bench) Truth() Truth {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.truth
}

func (b *Bench) seconds() float64 { return float64(b.frame) / Rate }

// lose drops the samples that a fault loses.
func (b *Bench) lose() {
	before := b.frame
	for i := range b.profile.Faults {
		f := &b.profile.Faults[i]
		if f.Kind != LostSamples || b.lost[i] || b.seconds() < f.AtSeconds {
			continue
		}
		b.lost[i] = true
		left := f.Frames
		if left == 0 {
			left = 4800
		}
		b.run(make([]float64, left), make([]float64, left))
	}
	b.delivery.lost += b.frame - before
}

// run makes sound, in pieces that end with the control period.
func (b *Bench) run(left, right []float64) {
	for len(left) > 0 {
		phase := int(b.frame % controlFrames)
		if phase == 0 {
			b.control()
		}
		n := min(controlFrames-phase, len(left))
		b.head.read(b.tape, left[:n], right[:n])
		b.out.apply(left[:n], right[:n])
		b.advance(n)
		b.frame += int64(n)
		left, right = left[n:], right[n:]
	}
}

// control reads the shaft and computes the targets of all slow quantities for the next
// control period.
func (b *Bench) control() {
	t, n := b.seconds(), b.frame/controlFrames
	s := b.look()
	b.mount.step(s, t)
	if !b.over && find(b.profile.Faults, ToneOver, t) != nil {
		b.over, b.tape, b.head.position = true, b.after, 0
	}
	tr := b.transport
	tilt := b.mount.tilt - b.profile.Tape.TiltArcmin - tr.skew(n)
	contactDB := b.profile.Deck.contactDB(b.mount.tilt - b.mount.startTilt)
	b.head.control(tr.rate(n), tilt, [2]float64{tr.spacingDB(0, n), tr.spacingDB(1, n)}, contactDB)
	b.out.control(t, b.profile.Faults, s, b.mount.balanceDB(t), tr.dropouts.gains(t))
}

// tell updates the truth.
func (b *Bench) tell() {
	b.mu.Lock()
	defer b.mu.Unlock()
	m, t := b.mount, &b.truth
	t.Frames, t.Seconds = b.frame, b.seconds()
	t.TiltArcmin = m.tilt - b.profile.Tape.TiltArcmin
	t.RestTiltArcmin = m.rest - b.profile.Tape.TiltArcmin
	t.ErrorArcmin = t.TiltArcmin - t.OptimumTiltArcmin
	t.ScrewDeg, t.ShaftDeg, t.BladeSeated = m.screw, m.rotorDeg, m.seated
}
