package sweep

import (
	"context"
	"errors"
	"math"

	"headtrue/sweep/record"
	"headtrue/sweep/session"
)

// conclude ends a run and saves the end. After an error it puts the screw back if that is
// permitted, stops the screw and switches the motor off.
func (c *course) conclude(ctx context.Context, end record.End, err error) (record.End, error) {
	var went wentBack
	if err != nil {
		c.cause = err
		went = c.putBack(ctx)
		end = session.EndOf(&session.Halted{Cause: err, Stop: c.StandStill()})
	}
	end.ScrewDeg, end.ScrewCertain = c.whereNow()
	end.Forward = c.Plan.Forward
	c.sayStanding(&end, went)
	saveErr := c.Save(record.Entry{Kind: record.KindEnd, End: &end})
	c.TellEnd(&end)
	var st *session.Stop
	if errors.As(saveErr, &st) && end.Outcome != record.NotSaved {
		end.Say += "; and " + st.Say
	}
	return end, saveErr
}

// whereNow returns the jig's position and whether it is certain; NaN if a person turns the screw.
func (c *course) whereNow() (deg float64, certain bool) {
	switch {
	case c.byHand:
		return math.NaN(), false
	case !c.HasJig():
		return 0, false
	}
	deg, certain = c.StandsNow()
	return deg, certain && !c.back.lost()
}
