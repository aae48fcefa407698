package sweep

import (
	"context"
	"errors"
	"fmt"
	"io"
	"math"

	"headtrue/sweep/estimate"

	"headtrue/dsp"
	"headtrue/dsp/audio"
	"headtrue/jig"
	"headtrue/sweep/record"
)

// stop ends a run early: what happened, in plain words, and what to do.
type stop struct {
	outcome record.Outcome
	say, do string
	cause   error
	// passing says that it may go by itself while the tape runs on.
	passing bool
	// delayDoubted says that the delay may no longer mean what it meant as found.
	delayDoubted bool
}

func (s *stop) Error() string { return s.say }
func (s *stop) Unwrap() error { return s.cause }

// halted is an error after which the motor was to be stopped: stop is why it is
// not known to stand, or nil.
type halted struct{ cause, stop error }

func (h *halted) Error() string { return h.cause.Error() }
func (h *halted) Unwrap() error { return h.cause }

// EndOf is how a run, or a check, ends that an error broke off: the outcome, its
// sentence and what to do. It says whether the screw stands still where that is
// not plain from the rest.
func EndOf(err error) record.End {
	end := endOf(err)
	var h *halted
	switch {
	case !errors.As(err, &h):
	case h.stop != nil:
		end.Say += "; " + notStopped(h.stop)
		end.Do = "cut the motor's supply (without a host the jig stops by itself within half a second, if its firmware runs); then " + end.Do
	case end.Outcome == record.Interrupted, end.Outcome == record.SoundStopped, end.Outcome == record.TapeEnded:
		end.Say += "; the screw stands still"
	}
	return end
}

// notStopped says what is known of a motor that was to be stopped.
func notStopped(why error) string {
	switch {
	case errors.Is(why, jig.ErrLinkLost), errors.Is(why, jig.ErrNoAnswer):
		return "STOP got no answer, so whether the screw stands still is not known"
	case errors.Is(why, jig.ErrOverdue):
		return "the jig has taken STOP but says that the motor still turns"
	}
	return fmt.Sprintf("the motor could not be stopped and switched off: %v", why)
}

// endOf turns whatever ended a run into an outcome with its sentence.
func endOf(err error) record.End {
	var (
		st      *stop
		reset   *jig.ResetError
		refused *jig.RefusedError
		stopped *jig.StoppedError
		lost    *jig.LostStepsError
	)
	end := func(o record.Outcome, do, format string, args ...any) record.End {
		return record.End{Outcome: o, Say: fmt.Sprintf(format, args...), Do: do}
	}
	switch {
	case errors.As(err, &st):
		return record.End{Outcome: st.outcome, Say: st.say, Do: st.do}
	case errors.Is(err, context.Canceled), errors.Is(err, context.DeadlineExceeded):
		return end(record.Interrupted, "run restore to put the screw back, or align again from here",
			"stopped on request")
	case errors.As(err, &reset):
		return end(record.JigReset, "check the jig's supply and cable; restore goes by the sound where the position is in doubt",
			"the jig started anew in the middle of the run (boot %d, before it %d); its motor stands still", reset.After, reset.Before)
	case errors.As(err, &stopped) && stopped.Reason == jig.ReasonSilence:
		return end(record.JigStopped, "have the sound come in pieces well under half a second (smaller buffers or periods where it is recorded), close what keeps the machine busy, then restore or align again",
			"the jig was not asked for half a second and stopped the screw: the sound did not come in time, and the jig is asked as the sound comes")
	case errors.As(err, &stopped):
		return end(record.JigStopped, "clear what stopped it (stop button, limit, something that binds; never force the screw), then restore or align again",
			"the jig stopped by itself: %v", stopped)
	case errors.As(err, &lost):
		return end(record.JigStopped, "look for what binds or slips (never force the screw), then restore: the encoder puts the count right",
			"the screw has not followed the motor: %v", lost)
	case errors.As(err, &refused):
		return end(record.JigRefused, "compare the window and the jig's profile with the jig",
			"the jig refused an order: %v", refused)
	case errors.Is(err, jig.ErrLinkLost):
		return end(record.LinkLost, "plug the cable in again and restore",
			"the cable to the jig is gone")
	case errors.Is(err, jig.ErrNoAnswer):
		return end(record.LinkLost, "check cable and supply, and restore",
			"the jig does not answer any more")
	case errors.Is(err, audio.ErrStopped):
		return end(record.SoundStopped, "check the sound device and its cable, then align again or restore",
			"the sound stopped arriving")
	case errors.Is(err, io.EOF):
		return end(record.TapeEnded, "rewind the tape, start it again and run align again, or restore",
			"the sound came to its end before the job was done")
	}
	return end(record.Failed, "see the message; the record is kept", "the run failed: %v", err)
}

// Levels, in dBFS, under which nothing is being played: programme and tone lie
// far above the first; what a running tape hisses lies above the second, which
// is judged in the treble band alone.
const (
	silentDBFS  = -60
	noInputDBFS = -120 // under the noise of any deck's output
	tapeOffDBFS = -75
)

