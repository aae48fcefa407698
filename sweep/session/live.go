package session

import (
	"context"
	"math"

	"headtrue/dsp/audio"
	"headtrue/sweep/stream"
)

// liveSeconds is the length of a live reading: 25 readings a second.
const liveSeconds = 0.04

// hearLive adds a block to the live reading and publishes it when it is long enough.
func (c *Session) hearLive(b audio.Block) {
	if !c.setup.Readings || c.setup.Tell == nil {
		return
	}
	if c.live.meter == nil {
		c.live.meter = c.NewMeter()
	}
	c.live.meter.Add(b)
	if c.live.frames += int64(b.Frames()); c.live.frames < c.samples(liveSeconds) {
		return
	}
	r, _ := c.Read(c.live.meter)
	now := stream.Live{Seconds: r.Seconds, ScrewDeg: math.NaN(), LevelDBFS: r.LevelDBFS, TrebleDB: r.TrebleDB,
		DelayUS: r.DelayUS, DelaySDUS: r.DelayNoiseSDUS, TiltArcmin: r.TiltArcmin, TiltSDArcmin: c.Plan.Tape.Arcmin(r.DelayNoiseSDUS)}
	if c.HasJig() {
		now.ScrewDeg = c.lastDeg
	}
	c.publish(stream.Event{Kind: stream.Heard, Reading: &now})
	c.live.meter.Reset()
	c.live.frames = 0
}

// Finishing reports whether the run was ordered to finish.
func (c *Session) Finishing() bool { return c.setup.Orders.Finishing() }

// hold waits with the screw at rest while the run is ordered to pause. The tape time of the
// pause is not counted.
func (c *Session) hold(ctx context.Context) error {
	if !c.setup.Orders.Paused() {
		return nil
	}
	c.Tell("pause", "waiting for the order to go on")
	counted := c.next - c.first
	for c.setup.Orders.Paused() {
		if err := c.pass(ctx); err != nil {
			return err
		}
	}
	c.first = c.next - counted
	return nil
}
