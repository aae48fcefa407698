package sweep

import (
	"math"

	"headtrue/dsp"
	"headtrue/dsp/audio"
	"headtrue/sweep/record"
)

// tracker follows the phase between the channels of a tone through the moves,
// so that whole periods are counted rather than guessed. It looks at every
// second block (about 40 ms, in which the screw turns by far less than half a
// period). Where the tone vanishes in a null the last phase is held.
type tracker struct {
	meter  *dsp.Meter
	toneHz float64
	blocks int
	// us is the tracked delay, continuous over whole periods.
	us    float64
	known bool
}

func newTracker(rate int, toneHz float64) *tracker {
	if toneHz <= 0 {
		return &tracker{}
	}
	return &tracker{meter: dsp.NewMeter(rate, toneHz), toneHz: toneHz}
}

// trackedToNoise is where the tone must stand against the noise of the whole
// treble band, in dB, for its phase to be followed: its own narrow band holds
// some 13 dB less noise than the whole.
const trackedToNoise = -6

func (t *tracker) add(b audio.Block) {
	if t.meter == nil {
		return
	}
	t.meter.Add(b)
	if t.blocks++; t.blocks < 2 {
		return
	}
	t.blocks = 0
	r := t.meter.Reading()
	t.meter.Reset()
	if min(r.ToneToNoise[0], r.ToneToNoise[1]) < trackedToNoise {
		return
	}
	t.follow(float64(r.Delay), 1e6/r.ToneHz)
}

// follow moves the tracked delay by the smallest change that fits.
func (t *tracker) follow(us, period float64) {
	if math.IsNaN(us) || period <= 0 {
		return
	}
	if !t.known {
		t.us, t.known = us, true
		return
	}
	t.us += math.Remainder(us-t.us, period)
}

// place gives a reading's delay the whole periods that the tracking found, and
// goes on from there.
func (t *tracker) place(r record.Reading) float64 {
	if t.meter == nil || r.DelayPeriodUS <= 0 {
		return r.DelayUS
	}
	if delayUsable(r) {
		t.follow(r.DelayUS, r.DelayPeriodUS)
		return t.us
	}
	return t.us + math.Remainder(r.DelayUS-t.us, r.DelayPeriodUS)
}
