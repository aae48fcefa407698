package session

import (
	"math"

	"headtrue/dsp"
	"headtrue/dsp/audio"
	"headtrue/dsp/speed"
	"headtrue/sweep/record"
)

// running measures speed and flutter of a tone, as long as the screw stands. Its meter is nil if
// that was not requested or there is no tone.
type running struct {
	meter *speed.Meter
	turns bool // the screw turns far, or has just done so
}

func runningOf(s Setup) running {
	if !s.Running || s.Plan.ToneHz == 0 || !speed.CanMeasure(s.Sound.Rate(), s.Plan.ToneHz) {
		return running{}
	}
	return running{meter: speed.New(speed.Settings{RateHz: s.Sound.Rate(), NominalHz: s.Plan.ToneHz})}
}

// shortTurnDeg is a turn of the screw that does not interrupt the measurement: turning shifts the
// phases of the channels against each other, which cancels in their mean, but a long turn passes
// the nulls of the tone.
const shortTurnDeg = 10

// turning reports to the meter that the screw begins to turn by deg, and returns the call for
// when it stands again.
func (r *running) turning(deg float64) (stands func()) {
	if r.meter == nil || math.Abs(deg) <= shortTurnDeg {
		return func() {}
	}
	r.turns = true
	return func() {
		r.turns = false
		r.meter.Break()
	}
}

func (r *running) hear(b audio.Block) {
	if r.meter != nil && !r.turns {
		r.meter.Add(b)
	}
}

// Running returns speed and flutter of the tone up to now; nil if they are not measured.
func (c *Session) Running() *record.Running {
	if c.running.meter == nil {
		return nil
	}
	r := c.running.meter.Result()
	out := &record.Running{FlutterSeconds: r.FlutterSeconds, CarrierHz: r.CarrierHz}
	if e := r.SpeedPercent; e != nil && e.SD < dsp.UnknownSD {
		out.SpeedErrorPercent, out.SpeedErrorSDPercent = &e.Value, e.SD
	}
	if r.Flutter != nil {
		out.FlutterWeightedPercent, out.FlutterRMSPercent = &r.Flutter.WeightedPeak, &r.Flutter.RMS
	}
	return out
}
