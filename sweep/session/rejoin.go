package session

import (
	"context"
	"math"

	"headtrue/jig"
	"headtrue/sweep/record"
)

// Rejoining describes an earlier run whose degrees are to be valid again.
type Rejoining struct {
	Found     record.Found
	CountGone bool // the jig has turned another screw since, or it is another jig
	Slipped   bool // the screw did not follow the jig, so the count does not give its position
	// LikelyDeg is the probable position of the screw in those degrees if the count is gone;
	// nil if unknown.
	LikelyDeg *float64
}

// SameCount reports whether a jig still counts as it did when a position was saved. Epochs
// of two jigs may be equal: a jig with fewer starts than then is another one; so is one with
// another number of microsteps per turn.
func SameCount(found record.Found, st jig.Status, now jig.Profile) bool {
	return st.Epoch == found.Epoch && int16(st.Boot-found.BootCount) >= 0 && now.MicrostepsPerTurn() == found.MicrostepsPerTurn
}

// RejoinCount restores the degrees of an earlier run. counts means that they are certain,
// guessed that they are approximate. If neither, degrees count from the jig's position.
func (c *Session) RejoinCount(ctx context.Context, r Rejoining) (counts, guessed bool, err error) {
	j := c.setup.Jig
	st, err := j.Status(ctx)
	if err != nil {
		return false, false, err
	}
	same := !r.CountGone && SameCount(r.Found, st, j.Profile())
	lost, seen := 0, false
	if same {
		if lost, seen, err = c.lostSteps(ctx, r.Found, st); err != nil {
			return false, false, err
		}
	}
	switch {
	case same && !r.Slipped && (st.Memory == jig.Kept || seen):
		j.SetZero(r.Found.PositionMicrosteps + int32(lost))
		counts = true
	case same && !r.Slipped && st.Memory == jig.Doubtful:
		j.SetZero(r.Found.PositionMicrosteps)
		guessed = true
	case r.LikelyDeg != nil:
		j.SetZero(st.Microsteps - microstepsOf(j.Profile(), *r.LikelyDeg))
		guessed = true
	default:
		j.SetZero(st.Microsteps)
	}
	if !counts {
		if err := j.Declare(ctx, st.Microsteps); err != nil {
			return false, false, err
		}
	}
	if st, err = j.Status(ctx); err != nil {
		return false, false, err
	}
	c.ScrewDeg, c.lastDeg, c.epoch = float64(st.Position), float64(st.Position), st.Epoch
	return counts, guessed, nil
}

// lostSteps returns by how many microsteps the count is ahead of the shaft, if an encoder
// reads the shaft and did so as found. A rotor falls behind by whole rounds of four full
// steps; its angle within a round depends on whether the motor is on.
func (c *Session) lostSteps(ctx context.Context, found record.Found, st jig.Status) (lost int, seen bool, err error) {
	if found.ShaftAngle == nil {
		return 0, false, nil
	}
	j := c.setup.Jig
	angle, seen, err := j.ShaftAngle(ctx)
	if err != nil || !seen {
		return 0, false, err
	}
	round := jig.RoundFullSteps * j.Profile().Microsteps
	ahead := j.Ahead(*found.ShaftAngle, angle, float64(st.Microsteps)-float64(found.PositionMicrosteps))
	lost = round * int(math.Round(ahead/float64(round)))
	if lost != 0 || st.Memory != jig.Kept {
		c.Tell("restore", "the encoder on the shaft has corrected the jig's count by %d microsteps", -lost)
	}
	return lost, true, nil
}

// Widen sets a window that contains the present position of the screw and beyond degrees
// more. It returns the greatest distance of a place from zero that this window allows.
func (c *Session) Widen(ctx context.Context, beyond float64) (windowDeg float64, err error) {
	reach := math.Max(c.reach(), math.Abs(c.ScrewDeg)+beyond+c.OvershootDeg())
	return reach - c.OvershootDeg() - 1, c.setup.Jig.SetWindow(ctx, jig.Degrees(-reach), jig.Degrees(reach))
}

// CallHere shifts the zero of degrees so that the screw stands at deg.
func (c *Session) CallHere(deg float64) {
	j := c.setup.Jig
	j.SetZero(j.Zero() + microstepsOf(j.Profile(), c.ScrewDeg-deg))
	c.ScrewDeg = deg
}

// microstepsOf converts a forward turn of the shaft in degrees to counts of the jig.
func microstepsOf(p jig.Profile, deg float64) int32 {
	return int32(math.Round(deg * p.MicrostepsPerTurn() / 360 * float64(p.Direction)))
}
