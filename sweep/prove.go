package sweep

import (
	"context"
	"errors"
	"fmt"
	"math"

	"headtrue/sweep/session"

	"headtrue/sweep/estimate"

	"headtrue/sweep/record"
	"headtrue/sweep/tape"
)

// AsLeftBaseline is what a proof needs of the run whose head it listens to again.
type AsLeftBaseline struct {
	Run  string
	Left record.Left // with Released and OffArcmin
	// OptimumSDArcmin is the uncertainty of that run's optimum.
	OptimumSDArcmin float64
}

// Prove listens again to a head that a run has set, with the motor off and the
// blade away, and says how far it stands from the optimum of that run now. It needs
// no jig, and the tape of that run. It returns how it ended; the error is set only
// where the end itself could not be saved.
func Prove(ctx context.Context, s Setup, past AsLeftBaseline) (record.End, error) {
	s.Jig = nil
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
		return record.End{}, errors.New("that run has not heard how far off it left the head")
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
		"the head stands %+.2f' ±%.2f' from the optimum; since run %s left it, it has moved by %+.2f' ±%.2f'",
		*left.OffArcmin, left.OffSDArcmin, past.Run, moved, movedSD)}, nil
}

// comparable says whether a reading can be held against that of the same head as it
// was left.
func comparable(now, was record.Reading) error {
	const do = "play the tape of that run, from the same place, and prove it again"
	if !estimate.DelayUsable(now) {
		return &session.Stop{Outcome: record.TooUncertain, Say: "the delay between the channels cannot be measured on this passage", Do: do}
	}
	if was.ToneHz > 0 && math.Abs(now.TrebleDB-was.TrebleDB) > sameTrebleDB {
		return &session.Stop{Outcome: record.TooUncertain, Say: fmt.Sprintf(
			"the tone is %+.1f dB against as left: another tape, or the head is off by a whole period of the tone", now.TrebleDB-was.TrebleDB), Do: do}
	}
	return nil
}

// stands is how a head that is heard so stands, and by how far it has moved since it
// was left. Of what was not certain as it was left, all but that reading's own noise
// is still in it.
func (p AsLeftBaseline) stands(f tape.Format, now record.Reading) (left record.Left, moved, movedSD float64) {
	moved, movedSD = Moved(f, now, p.Left)
	off := *p.Left.OffArcmin + moved
	own := estimate.OwnSD(f, *p.Left.Released)
	kept := math.Sqrt(max(0, p.Left.OffSDArcmin*p.Left.OffSDArcmin-own*own))
	return record.Left{Released: &now, OffArcmin: &off,
		OffSDArcmin: math.Hypot(estimate.OwnSD(f, now), max(kept, p.OptimumSDArcmin))}, moved, movedSD
}

// Moved is by how many arcmin a head that is heard so has moved since it was left,
// with its standard uncertainty; on a tone by the least that fits.
func Moved(f tape.Format, now record.Reading, left record.Left) (arcmin, sd float64) {
	return estimate.TiltBetween(f, now, *left.Released), estimate.TiltSD(f, now, *left.Released)
}
