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
// period). While the screw stands it does not look: the reading of the place
// says better where the phase is. Where the tone vanishes in a null while the screw is driven, it goes
// on at the speed it had for one look: a null is passed in one or two, and a
// screw that turns round in a null must not be carried on.
type tracker struct {
	meter  *dsp.Meter
	toneHz float64
	blocks int
	// us is the tracked delay, continuous over whole periods; perLook is how
	// much it changed at the last look that counted.
	us, perLook float64
	known       bool
	driven      bool
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

// drive says whether the screw is being driven from here on.
func (t *tracker) drive(on bool) {
	t.driven = on
	t.perLook, t.blocks = 0, 0
	if t.meter != nil {
		t.meter.Reset()
	}
}

func (t *tracker) add(b audio.Block) {
	if t.meter == nil || !t.driven {
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
		t.us += t.perLook
		t.perLook = 0
		return
	}
	before := t.us
	t.us += t.perLook
	t.follow(float64(r.Delay), 1e6/r.ToneHz)
	t.perLook = t.us - before
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

// lagDeg is half of the backlash that is reckoned with: how far a screw that
// arrives against the home side lags behind, give or take as much.
const lagDeg = 8

// placeByLine counts a tone's periods by the delay line instead, once a run
// across the top has made one: later passes stay near it, where it is good to
// a small part of a period. The tracking goes on from there.
func (c *course) placeByLine(r record.Reading) float64 {
	l := fitLine(points(c.fineSteps(), minLevelSD))
	if c.track.meter == nil || !l.ok || !c.fromHome() || r.DelayPeriodUS <= 0 {
		return r.DelayTrackedUS
	}
	expect := (l.at0 + l.perDeg*c.screwDeg) * USPerArcmin
	c.track.us = expect + math.Remainder(r.DelayUS-expect, r.DelayPeriodUS)
	return c.track.us
}
