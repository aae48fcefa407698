package sweep

import (
	"context"

	"headtrue/sweep/byhand"
	"headtrue/sweep/record"
)

// AlignByHand is Align with a person who turns the screw: it guides the person to both dull
// edges and to the optimum. It needs no jig. If one channel is dead, or both are the same, the
// treble alone sets the head. Its record has tilts in place of degrees of screw.
func AlignByHand(ctx context.Context, s Setup) (record.End, error) {
	s.Jig, s.TrebleMaySet = nil, true
	c := begin(s)
	c.byHand = true
	h := &handScrew{Hand: byhand.New(c.Session), run: c}
	end, err := c.align(ctx, h)
	if err == nil && h.treble != nil {
		end = c.sayByTreble(h.treble.At)
	}
	return c.conclude(ctx, end, err)
}

// handScrew is a screw that a person turns.
type handScrew struct {
	*byhand.Hand
	run    *course
	treble *byhand.Treble // nil unless the treble alone sets the head
}

func (h *handScrew) asFound(ctx context.Context) error {
	h.run.StartTape()
	err := h.AsFound(ctx)
	h.run.Found = h.Before
	return err
}
