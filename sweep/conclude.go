package sweep

import (
	"context"
	"errors"

	"headtrue/sweep/record"
	"headtrue/sweep/session"
)

// conclude puts the screw back where a run that set no head may do so, makes it stand
// still, lets go of the motor where a run broke off, and saves how the run ended.
func (c *course) conclude(ctx context.Context, end record.End, err error) (record.End, error) {
	var went wentBack
	if err != nil {
		c.delayDoubted = doubtsDelay(err)
		went = c.putBack(ctx, err)
		end = session.EndOf(&session.Halted{Cause: err, Stop: c.StandStill()})
	}
	end.ScrewDeg, end.ScrewCertain = c.whereNow()
	c.sayStanding(&end, went)
	saveErr := c.Save(record.Entry{Kind: record.KindEnd, End: &end})
	c.TellEnd(&end)
	var st *session.Stop
	if errors.As(saveErr, &st) && end.Outcome != record.NotSaved {
		end.Say += "; and " + st.Say
	}
	return end, saveErr
}

// whereNow is where the jig stands, and whether that is certain.
func (c *course) whereNow() (deg float64, certain bool) {
	if !c.HasJig() {
		return 0, false
	}
	deg, certain = c.StandsNow()
	return deg, certain && !c.back.lost()
}
