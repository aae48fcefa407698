package sweep

import (
	"context"
	"errors"
	"fmt"
	"math"

	"headtrue/sweep/estimate"
	"headtrue/sweep/figures"
	"headtrue/sweep/record"
	"headtrue/sweep/session"
	"headtrue/sweep/tape"
)

// AsLeftBaseline holds the data that a proof needs from the run it checks.
type AsLeftBaseline struct {
	Run  string
	Left record.Left // with Released and OffArcmin
	// OptimumSDArcmin is the uncertainty of that run's optimum.
	OptimumSDArcmin float64
}

// Prove listens again to a head that a run has set, with the motor off and the blade away,
// and reports its present tilt from the optimum of that run. It needs no jig, but the tape
// of that run. It returns how it ended; the error is set only if the end could not be saved.
func Prove(ctx context.Context, s Setup, past AsLeftBaseline) (record.End, error) {
	s.Jig, s.Running = nil, false // the tone of that run is as heard, with the tape's speed error in it
	if was := past.Left.Released; was != nil {
		s.Plan.ToneHz, s.Plan.FurtherTonesHz = was.ToneHz, was.FurtherTonesHz
	}
	c := begin(s)
	end, err := c.prove(ctx, past)
	if err != nil && ctx.Err() != nil {
		err = &session.Stop{Outcome: record.Interrupted, Say: "stopped on request", Do: "prove it again; nothing was turned", Cause: err}
	}
	return c.conclude(ctx, end, err)
}

func (c *course) prove(ctx context.Context, past AsLeftBaseline) (record.End, error) {
	was := past.Left.Released
	if was == nil || past.Left.OffArcmin == nil {
		return record.End{}, errors.New("that run has not measured the tilt as left")
	}
	if err := c.Ask(ctx, session.BladeOff); err != nil {
		return record.End{}, err
	}
	if err := c.ready(ctx); err != nil {
		return record.End{}, err
	}
	c.StartTape()
	c.Tell("proof", "listening with the motor off and the blade away")
	now, err := c.Listen(ctx, c.Plan.ProofSeconds)
	if err != nil {
		return record.End{}, err
	}
	if err := c.Save(record.Entry{Kind: record.KindFound, Found: &record.Found{BladeOff: &now}}); err != nil {
		return record.End{}, err
	}
	if err := comparable(now, *was); err != nil {
		return record.End{}, err
	}
	left, moved, movedSD := past.stands(c.Plan.Tape, now)
	if err := c.Save(record.Entry{Kind: record.KindLeft, Left: &left}); err != nil {
		return record.End{}, err
	}
	return record.End{Outcome: record.Measured, Say: fmt.Sprintf(
		"the head is now %s off,%s (95 %%); since run %s left it, it has moved by %s,%s",
		figures.Arcmin(left.OffArcmin), figures.PlusMinus(&left.OffSDArcmin, "'"), past.Run, figures.Arcmin(&moved), figures.PlusMinus(&movedSD, "'"))}, nil
}

// comparable returns an error if a reading cannot be compared with that of the head as left.
func comparable(now, was record.Reading) error {
	const do = "play the tape of that run, from the same place, and prove it again"
	if !estimate.DelayUsable(now) {
		return &session.Stop{Outcome: record.TooUncertain, Say: "the delay between the channels cannot be measured on this passage", Do: do}
	}
	if was.ToneHz > 0 && math.Abs(now.TrebleDB-was.TrebleDB) > sameTrebleDB {
		return &session.Stop{Outcome: record.TooUncertain, Say: fmt.Sprintf(
			"the level of the tone differs by %+.1f dB from as left: this is another tape, or the head is off by a whole period of the tone", now.TrebleDB-was.TrebleDB), Do: do}
	}
	return nil
}

// stands returns the tilt of a head from the optimum by a reading, and its move since as
// left. The uncertainty as left is kept, without that reading's own noise.
func (p AsLeftBaseline) stands(f tape.Format, now record.Reading) (left record.Left, moved, movedSD float64) {
	moved, movedSD = Moved(f, now, p.Left)
	off := *p.Left.OffArcmin + moved
	own := estimate.OwnSD(f, *p.Left.Released)
	kept := p.Left.OffSDArcmin*p.Left.OffSDArcmin - own*own
	if kept < 0 { // a run set by the treble: that reading's noise is not in its tilt
		kept += 2 * own * own
	}
	return record.Left{Released: &now, OffArcmin: &off,
		OffSDArcmin: math.Hypot(estimate.OwnSD(f, now), max(math.Sqrt(kept), p.OptimumSDArcmin))}, moved, movedSD
}

// Moved returns the tilt of a head since as left, in arcmin, with its standard uncertainty;
// on a tone it is the smallest tilt that fits.
func Moved(f tape.Format, now record.Reading, left record.Left) (arcmin, sd float64) {
	return estimate.TiltBetween(f, now, *left.Released), estimate.TiltSD(f, now, *left.Released)
}
