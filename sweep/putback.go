package sweep

import (
	"context"
	"errors"
	"io"

	"headtrue/sweep/estimate"
	"headtrue/sweep/faults"
	"headtrue/sweep/record"
	"headtrue/sweep/session"
)

// wentBack is the result of a return to as found by a run that set no head.
type wentBack struct {
	there bool // it stands at as found, by count or sound
	restoreCheck
	why error // why it did not arrive; nil if it did not start
}

// putBack drives back to as found after an error that leaves link and count good, and
// listens there if the sound can be compared. Any failure on the way, or a person's stop,
// leaves the screw at rest.
func (c *course) putBack(ctx context.Context) wentBack {
	outcome := session.PlainEnd(c.cause).Outcome
	if outcome.Standing() != record.PutBack || !c.HasJig() || c.back != nil || c.BladeAway() || len(c.Trip) < 2 || ctx.Err() != nil {
		return wentBack{}
	}
	c.DropClip()
	c.Tell("put back", "%s; the head is not set, so the screw goes back to where it was found", c.cause.Error())
	if err := c.ComeToRest(ctx); err != nil {
		return wentBack{why: err}
	}
	past := c.soFar()
	if err := c.ArriveUnheard(ctx, c.likelyFound(past)); err != nil {
		return wentBack{why: err}
	}
	back := wentBack{there: true}
	var err error
	if back.restoreCheck, err = c.listenBack(ctx, past); err != nil {
		return wentBack{why: err}
	}
	return back
}

// soFar returns the restore point by the present data of the run.
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
	// Steps before a decision may have heard the other sound already.
	doubted := doubtsDelay(c.cause) || anotherSound(c.cause) && c.Decided == nil
	if past.Decision.FoundHomeSDArcmin > mostPlaceArcmin || doubted { // the usual backlash is more certain
		vague := *past.Decision
		vague.FoundHomeOK = false
		past.Decision = &vague
	}
	return past
}

// mostPlaceArcmin is the greatest standard deviation of a place to drive to.
const mostPlaceArcmin = 2.5

// likelyFound is the probable place of as found by the count, degrees: the middle of the
// usual backlash if it is not known.
func (c *course) likelyFound(past AsFoundBaseline) float64 {
	if past.placed() {
		return past.place()
	}
	return estimate.LagDeg * c.HomeSide()
}

// listenBack corrects the place by the sound, if that is again the sound of as found.
func (c *course) listenBack(ctx context.Context, past AsFoundBaseline) (restoreCheck, error) {
	if anotherSound(c.cause) {
		return restoreCheck{}, nil
	}
	r, raw, err := c.Hear(ctx, faults.PolaritySeconds)
	if errors.Is(err, io.EOF) {
		return restoreCheck{}, nil
	}
	if err != nil || c.Judge(r, raw) != nil || c.ToneGone(r) {
		return restoreCheck{}, err
	}
	counted := c.ScrewDeg
	h, err := c.homeIn(ctx, past, true)
	if h.leapt && h.unlike(past.heard()) > likeTrebleDB {
		h.heard = different
		if autoGain(c.cause) { // its level does not refute what the delay shows
			perDeg, _ := c.gearingOf(past)
			h.heard, h.off = contrary, h.off+(counted-c.ScrewDeg)*perDeg
		}
		err = c.stayAt(ctx, counted)
	}
	var st *session.Stop
	if errors.As(err, &st) && st.Passing { // the sound became unusable again
		return restoreCheck{}, nil
	}
	return h, err
}

// autoGain reports whether the run ended because the input's gain follows the level.
func autoGain(cause error) bool {
	var st *session.Stop
	return errors.As(cause, &st) && st.Outcome == record.AutoGain
}

// anotherSound reports whether the run ended because the sound, or its delay, is no longer
// that of as found.
func anotherSound(cause error) bool {
	var st *session.Stop
	return doubtsDelay(cause) || errors.As(cause, &st) && (st.Outcome == record.ToneOver || st.Outcome == record.ChannelFlipped)
}

// doubtsDelay reports whether the error that ended the run puts the delay in doubt.
func doubtsDelay(cause error) bool {
	var st *session.Stop
	return errors.As(cause, &st) && st.DelayDoubted
}
