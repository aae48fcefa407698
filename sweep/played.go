package sweep

import (
	"fmt"
	"math"

	"headtrue/dsp"
	"headtrue/sweep/record"
	"headtrue/sweep/session"
)

// Limits for the check of the sound played, before anything moves.
const (
	playedDBFS  = -50  // fainter sound is not judged
	pureLine    = 0.98 // share of a tone with nothing beside it
	hissyLine   = 0.4  // share of a tone in hiss alone
	programmeDB = 10   // least excess of a programme over the tone, and of its part below 5 kHz over the rest
	clearDB     = 8    // least height of a tone above the sound beside it
	// lowToneHz is a frequency that is heard at any usual tilt: its first null lies one
	// degree from the top.
	lowToneHz = 4500
)

// checkPlayed refuses sound of another kind than requested, before anything is turned.
func (c *course) checkPlayed(r record.Reading) error {
	if max(r.LevelDBFS[0], r.LevelDBFS[1]) < playedDBFS {
		return nil
	}
	l := c.Lines()
	hz, share := l.Strongest()
	if c.Plan.ToneHz == 0 {
		if isTone(l, hz, share) {
			return notPlayed(fmt.Sprintf("a tone of %s is heard, and no music", hertz(hz)), fmt.Sprintf("add --tone %.0f, or play music", roundTone(hz)))
		}
		return nil
	}
	asked := append([]float64{c.Plan.ToneHz}, c.Plan.FurtherTonesHz...)
	if isTone(l, hz, share) && !nearAny(hz, asked) {
		return notPlayed(fmt.Sprintf("a tone of %s is heard, and none near %s", hertz(hz), hertz(c.Plan.ToneHz)),
			fmt.Sprintf("give --tone %.0f, or play the tape that has the tone", roundTone(hz)))
	}
	if over, low := l.Programme(asked...); over > programmeDB && low > programmeDB {
		return notPlayed(fmt.Sprintf("music is heard, and no tone near %s", hertz(c.Plan.ToneHz)),
			"play the tape that has the tone, or leave --tone away and align on the music")
	}
	return c.checkFurther(l)
}

// checkFurther refuses tones that are not on the tape. It skips a tone that the tilt of the
// head can have extinguished.
func (c *course) checkFurther(l dsp.Lines) error {
	for _, hz := range c.Plan.FurtherTonesHz {
		if hz <= lowToneHz && l.Clear(hz) < clearDB {
			return notPlayed(fmt.Sprintf("no further tone near %s is heard", hertz(hz)), "name by --tone only what is on the tape, all of it at once")
		}
	}
	return nil
}

// isTone reports whether the strongest line is a tone: it is alone, or stands in hiss.
func isTone(l dsp.Lines, hz, share float64) bool {
	_, low := l.Programme(hz)
	return share > pureLine || share > hissyLine && low < 0
}

func notPlayed(say, do string) error {
	return &session.Stop{Outcome: record.NotReady, Say: say, Do: do}
}

func nearAny(hz float64, tones []float64) bool {
	const within = 0.045 // the meter's range, and one bin
	for _, t := range tones {
		if math.Abs(hz-t) < within*t {
			return true
		}
	}
	return false
}

// testTones are the frequencies of test tapes, hertz; common practice, no source.
var testTones = []float64{315, 333, 400, 1000, 3000, 3150, 4000, 6300, 7000, 8000, 10000, 12500, 14000, 15000}

// roundTone returns the frequency of the recording, whatever the deck's speed; rounded to 10
// Hz if it is none of the usual ones.
func roundTone(hz float64) float64 {
	for _, t := range testTones {
		if math.Abs(hz-t) < 0.02*t {
			return t
		}
	}
	return math.Round(hz/10) * 10
}

func hertz(hz float64) string {
	if hz >= 1000 {
		return fmt.Sprintf("%.4g kHz", hz/1000)
	}
	return fmt.Sprintf("%.0f Hz", hz)
}
