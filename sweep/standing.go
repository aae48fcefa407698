package sweep

import (
	"fmt"
	"math"
	"strings"

	"headtrue/sweep/estimate"
	"headtrue/sweep/record"
	"headtrue/sweep/session"
)

// sayStanding adds, to the end of a run that has not set a head, the position of the screw
// and the command to put it back.
func (c *course) sayStanding(end *record.End, went wentBack) {
	standing := end.Outcome.Standing()
	if c.byHand && c.Found.ByHand && (standing == record.PutBack || standing == record.Stands) {
		end.RestoreCommand = c.RestoreCommand() // a person may have turned the screw by any angle
		return
	}
	if standing != record.PutBack && standing != record.Stands || !c.HasJig() || c.Trip == nil && c.back == nil {
		return
	}
	end.RestoreCommand = c.RestoreCommand()
	if went.why != nil {
		end.Say += "; on the way back to as found: " + session.PlainEnd(went.why).Say
	}
	deg, sd := c.screwStands(end)
	if went.there && went.heard != unmoved && went.heard != contrary {
		end.PutBack = true
		end.Do = strings.TrimPrefix(strings.TrimSuffix(end.Do, ", or restore"), "restore, then ")
	}
	if went.there && went.heard == unmoved {
		end.Say += "; on the way back to as found the sound did not follow the screw"
		sd = math.Inf(1)
	}
	if went.there && went.heard == contrary {
		end.Say += fmt.Sprintf("; the jig's count puts the screw back where it was found, but by the sound the head stands %.1f' from there", went.off)
		sd = math.Inf(1)
	}
	// A sound confirms nothing unless the screw was heard to change it.
	if went.there && went.heard == alike && c.HeardToFollow() {
		deg, sd = went.offDeg, went.sdDeg
		if went.leapt { // the count may be right
			sd = math.Hypot(sd, estimate.PeriodOf(c.Plan.Tape, *went.reading)/4*math.Abs(went.sdDeg/went.sd))
		}
		if math.Abs(went.off) <= foundAgainArcmin && !went.leapt && end.Outcome != record.AutoGain { // under automatic gain, levels confirm nothing
			end.RestoreCommand = ""
		}
	}
	if !math.IsInf(sd, 1) {
		end.ScrewOffDeg, end.ScrewOffSDDeg = &deg, sd
	}
	if c.untouched(end) {
		end.RestoreCommand = ""
	}
}

// untouched reports whether the jig certainly stands at as found and never left it. A turn that
// broke off is not in the trip; the jig's count shows it.
func (c *course) untouched(end *record.End) bool {
	return len(c.Trip) == 1 && end.ScrewCertain && end.ScrewDeg == c.Trip[0]
}

// screwStands returns the position of the screw from as found, degrees, with its standard
// deviation, which is infinite if the position is unknown.
func (c *course) screwStands(end *record.End) (deg, sd float64) {
	switch {
	case c.back != nil:
		deg, sd = c.restoreStands(end)
	case c.untouched(end):
		return 0, 0
	default:
		past := c.soFar()
		backlash, first := session.Known{}, session.Known{}
		if d := past.Decision; d.BacklashSDDeg > 0 {
			backlash = session.Known{Of: d.BacklashDeg, SD: d.BacklashSDDeg, OK: true}
		}
		if past.placed() {
			perDeg, _ := c.gearingOf(past)
			first = session.Known{Of: past.place() * c.HomeSide(), SD: math.Hypot(1, past.Decision.FoundHomeSDArcmin/math.Abs(perDeg))}
			first.OK = past.Found.SlackTakenUp || first.SD < estimate.UsualBacklashSDDeg/3 // else the usual backlash is more certain
		}
		deg, sd = append(session.Trip{}, c.Trip...).To(end.ScrewDeg).Stands(c.HomeSide(), backlash, first)
	}
	if !end.ScrewCertain {
		sd = math.Hypot(sd, c.uncountedDeg(end.Outcome))
	}
	if end.Outcome == record.NotFollowing {
		for _, turned := range c.Trip { // the screw may have stayed on any part of the way
			sd = max(sd, math.Abs(turned-deg)/math.Sqrt(3))
		}
	}
	return deg, sd
}

// restoreStands returns the place of the screw after a restore, and its standard deviation: by
// the past run's place, or by the sound.
func (c *course) restoreStands(end *record.End) (deg, sd float64) {
	b := c.back
	if b.lost() || b.heard == unmoved {
		return 0, math.Inf(1)
	}
	if b.heard == alike && math.Abs(end.ScrewDeg-c.ScrewDeg) < estimate.StandingSDDeg {
		return b.offDeg, b.sdDeg
	}
	const slackSD = estimate.UsualBacklashSDDeg / 2
	sd = estimate.StandingSDDeg
	if !b.past.sure() {
		sd = slackSD
	}
	if !c.FromHome() {
		deg, sd = estimate.LagDeg*c.HomeSide(), math.Hypot(sd, slackSD)
	}
	return deg + end.ScrewDeg - c.likelyFound(b.past), sd
}

// uncountedDeg is the standard deviation of the motion that a doubtful count may have
// missed. A jig without a host turns on until it stops by itself; a rotor that was held, or
// a board that restarted, has lost steps.
func (c *course) uncountedDeg(o record.Outcome) float64 {
	if o != record.LinkLost {
		return c.LostRoundDeg()
	}
	return math.Hypot(c.LostRoundDeg(), c.BlindDeg()/math.Sqrt(3))
}
