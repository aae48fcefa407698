package sweep

import (
	"context"
	"errors"
	"fmt"

	"headtrue/sweep/byhand"
	"headtrue/sweep/estimate"
	"headtrue/sweep/figures"
	"headtrue/sweep/record"
	"headtrue/sweep/session"
)

// Bracket finds both dull edges. If there is no delay that follows the screw, it goes on by the
// treble alone.
func (h *handScrew) Bracket(ctx context.Context) error {
	if !h.run.TrebleAlone {
		err := h.Hand.Bracket(ctx)
		var st *session.Stop
		switch {
		case errors.Is(err, byhand.ErrNoDelay):
			h.run.Tell("bracket", "the treble changes, and the delay between the channels does not: both come from one gap, and the treble alone will set the head")
		case errors.As(err, &st) && st.Outcome == record.ChannelDead:
			h.run.Tell("bracket", "%s: the treble alone will set the head", st.Say)
		default:
			return err
		}
	}
	h.treble = h.ByTreble()
	return h.treble.Bracket(ctx)
}

// Refine finds the optimum, or has both dull edges marked.
func (h *handScrew) Refine(ctx context.Context) (estimate.Verdict, error) {
	if h.treble == nil {
		return h.Hand.Refine(ctx)
	}
	err := h.treble.Mark(ctx)
	return estimate.Verdict{Decision: h.treble.Decision()}, err
}

func (h *handScrew) set(ctx context.Context, v *estimate.Verdict) error {
	if h.treble != nil {
		err := h.treble.Set(ctx)
		v.Decision = h.treble.Decision()
		h.run.Left = h.Left
		return err
	}
	err := h.Set(ctx, v)
	h.run.Left, h.run.leftOwnSD = h.Left, h.Left.OffSDArcmin
	return err
}

// sayByTreble is the end of a run that the treble alone has set.
func (c *course) sayByTreble(at byhand.AsLeft) record.End {
	most := figures.Coverage * at.TiltSDArcmin
	end := record.End{Outcome: record.LessCertain, Say: fmt.Sprintf(
		"the head is set by the treble alone, halfway between the marks of both dull edges: the treble is %.1f dB below the greatest heard on the way,%s (95 %%), which is a tilt of at most %.0f'",
		at.BelowDB, figures.PlusMinus(&at.SDDB, " dB"), most)}
	if gain := figures.From(&c.Found, nil, &c.Left).SayTreble(c.Plan.ToneHz); gain != "" {
		end.Say += "; " + gain
	}
	end.Do = "if the deck should have two channels, mend the one that is missing, and align again: with both the tilt is measured"
	return end
}
