package sweep

import (
	"context"
	"errors"
	"io"

	"headtrue/sweep/session"

	"headtrue/sweep/estimate"

	"headtrue/sweep/record"
)

// wentBack is how a run that set no head came back to as found by itself.
type wentBack struct {
	there bool // it stands where as found lies by count or sound
	restoreCheck
	why error // why it did not get there; nil if it did not set out
}

// putBack drives back to as found after an error that leaves link and count good, and
// listens there where the sound can be compared. Whatever fails on the way, a person's
// stop too, leaves the screw standing.
func (c *course) putBack(ctx context.Context, cause error) wentBack {
	outcome := session.PlainEnd(cause).Outcome
	if outcome.Standing() != record.PutBack || !c.HasJig() || c.back != nil || c.BladeAway() || len(c.Trip) < 2 || ctx.Err() != nil {
		return wentBack{}
	}
	c.DropClip()
	c.Tell("put back", "%s; the head is not set: putting the screw back as found", cause.Error())
	if err := c.ComeToRest(ctx); err != nil {
		return wentBack{why: err}
	}
	past := c.soFar()
	if err := c.ArriveUnheard(ctx, c.likelyFound(past)); err != nil {
		return wentBack{why: err}
	}
	back := wentBack{there: true}
	var err error
	if back.restoreCheck, err = c.listenBack(ctx, past, cause); err != nil {
		return wentBack{why: err}
	}
	return back
}

// soFar is what the run has learnt that a way back needs.
func (c *course) soFar() AsFoundBaseline {
	past := AsFoundBaseline{Found: c.Found, Decision: c.Decided, Early: true, ToneHz: c.Plan.ToneHz, FurtherTonesHz: c.Plan.FurtherTonesHz}
	if past.Decision == nil {
		ps := c.Plan.InOnePeriod(c.Settled())
		v := estimate.Verdict{Mount: estimate.FitMount(ps, c.HomeSide())}
		if v.Line.OK {
			v.NoteMount()
		}
		v.PlaceFound(c.Found.Seated, c.FoundHome, c.Plan)
		past.Decision = &v.Decision
	}
	if past.Decision.FoundHomeSDArcmin > mostPlaceArcmin || c.delayDoubted { // the usual backlash says more
		vague := *past.Decision
		vague.FoundHomeOK = false
		past.Decision = &vague
	}
	return past
}

// mostPlaceArcmin is how well the place of as found must be known to be driven to.
const mostPlaceArcmin = 2.5

// likelyFound is where as found lies by the count, degrees; in the middle of a usual
// backlash where that is not known.
func (c *course) likelyFound(past AsFoundBaseline) float64 {
	if past.placed() {
		return past.place()
	}
	return estimate.LagDeg * c.HomeSide()
}

// listenBack corrects the place by the sound, if that is the sound of as found again.
func (c *course) listenBack(ctx context.Context, past AsFoundBaseline, cause error) (restoreCheck, error) {
	if anotherSound(cause) {
		return restoreCheck{}, nil
	}
	r, raw, err := c.Hear(ctx, session.PolaritySeconds)
	if errors.Is(err, io.EOF) {
		return restoreCheck{}, nil
	}
	if err != nil || c.Judge(r, raw) != nil || c.ToneGone(r) {
		return restoreCheck{}, err
	}
	counted := c.ScrewDeg
	h, err := c.homeIn(ctx, past, true)
	if h.leapt && h.unlike(past.heard()) > likeTrebleDB {
		h.heard, err = different, c.stayAt(ctx, counted)
	}
	var st *session.Stop
	if errors.As(err, &st) && st.Passing { // it went again
		return restoreCheck{}, nil
	}
	return h, err
}

// anotherSound reports whether what ended the run is that another sound plays now than as
// found, or that its delay is another.
func anotherSound(cause error) bool {
	var st *session.Stop
	return doubtsDelay(cause) || errors.As(cause, &st) && (st.Outcome == record.ToneOver || st.Outcome == record.ChannelFlipped)
}

// doubtsDelay reports whether what ended the run doubts the delay.
func doubtsDelay(cause error) bool {
	var st *session.Stop
	return errors.As(cause, &st) && st.DelayDoubted
}
