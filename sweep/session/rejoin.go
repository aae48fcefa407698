package session

import (
	"context"
	"math"

	"headtrue/jig"
	"headtrue/sweep/record"
)

// Rejoining is what is known of an earlier run when its degrees are to mean the same again.
type Rejoining struct {
	Found     record.Found
	CountGone bool // the jig has turned another screw since, or is another
	Slipped   bool // the screw did not follow the jig, so that the count does not say where it is
	// LikelyDeg is where the screw stands in those degrees if the count is gone; nil if that
	// is not known.
	LikelyDeg *float64
}

// SameCount reports whether a jig counts as it did when a place was noted. Epochs of two
// jigs may be alike: one that has started less often since is another, and so is one whose
// screw turns otherwise by the count.
func SameCount(found record.Found, st jig.Status, now jig.Profile) bool {
	return st.Epoch == found.Epoch && int16(st.Boot-found.BootCount) >= 0 && now.MicrostepsPerTurn() == found.MicrostepsPerTurn
}

// RejoinCount makes degrees mean what they meant in an earlier run. It returns whether they
// do for certain, or else about. If neither, they count from where the jig stands.
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

// lostSteps is by how many microsteps the count is ahead of the shaft, where an encoder
// sees that and has seen it as found. A rotor falls behind by whole rounds of four full
// steps; how it stands within them depends on whether the motor is on.
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
		c.Tell("restore", "the encoder on the shaft puts the jig's count right by %d microsteps", -lost)
	}
	return lost, true, nil
}

// Widen sets the window so that it holds where the screw stands and beyond degrees more, and
// returns how far that lets a place lie from zero.
func (c *Session) Widen(ctx context.Context, beyond float64) (windowDeg float64, err error) {
	reach := math.Max(c.reach(), math.Abs(c.ScrewDeg)+beyond+c.OvershootDeg())
	return reach - c.OvershootDeg() - 1, c.setup.Jig.SetWindow(ctx, jig.Degrees(-reach), jig.Degrees(reach))
}

// CallHere makes degrees count so that the screw stands at deg.
func (c *Session) CallHere(deg float64) {
	j := c.setup.Jig
	j.SetZero(j.Zero() + microstepsOf(j.Profile(), c.ScrewDeg-deg))
	c.ScrewDeg = deg
}

// microstepsOf is what the jig counts as its shaft turns by so many degrees forward.
func microstepsOf(p jig.Profile, deg float64) int32 {
	return int32(math.Round(deg * p.MicrostepsPerTurn() / 360 * float64(p.Direction)))
}
