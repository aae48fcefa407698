package sweep

import (
	"context"
	"fmt"
	"math"

	"headtrue/sweep/byhand"
	"headtrue/sweep/estimate"
	"headtrue/sweep/figures"
	"headtrue/sweep/record"
)

// RestoreByHand guides a person who turns the screw back to the tilt as a past run found it. It
// goes by the sound alone: the tape must be that of the run, from the same place if it is music.
func RestoreByHand(ctx context.Context, s Setup, past AsFoundBaseline) (record.End, error) {
	s.Jig, s.Running = nil, false
	s.Plan.ToneHz, s.Plan.FurtherTonesHz = past.ToneHz, past.FurtherTonesHz
	c := begin(s)
	c.byHand = true
	end, err := c.restoreByHand(ctx, past)
	return c.conclude(ctx, end, err)
}

func (c *course) restoreByHand(ctx context.Context, past AsFoundBaseline) (record.End, error) {
	was := past.Found.BladeOff
	if was == nil || !estimate.DelayUsable(*was) {
		return record.End{Outcome: record.RestoreDoubt, Say: "that run has not heard the tilt as found, so that no sound can lead back to it",
			Do: "set the head anew with align"}, nil
	}
	if err := c.ready(ctx); err != nil {
		return record.End{}, err
	}
	h := byhand.New(c.Session)
	if err := (&handScrew{Hand: h, run: c}).asFound(ctx); err != nil {
		return record.End{}, err
	}
	back, err := h.Restore(ctx, byhand.Past{Reading: *was, Decision: past.Decision})
	c.Left = h.Left
	if err != nil {
		return record.End{}, err
	}
	end := record.End{Outcome: record.Restored, Say: fmt.Sprintf("the head is back where %s: by the sound it stands %s from there,%s (95 %%)",
		past.asFound(), figures.Arcmin(&back.OffArcmin), figures.PlusMinus(&back.SDArcmin, "'"))}
	switch {
	case c.Plan.ToneHz > 0 && back.UnlikeDB > sameTrebleDB:
		end.Outcome = record.RestoreDoubt
		end.Say += fmt.Sprintf("; but the tone differs by %.1f dB from then: this is another tape, or the head is off by a whole period of the tone", back.UnlikeDB)
	case math.Abs(back.OffArcmin) > max(restoredArcmin, estimate.Contradiction*back.SDArcmin):
		end.Outcome = record.RestoreDoubt
	}
	if end.Outcome == record.RestoreDoubt {
		end.Do = "play the tape of that run, from the same place, and restore again, or set the head anew with align"
	}
	return end, nil
}

// restoredArcmin is the distance from as found within which a hand has restored the head.
const restoredArcmin = 2
