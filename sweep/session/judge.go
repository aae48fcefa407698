package session

import (
	"fmt"

	"headtrue/dsp"
	"headtrue/sweep/faults"
	"headtrue/sweep/record"
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
	case loud < faults.NoInputDBFS:
		return &Stop{Outcome: record.Silent, Passing: true,
			Say: "the input is digitally silent: not even the noise of the deck's output is heard",
			Do:  "check the cable, which input is chosen, and whether the system lets this program listen"}
	case loud < faults.SilentDBFS && c.tapeHeard && hiss < faults.TapeOffDBFS:
		return &Stop{Outcome: record.TapeEnded, Passing: true,
			Say: "the tape has ended: neither music nor hiss is heard any more",
			Do:  "rewind the tape, start it again and run align again, or restore"}
	case loud < faults.SilentDBFS:
		return &Stop{Outcome: record.Silent, Passing: true,
			Say: fmt.Sprintf("nothing is heard (level %.0f dBFS)", loud),
			Do:  "start the tape, raise the input level, check the cable and which input is chosen"}
	case faults.Clipped(raw):
		return &Stop{Outcome: record.Clipped, Passing: true,
			Say: fmt.Sprintf("the sound is clipped in %d of %d frames", raw.ClippedFrames, raw.Frames),
			Do:  "lower the input level until the peaks stay under full scale"}
	case c.TrebleAlone:
		return nil
	case faults.DeadChannel(r.LevelDBFS) >= 0:
		return &Stop{Outcome: record.ChannelDead, Passing: true,
			Say: fmt.Sprintf("the %s channel is dead (left %.0f, right %.0f dBFS)", sideNames[faults.DeadChannel(r.LevelDBFS)], r.LevelDBFS[0], r.LevelDBFS[1]),
			Do:  "check the plug, the cable and the deck's outputs; clean the head"}
	case c.Plan.ToneHz == 0 && r.Seconds >= faults.PolaritySeconds && faults.DelayCertain(r.TiltArcmin, r.DelaySDUS, r.PhaseMisfit) && faults.Inverted(raw):
		return &Stop{Outcome: record.ChannelFlipped, Passing: true,
			Say: "one channel is inverted against the other",
			Do:  "swap the two wires of one channel (or take out the adapter that inverts it)"}
	}
	return mono(raw)
}

var sideNames = [2]string{"left", "right"}

// mono returns a Stop if both channels carry the same samples, else nil: one channel was
// sent to both, so no delay between them can be measured.
func mono(raw dsp.Reading) error {
	if !faults.Same(raw) {
		return nil
	}
	return &Stop{Outcome: record.NotReady,
		Say: "both channels carry the same samples: somewhere the sound is made mono",
		Do:  "set the input, and the sound system's mixer, to stereo"}
}
