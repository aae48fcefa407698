package byhand

import (
	"context"
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat"

	"headtrue/sweep/record"
	"headtrue/sweep/session"
)

// programmeLookSeconds of a programme give its treble to 0.7 dB rms (the bench's music).
const programmeLookSeconds = 6

// listen lets some seconds pass and then hears the head as it stands, hands off.
func (t *Treble) listen(ctx context.Context, phase string, wait float64) (record.Reading, error) {
	seconds := lookSeconds
	if !t.lobes.tone {
		seconds = programmeLookSeconds
	}
	if err := t.LetPass(ctx, wait); err != nil {
		return record.Reading{}, err
	}
	r, err := t.level(ctx, seconds)
	if err != nil {
		return r, err
	}
	return r, t.save(r, t.TapeSeconds()-seconds/2, phase, false)
}

// level hears the treble of a head that stands, with its standard deviation by pieces.
func (t *Treble) level(ctx context.Context, seconds float64) (record.Reading, error) {
	const piece = 0.5
	var trouble error
	for range session.MostTries {
		whole := t.NewMeter()
		var db []float64
		for from := t.TapeSeconds(); t.TapeSeconds()-from < seconds; {
			m := t.NewMeter()
			if err := t.Feed(ctx, piece, m, whole); err != nil {
				return record.Reading{}, err
			}
			r, _ := t.Read(m)
			db = append(db, r.TrebleDB)
		}
		r, raw := t.Read(whole)
		if trouble = t.Judge(r, raw); trouble == nil {
			r = withoutDelay(r)
			r.TrebleSDDB = max(stat.StdDev(db, nil)/math.Sqrt(float64(len(db))), 0.05)
			return r, nil
		}
		if err := t.WaitOut(ctx, trouble); err != nil {
			return record.Reading{}, err
		}
	}
	return record.Reading{}, trouble
}

// Means of a standing head lie below the greatest of many means heard on the way by so much if
// the head stands at the top: on the bench, whose tape has 0.3 dB of flutter in its level.
const toneGreatestDB, programmeGreatestDB = 0.4, liftedDB

// Standard deviations of the top, dB, on the bench.
const toneTopSDDB, programmeTopSDDB = 0.2, 1.0

// below returns how far a level lies below the top, dB.
func (t *Treble) below(db float64) float64 {
	if t.lobes.tone {
		return t.lobes.top - toneGreatestDB - db
	}
	return t.lobes.top - programmeGreatestDB - db
}

func (t *Treble) topSD() float64 {
	if t.lobes.tone {
		return toneTopSDDB
	}
	return programmeTopSDDB
}

// sayBelow returns the words for a treble that lies db below its top.
func sayBelow(db float64) string { return fmt.Sprintf("%.1f dB below the greatest", math.Max(0, db)) }