// judge answers with what makes a reading useless, or nil.
func (c *course) judge(r record.Reading, raw dsp.Reading) error {
	loud := max(r.LevelDBFS[0], r.LevelDBFS[1])
	hiss := float64(max(raw.Treble[0], raw.Treble[1]))
	switch {
	case r.LostFrames > 0:
		return &stop{outcome: record.SoundLost, passing: true,
			say: fmt.Sprintf("%d frames of sound were lost on the way from the sound device", r.LostFrames),
			do:  "close other programs, use a larger buffer or a lower rate, then align again"}
	case loud < noInputDBFS:
		return &stop{outcome: record.Silent, passing: true,
			say: "the input gives digital silence, not even the noise of the deck's output",
			do:  "check the cable, which input is chosen, and whether the system lets this program listen"}
	case loud < silentDBFS && c.ref != nil && hiss < tapeOffDBFS:
		return &stop{outcome: record.TapeEnded, passing: true,
			say: "the tape has ended: neither programme nor hiss is heard any more",
			do:  "rewind the tape, start it again and run align again, or restore"}
	case loud < silentDBFS:
		return &stop{outcome: record.Silent, passing: true,
			say: fmt.Sprintf("nothing is heard (level %.0f dBFS)", loud),
			do:  "start the tape, raise the input level, check the cable and which input is chosen"}
	case clipped(raw):
		return &stop{outcome: record.Clipped, passing: true,
			say: fmt.Sprintf("the sound is clipped in %d of %d frames", raw.ClippedFrames, raw.Frames),
			do:  "lower the input level until the peaks stay under full scale"}
	case deadChannel(r) >= 0:
		return &stop{outcome: record.ChannelDead, passing: true,
			say: fmt.Sprintf("the %s channel is dead (left %.0f, right %.0f dBFS)", sideNames[deadChannel(r)], r.LevelDBFS[0], r.LevelDBFS[1]),
			do:  "check the plug, the cable and the deck's outputs; clean the head"}
	case c.plan.ToneHz == 0 && r.Seconds >= polaritySeconds && delayCertain(r) && inverted(raw):
		return &stop{outcome: record.ChannelFlipped, passing: true,
			say: "one channel is inverted against the other",
			do:  "swap the two wires of one channel (or take out the adapter that inverts it)"}
	}
	return mono(raw)
}

var sideNames = [2]string{"left", "right"}

func clipped(raw dsp.Reading) bool { return raw.ClippedFrames*20 > max(raw.Frames, 1) }

// deadChannel is the channel that carries nothing while the other plays, or -1.
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

// inverted judges by the mid band with the delay taken out. Most music has a
// correlation of 0.4 to 1 there, and one with wide panning has -0.3
// (testdata/README.md).
func inverted(raw dsp.Reading) bool { return raw.Correlation < -0.4 }

// delayCertain says that the delay is the true one, not another at which an
// uncertain cross-correlation is as high: with a wrong one taken out the channels
// look inverted as easily as not.
func delayCertain(r record.Reading) bool {
	return math.Abs(r.TiltArcmin) < 40 && r.DelaySDUS > 0 && r.DelaySDUS < 10 && r.PhaseMisfit < 10
}

// polaritySeconds is how long must be listened before polarity is judged: in a
// short stretch far from the centre, half a period of delay looks the same.
const polaritySeconds = 1.5

// faults lists in plain words what is wrong with a recording.
func faults(r record.Reading, raw dsp.Reading, toneHz float64) []string {
	var why []string
	add := func(bad bool, text string) {
		if bad {
			why = append(why, text)
		}
	}
	silent := max(r.LevelDBFS[0], r.LevelDBFS[1]) < silentDBFS
	add(raw.Frames == 0, "no sound")
	add(silent, "silent")
	add(clipped(raw), "clipped")
	add(!silent && deadChannel(r) >= 0, "one channel dead")
	add(toneHz == 0 && inverted(raw), "one channel inverted")
	add(!silent && sameChannels(raw), "both channels are the very same: the sound is mono")
	add(raw.NotNumbers > 0, "samples that are no numbers")
	add(raw.LostFrames > 0, "sound lost")
	add(toneHz > 0 && !toneThere(raw), "tone not found")
	add(toneHz == 0 && !silent && r.TrebleDB < dullProgrammeDB, "no treble to judge by")
	add(!silent && !estimate.DelayUsable(r), "delay between the channels not measurable")
	return why
}

// dullProgrammeDB is the treble balance under which a programme says nothing:
// a low-passed one lies far under it, a head a degree out does not.
const dullProgrammeDB = -45

// toneThere says whether the tone stands clear of the noise in either channel.
func toneThere(raw dsp.Reading) bool {
	return max(raw.ToneToNoise[0], raw.ToneToNoise[1]) > 3
}

// pauseSeconds is let pass before a place is listened to again.
const pauseSeconds = 3

// waitOut lets the tape run on for a while where the trouble may go by itself,
// a pause between two titles for example; any other trouble is returned.
func (c *course) waitOut(ctx context.Context, trouble error) error {
	var st *stop
	if !errors.As(trouble, &st) || !st.passing {
		return trouble
	}
	if st.outcome != record.SoundLost {
		c.tell("wait", "%s; waiting for it to pass", st.say)
		return c.passSeconds(ctx, pauseSeconds)
	}
	return nil
}
