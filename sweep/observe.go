package sweep

import (
	"context"
	"errors"
	"fmt"
	"math"

	"headtrue/sweep/estimate"
	"headtrue/sweep/faults"
	"headtrue/sweep/figures"
	"headtrue/sweep/record"
	"headtrue/sweep/session"
)

// Observe measures the tilt of the head without a jig, with the blade away, by the delay
// between the channels. It includes the fixed part of that delay, so only changes from one
// time to the next are significant. Of a tone it takes the smallest tilt that fits. If the
// sound cannot be judged, the end has the reason and no figure.
func Observe(ctx context.Context, s Setup) (record.End, error) {
	s.Jig = nil
	c := begin(s)
	end, err := c.observe(ctx)
	if errors.Is(err, context.Canceled) {
		err = &session.Stop{Outcome: record.Interrupted, Say: "stopped on request before enough was heard", Cause: err}
	}
	return c.conclude(ctx, end, err)
}

func (c *course) observe(ctx context.Context) (record.End, error) {
	if err := c.ready(ctx); err != nil {
		return record.End{}, err
	}
	c.StartTape()
	r, err := c.Listen(ctx, c.Plan.ProofSeconds)
	if err != nil {
		return record.End{}, err
	}
	if err := unfit(c.Plan.Plan, r); err != nil {
		return record.End{}, err
	}
	r.DelayTrackedUS = r.DelayUS
	if r.DelayPeriodUS > 0 {
		r.DelayTrackedUS = math.Remainder(r.DelayUS, r.DelayPeriodUS)
	}
	off := c.Plan.Tape.Arcmin(r.DelayTrackedUS)
	left := record.Left{Released: &r, OffArcmin: &off, OffSDArcmin: estimate.OwnSD(c.Plan.Tape, r)}
	if err := c.Save(record.Entry{Kind: record.KindLeft, Left: &left}); err != nil {
		return record.End{}, err
	}
	return record.End{Outcome: record.Measured, Say: fmt.Sprintf("by the delay the head stands %s off,%s (95 %%)", figures.Signed(&off, 1, "'"), figures.PlusMinus(&left.OffSDArcmin, "'"))}, nil
}

// unfit returns the reason why a reading gives no tilt, or nil.
func unfit(p Plan, r record.Reading) error {
	const toneClearDB = 3
	switch {
	case p.ToneHz > 0 && r.ToneToNoiseDB <= toneClearDB:
		return &session.Stop{Outcome: record.ToneOver, Say: fmt.Sprintf("no tone of %.0f Hz is heard", p.ToneHz), Do: "see that the tape runs and has the tone"}
	case p.ToneHz == 0 && r.TrebleDB < faults.DullProgrammeDB, !estimate.DelayUsable(r):
		return &session.Stop{Outcome: record.NoTreble, Say: "the channels have too little treble in common to measure a delay",
			Do: "play a passage with more treble, or a tone"}
	}
	return nil
}
