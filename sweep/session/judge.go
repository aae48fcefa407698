package session

import (
	"fmt"
	"math"

	"headtrue/dsp"
	"headtrue/sweep/record"
)

// Levels in dBFS below which nothing is played. Programme and tone lie far above silentDBFS.
// The hiss of a running tape lies above tapeOffDBFS, which applies to the treble band alone.
const (
	silentDBFS  = -60
	noInputDBFS = -120 // below the noise of any deck's output
	tapeOffDBFS = -75
)

// Judge returns the reason why a reading is unusable, or nil.
func (c *Session) Judge(r record.Reading, raw dsp.Reading) error {
	loud := max(r.LevelDBFS[0], r.LevelDBFS[1])
	hiss := float64(max(raw.Treble[0], raw.Treble[1]))
	switch {
	case r.LostFrames > 0:
		return &Stop{Outcome: record.SoundLost, Passing: true,
			Say: fmt.Sprintf("%d frames of sound were lost on the way from the sound device", r.LostFrames),
			Do:  "close other programs, use a larger buffer or a lower rate, then align again"}
	case loud < noInputDBFS:
		return &Stop{Outcome: record.Silent, Passing: true,
			Say: "the input is digitally silent: not even the noise of the deck's output is heard",
			Do:  "check the cable, which input is chosen, and whether the system lets this program listen"}
	case loud < silentDBFS && c.tapeHeard && hiss < tapeOffDBFS:
		return &Stop{Outcome: record.TapeEnded, Passing: true,
			Say: "the tape has ended: neither music nor hiss is heard any more",
			Do:  "rewind the tape, start it again and run align again, or restore"}
	case loud < silentDBFS:
		return &Stop{Outcome: record.Silent, Passing: true,
			Say: fmt.Sprintf("nothing is heard (level %.0f dBFS)", loud),
			Do:  "start the tape, raise the input level, check the cable and which input is chosen"}
	case clipped(raw):
		return &Stop{Outcome: record.Clipped, Passing: true,
			Say: fmt.Sprintf("the sound is clipped in %d of %d frames", raw.ClippedFrames, raw.Frames),
			Do:  "lower the input level until the peaks stay under full scale"}
	case deadChannel(r) >= 0:
		return &Stop{Outcome: record.ChannelDead, Passing: true,
			Say: fmt.Sprintf("the %s channel is dead (left %.0f, right %.0f dBFS)", sideNames[deadChannel(r)], r.LevelDBFS[0], r.LevelDBFS[1]),
			Do:  "check the plug, the cable and the deck's outputs; clean the head"}
	case c.Plan.ToneHz == 0 && r.Seconds >= PolaritySeconds && delayCertain(r) && inverted(raw):
		return &Stop{Outcome: record.ChannelFlipped, Passing: true,
			Say: "one channel is inverted against the other",
			Do:  "swap the two wires of one channel (or take out the adapter that inverts it)"}
	}
	return mono(raw)
}

var sideNames = [2]string{"left", "right"}

func clipped(raw dsp.Reading) bool { return raw.ClippedFrames*20 > max(raw.Frames, 1) }

// deadChannel returns the channel that is silent while the other plays, or -1.
func deadChannel(r record.Reading) int {
	const gapDB = 30
	switch d := r.LevelDBFS[0] - r.LevelDBFS[1]; {
	case d > gapDB:
		return 1
	case d < -gapDB:
		return 0
	}
	return -1
}

// inverted reports inverted polarity by the correlation in the mid band, after the delay is
// removed. Most music has a correlation of 0.4 to 1 there; one piece with wide panning has
// -0.3 (testdata/README.md).
func inverted(raw dsp.Reading) bool { return raw.Correlation < -0.4 }

// delayCertain reports whether the delay is the true one. An uncertain cross-correlation may
// be as high at another delay; removal of a wrong delay makes the channels look inverted as
// often as not.
func delayCertain(r record.Reading) bool {
	return math.Abs(r.TiltArcmin) < 40 && r.DelaySDUS > 0 && r.DelaySDUS < 10 && r.PhaseMisfit < 10
}

// PolaritySeconds is the least listening time before polarity is judged: in a short stretch
// far from the centre, a delay of half a period looks like inverted polarity.
const PolaritySeconds = 1.5

// ToneThere reports whether the tone stands clear of the noise in either channel.
func ToneThere(raw dsp.Reading) bool {
	return max(raw.ToneToNoise[0], raw.ToneToNoise[1]) > 3
}

// mono returns a Stop if both channels carry the same samples, else nil: one channel was
// sent to both, so no delay between them can be measured.
func mono(raw dsp.Reading) error {
	if !sameChannels(raw) {
		return nil
	}
	return &Stop{Outcome: record.NotReady,
		Say: "both channels carry the same samples: somewhere the sound is made mono",
		Do:  "set the input, and the sound system's mixer, to stereo"}
}

// sameChannels reports whether over 99 % of the samples are equal. Two inputs with the same
// sound at -60 dBFS, 16 bits, have some per cent of equal samples by chance.
func sameChannels(raw dsp.Reading) bool { return raw.Same > 0.99 }
