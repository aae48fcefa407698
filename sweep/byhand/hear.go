package byhand

import (
	"context"
	"errors"
	"math"

	"headtrue/sweep/byhand/words"
	"headtrue/sweep/record"
	"headtrue/sweep/session"
	"headtrue/sweep/stream"
)

// programmeCellSeconds is the length of a cell of a programme. At 30' a second the head turns
// by 3' in it.
const programmeCellSeconds = 0.1

// cell is one short piece of sound.
type cell struct {
	reading record.Reading
	at      float64 // tape seconds, the middle
	byDelay bool    // the tilt is known
	tilt    float64 // tracked, arcmin
	power   bands
}

func (h *Hand) cellSeconds() float64 {
	if h.Plan.ToneHz > 0 {
		return session.CellSeconds
	}
	return programmeCellSeconds
}

// hear hears one usable cell. Unusable sound makes it wait, as long as the fault may pass.
func (h *Hand) hear(ctx context.Context) (cell, error) {
	for waited := 0.0; ; {
		r, raw, err := h.Hear(ctx, h.cellSeconds())
		if err != nil {
			return cell{}, err
		}
		if h.Plan.ToneHz > 0 {
			r = session.CellReading(h.Plan.Tape, raw, h.Plan.ToneHz)
		}
		trouble := h.Judge(r, raw)
		if trouble == nil {
			if waited >= troubleSeconds {
				h.again()
			}
			c := h.cellOf(r)
			c.power = bandsOf(raw)
			h.now = c
			return c, nil
		}
		var st *session.Stop
		if !errors.As(trouble, &st) || !st.Passing || waited > mostTroubleSeconds(st.Outcome) {
			return cell{}, trouble
		}
		if waited += h.cellSeconds(); waited >= troubleSeconds {
			if err := h.waitOut(ctx, st, &waited); err != nil {
				return cell{}, err
			}
		}
	}
}

// troubleSeconds is the length of unusable sound that the person is told of.
const troubleSeconds = 0.6

// mostTroubleSeconds is how long the run waits for a fault to pass: a tape is rewound.
func mostTroubleSeconds(o record.Outcome) float64 {
	if o == record.TapeEnded || o == record.Silent {
		return 600
	}
	return 30
}

// waitOut reports unusable sound to the person once, and lets some of it pass.
func (h *Hand) waitOut(ctx context.Context, st *session.Stop, waited *float64) error {
	const piece = 0.5
	if *waited < troubleSeconds+h.cellSeconds() {
		do := ""
		if st.Outcome == record.TapeEnded || st.Outcome == record.Silent {
			do = "; rewind the tape or start it, and leave the screw: the run waits and goes on"
		}
		h.Warn("sound", "%s%s", st.Say, do)
		h.Guide(h.asked.phase, stream.Guidance{Act: stream.Trouble, New: true}, words.Of(stream.Guidance{Act: stream.Trouble}))
	}
	*waited += piece
	return h.LetPass(ctx, piece)
}

func (h *Hand) cellOf(r record.Reading) cell {
	at := h.TapeSeconds() - h.cellSeconds()/2
	c := cell{at: at}
	c.byDelay = h.track.follow(&r, at)
	c.tilt = h.Plan.Tape.Arcmin(r.DelayTrackedUS)
	c.reading = r
	return c
}

// keep saves a cell as a step of the search. A cell in which the head has turned far is left
// out: its level and its delay are those of different tilts.
func (h *Hand) keep(c cell, phase string) error {
	if speed, ok := h.track.speed(); ok && math.Abs(speed)*h.cellSeconds() > h.blurArcmin() {
		return nil
	}
	s := record.Step{N: len(h.steps) + 1, Phase: phase, AtSeconds: c.at, ScrewDeg: math.NaN(), Turning: true, Reading: c.reading}
	if err := h.Save(record.Entry{Kind: record.KindStep, Step: &s}); err != nil {
		return err
	}
	h.steps = append(h.steps, s)
	h.TellStep(&s)
	return nil
}

// blurArcmin is the greatest turn of the head in a cell that counts.
func (h *Hand) blurArcmin() float64 {
	if h.Plan.ToneHz > 0 {
		return h.Plan.PeriodArcmin() / 4
	}
	return 6
}
