package sweep

import (
	"context"

	"headtrue/sweep/byhand"
	"headtrue/sweep/estimate"
	"headtrue/sweep/record"
)

// AlignByHand is Align with a person who turns the screw: it guides the person to both dull
// edges and to the optimum. It needs no jig. Its record has tilts in place of degrees of screw.
func AlignByHand(ctx context.Context, s Setup) (record.End, error) {
	s.Jig = nil
	c := begin(s)
	c.byHand = true
	end, err := c.align(ctx, handScrew{byhand.New(c.Session), c})
	return c.conclude(ctx, end, err)
}

// handScrew is a screw that a person turns.
type handScrew struct {
	*byhand.Hand
	run *course
}

func (h handScrew) asFound(ctx context.Context) error {
	h.run.StartTape()
	err := h.AsFound(ctx)
	h.run.Found = h.Before
	return err
}

func (h handScrew) set(ctx context.Context, v *estimate.Verdict) error {
	err := h.Set(ctx, v)
	h.run.Left, h.run.leftOwnSD = h.Left, h.Left.OffSDArcmin
	return err
}
