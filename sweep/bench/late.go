package bench

import (
	"cmp"
	"fmt"
	"math/rand/v2"

	"headtrue/jig/virtual"
)

// Late is the lateness of sound and jig. The zero value is never late.
type Late struct {
	// SoundMillis is the delay of all sound, through converters and buffers.
	SoundMillis float64 `yaml:"sound_ms"`
	// HeldPercent of the blocks of sound are held back, each by an exponentially
	// distributed time with the mean HeldMillis, limited to HeldMostMillis. The blocks
	// behind a held one arrive with it.
	HeldPercent    float64 `yaml:"held_percent"`
	HeldMillis     float64 `yaml:"held_ms"`
	HeldMostMillis float64 `yaml:"held_most_ms"`
	// The jig replies after ReplyMillis plus a uniform part of ReplyJitterMillis. The
	// first step of a move comes up to FirstStepMillis after the reply.
	ReplyMillis       float64 `yaml:"reply_ms"`
	ReplyJitterMillis float64 `yaml:"reply_jitter_ms"`
	FirstStepMillis   float64 `yaml:"first_step_ms"`
	// ClockPPM is how fast the jig's clock runs against the clock of the sound.
	ClockPPM float64 `yaml:"clock_ppm"`
	// WrongBytesPercent of the bytes on the jig's line are spoilt, either way.
	WrongBytesPercent float64 `yaml:"wrong_bytes_percent"`
}

// UsualLate returns a lateness near the limits of the link and of a busy computer.
func UsualLate() Late {
	return Late{
		HeldPercent: 2, HeldMillis: 60, HeldMostMillis: 180,
		ReplyMillis: 30, ReplyJitterMillis: 15, FirstStepMillis: 100,
		ClockPPM: 300, WrongBytesPercent: 0.1,
	}
}

// OrUsual returns l with the usual value in each field that is 0. The delay of the
// replies and its jitter count as one field.
func (l Late) OrUsual() Late {
	u := UsualLate()
	if l.ReplyMillis == 0 && l.ReplyJitterMillis == 0 {
		l.ReplyMillis, l.ReplyJitterMillis = u.ReplyMillis, u.ReplyJitterMillis
	}
	l.HeldPercent = cmp.Or(l.HeldPercent, u.HeldPercent)
	l.HeldMillis = cmp.Or(l.HeldMillis, u.HeldMillis)
	l.HeldMostMillis = cmp.Or(l.HeldMostMillis, u.HeldMostMillis)
	l.FirstStepMillis = cmp.Or(l.FirstStepMillis, u.FirstStepMillis)
	l.ClockPPM = cmp.Or(l.ClockPPM, u.ClockPPM)
	l.WrongBytesPercent = cmp.Or(l.WrongBytesPercent, u.WrongBytesPercent)
	return l
}

func (l Late) limits() []limit {
	return []limit{
		{"late.sound_ms", l.SoundMillis, 0, 3000},
		{"late.held_percent", l.HeldPercent, 0, 50},
		{"late.held_ms", l.HeldMillis, 0, 1000},
		{"late.held_most_ms", l.HeldMostMillis, 0, 1000},
		{"late.reply_ms", l.ReplyMillis, 0, 50},
		{"late.reply_jitter_ms", l.ReplyJitterMillis, 0, 50},
		{"late.first_step_ms", l.FirstStepMillis, 0, 100},
		{"late.clock_ppm", l.ClockPPM, -25000, 25000},
		{"late.wrong_bytes_percent", l.WrongBytesPercent, 0, 10},
	}
}

func (l Late) validate() error {
	if most := l.ReplyMillis + l.ReplyJitterMillis; most > 50 {
		return fmt.Errorf("bench profile: late.reply_ms and late.reply_jitter_ms are %g together: must be at most 50, as the link allows", most)
	}
	if l.HeldPercent > 0 && (l.HeldMillis == 0 || l.HeldMostMillis == 0) {
		return fmt.Errorf("bench profile: late.held_percent is %g: late.held_ms and late.held_most_ms must then be above 0", l.HeldPercent)
	}
	return nil
}

func (l Late) jig() virtual.Lateness {
	return virtual.Lateness{
		ReplyMillis: l.ReplyMillis, ReplyJitterMillis: l.ReplyJitterMillis, FirstStepMillis: l.FirstStepMillis,
		ClockPPM: l.ClockPPM, WrongBytes: l.WrongBytesPercent / 100,
	}
}

// Holds yields the times by which the blocks of sound are held back, block by block.
type Holds struct {
	late  Late
	draw  *rand.Rand
	delay float64 // seconds, of the newest block
}

// NewHolds begins before the first block of the sound of a seed.
func NewHolds(l Late, seed uint64) *Holds {
	return &Holds{late: l, draw: stream(seed, streamHolds)}
}

// Next returns the delay of the next block's delivery after its end, in seconds;
// blockSeconds is its length. It is never delivered before an earlier block.
func (h *Holds) Next(blockSeconds float64) float64 {
	// Always draw both, so that HeldPercent does not change the numbers of the next
	// block.
	held, long := 100*h.draw.Float64() < h.late.HeldPercent, h.draw.ExpFloat64()
	h.delay = max(0, h.delay-blockSeconds)
	if held {
		h.delay = max(h.delay, min(long*h.late.HeldMillis, h.late.HeldMostMillis)/1000)
	}
	return h.late.SoundMillis/1000 + h.delay
}
