package byhand

import (
	"context"
	"errors"
	"fmt"
	"math"

	"headtrue/sweep/estimate"
	"headtrue/sweep/figures"
	"headtrue/sweep/record"
	"headtrue/sweep/session"
	"headtrue/sweep/stream"
	"headtrue/sweep/tape"
)

const (
	nearArcmin       = 3.0 // within which the hand is lifted to look
	standSeconds     = 1.0 // of listening to a standing head before its tilt counts
	mostStandSeconds = 5.0 // of waiting for a head to stand
	liftSeconds      = 1.2 // until the hand is off, and the head has settled
	seatSeconds      = 1.8 // until the blade is back in the slot
	lookSeconds      = 2.0 // of listening with the hands off
	slowDegPerS      = 30  // at least this fast a hand turns a stated angle
	standClearArcmin = 2.5 // a movement from one stand to another that is no chance
	springArcmin     = 1.5 // a movement as the blade is lifted that a person should hear of
	mostLeftArcmin   = 5.0 // from the optimum beyond which no head is called set
	mostLeads        = 8
	mostLifts        = 5
	leastTurnDeg     = 3 // a hand makes no smaller turn; from memory
)

// lift is what the head does between the end of a turn and the lifted blade, arcmin towards the
// side of the turn: the blade's pressure goes, and the screw springs back.
type lift struct {
	short float64
	heard int
}

// mostShortArcmin is the greatest shortfall that is added to a turn.
const mostShortArcmin = 2.0

func (l *lift) note(short float64) {
	l.heard++
	l.short += (max(-mostShortArcmin, min(mostShortArcmin, short)) - l.short) / float64(l.heard+1)
}

// Set leads the person to the optimum, has the hands taken off, and measures as left.
func (h *Hand) Set(ctx context.Context, v *estimate.Verdict) error {
	at := h.optimum(v)
	if h.known != nil {
		at = h.known
	}
	if err := h.lead(ctx, at); err != nil {
		return err
	}
	if why := h.doubt(); why != "" {
		if err := h.notAlone(ctx, why); err != nil {
			return err
		}
		w, err := h.Refine(ctx)
		if err != nil {
			return err
		}
		*v = w
		return h.Set(ctx, v)
	}
	return h.leave(ctx, v, at)
}

// lead leads the person to a target, until the head stands there with the hands off.
func (h *Hand) lead(ctx context.Context, at *target) error {
	for range mostTurns {
		err := h.leadOnce(ctx, at)
		if !errors.Is(err, errLost) {
			return err
		}
		h.Warn("tone", "the level of the tone does not fit the place: its periods are counted anew")
		if err := h.overTop(ctx, at, -h.lastSide(0)); err != nil {
			return err
		}
	}
	return errLost
}

// errLost means that the whole periods of a tone were miscounted.
var errLost = &session.Stop{Outcome: record.TooUncertain, Say: "the tone's level does not fit the place of the head",
	Do: "run align --by-hand again, and turn more slowly"}

func (h *Hand) leadOnce(ctx context.Context, at *target) error {
	pressed, err := h.approach(ctx, at)
	if err != nil {
		return err
	}
	off, err := h.look(ctx, at)
	if by := math.Abs(off - pressed); err == nil && by > springArcmin {
		h.Tell(phaseLead, "the head moved by %s as you lifted the blade: only what is heard with the hands off counts", figures.Arcmin(&by))
	}
	for n := 0; err == nil && math.Abs(off) > h.tolerance(at)*(1+patienceShare*float64(n)) && n < mostLifts; n++ {
		off, err = h.correct(ctx, at, off)
	}
	return err
}

// patienceShare is by how much of it the tolerance grows with each further small turn: the next
// would hardly do better.
const patienceShare = 0.25

// tolerance is the distance from a target that is worth no further turn: a hand cannot turn by
// less than leastTurnDeg.
func (h *Hand) tolerance(at *target) float64 {
	return max(0.6*leastTurnDeg/360*h.turns.now(), 1.2*at.sd)
}

// approach leads the person, who keeps the blade in the slot, to near the optimum, and returns
// how far the head then stands from it, with the blade still pressed.
func (h *Hand) approach(ctx context.Context, at *target) (off float64, err error) {
	if h.placed(at) { // else the first request is to turn back
		if err := h.hold(ctx); err != nil {
			return 0, err
		}
	}
	var made *stated
	var from float64 // the distance before that turn
	for range mostLeads {
		if !h.placed(at) {
			if err := h.overTop(ctx, at, -h.lastSide(0)); err != nil {
				return 0, err
			}
		}
		if off, err = h.offBefore(ctx, at, made); err != nil {
			return 0, err
		}
		if made != nil {
			moved := made.side * (off - from)
			h.turns.heard(*made, moved)
			h.vote(made, moved)
		}
		if math.Abs(off) <= nearArcmin {
			return off, nil
		}
		from = off
		if made, err = h.turnBy(ctx, at, off, 0); err != nil {
			return 0, err
		}
	}
	return off, nil // the look with the hands off decides
}

// offBefore returns how far the head stands from the target. Before any turn as found has shown
// it.
func (h *Hand) offBefore(ctx context.Context, at *target, made *stated) (float64, error) {
	if made == nil && len(h.steps) == 0 && h.found != nil && at.lobe == nil {
		return at.off(h.Plan.Tape.Arcmin(h.found.Reading.DelayTrackedUS)), nil
	}
	return h.stand(ctx, at, standSeconds)
}

// hold has a person who turns until the next request stop, and waits until the head stands.
func (h *Hand) hold(ctx context.Context) error {
	switch a := h.asked; {
	case a.Way == "" || a.Turns > 0:
		return nil
	}
	const least, most, piece = 0.7, 4.0, 0.3
	h.ask(phaseLead, stream.Guidance{Act: stream.HoldOn})
	for {
		c, err := h.hear(ctx)
		if err != nil {
			return err
		}
		if err := h.keep(c, phaseLead); err != nil {
			return err
		}
		if gone := h.sinceAsked(); gone > most || gone > least && h.track.still(piece, c.at) {
			return nil
		}
	}
}

// turnBy asks for a turn that takes off away, and more, and waits until it is made.
func (h *Hand) turnBy(ctx context.Context, at *target, off, more float64) (*stated, error) {
	side := -math.Copysign(1, off)
	made := &stated{turns: max((math.Abs(off)+more)/h.turns.now(), leastTurnDeg/360.0), way: h.sense.way(side), side: side, seated: h.lifted}
	h.ask(phaseLead, stream.Guidance{Act: stream.TurnOn, Way: made.way, Turns: made.turns, OffArcmin: &off, ToleranceArcmin: nearArcmin})
	made.reversed = h.last != made.way
	_, err := h.settle(ctx, at, math.Abs(off))
	return made, err
}

// vote notes what a turn between two stands shows of the sense of the screw: the head has moved
// by so much as it should, arcmin.
func (h *Hand) vote(made *stated, moved float64) {
	clear := float64(standClearArcmin)
	if made.seated {
		clear = clearArcmin // the blade's pressure tilts the head, too
	}
	switch {
	case moved > clear:
		h.sense.heard(made.way, made.side)
	case moved < -clear:
		h.sense.heard(made.way, -made.side)
		h.Warn("screw", "that was the other direction")
	}
}

// settle waits until a turn has been made and the head stands. expect is the tilt of the turn.
func (h *Hand) settle(ctx context.Context, at *target, expect float64) (off float64, err error) {
	const react, patience, piece = 1.0, 6.0, 0.5 // in a shorter piece a slow hand seems to stand
	least := react + h.asked.Turns*360/slowDegPerS
	if h.lifted {
		least += seatSeconds
	}
	h.lifted = false
	var from float64
	for first := true; ; first = false {
		c, err := h.hear(ctx)
		if err != nil {
			return 0, err
		}
		if err := h.keep(c, phaseLead); err != nil {
			return 0, err
		}
		if c.byDelay {
			off = at.off(c.tilt)
			if first {
				from = off
			}
			h.show(&off)
		}
		gone := h.sinceAsked()
		begun := math.Abs(off-from) > expect/3 || expect < clearArcmin
		if gone > least+patience || gone > least && begun && h.track.still(piece, c.at) {
			return off, nil
		}
	}
}

// stand hears the head as it stands, and returns its distance from the target.
func (h *Hand) stand(ctx context.Context, at *target, seconds float64) (off float64, err error) {
	sum, power, n := 0.0, 0.0, 0
	from, began := h.TapeSeconds(), h.TapeSeconds()
	for h.TapeSeconds()-from < seconds || n == 0 {
		c, err := h.hear(ctx)
		if err != nil {
			return 0, err
		}
		if err := h.keep(c, phaseLead); err != nil {
			return 0, err
		}
		if !c.byDelay {
			if h.TapeSeconds()-from > 10*seconds {
				return 0, noDelay()
			}
			continue
		}
		sum, power, n = sum+c.tilt, power+tape.PowerOf(c.reading.TrebleDB), n+1
		mean := at.off(sum / float64(n))
		h.show(&mean)
		if h.TapeSeconds()-from >= seconds && h.TapeSeconds()-began < mostStandSeconds && !h.track.still(standSeconds/2, c.at) {
			sum, power, n, from = 0, 0, 0, h.TapeSeconds() // the hand still turned
		}
	}
	h.placed(at)
	off, h.trebleDB = at.off(sum/float64(n)), tape.Decibels(power/float64(n))
	if !at.fits(off, h.trebleDB) {
		return off, errLost
	}
	return off, nil
}

func noDelay() error {
	return &session.Stop{Outcome: record.NoTreble, Say: "the delay between the channels cannot be measured any more",
		Do: "play the passage again, or a tone"}
}

// look has the hands taken off and hears how far the head stands from the optimum.
func (h *Hand) look(ctx context.Context, at *target) (off float64, err error) {
	h.ask(phaseLead, stream.Guidance{Act: stream.HandsOff})
	h.lifted = true
	if _, err := h.stand(ctx, at, liftSeconds); err != nil {
		return 0, err
	}
	return h.stand(ctx, at, lookSeconds)
}

// correct asks for one more small turn. What lifting the blade has cost before is added to it.
func (h *Hand) correct(ctx context.Context, at *target, off float64) (after float64, err error) {
	h.Tell(phaseLead, "with the hands off the head stands %s from the optimum", figures.Arcmin(&off))
	more := max(-math.Abs(off)/2, min(mostShortArcmin, h.lift.short))
	made, err := h.turnBy(ctx, at, off, more)
	if err != nil {
		return 0, err
	}
	after, err = h.look(ctx, at)
	if err == nil {
		moved := made.side * (after - off)
		h.lift.note(math.Abs(off) + more - moved)
		made.seated = false // the hands are off before and after
		h.vote(made, moved)
	}
	return after, err
}

// leave measures as left with the hands off, and states the distance from the optimum.
func (h *Hand) leave(ctx context.Context, v *estimate.Verdict, at *target) error {
	d, err := h.hearLeft(ctx, v.Wander)
	if err != nil {
		return err
	}
	off := h.offLeft(d, at)
	h.Left.OffArcmin, h.Left.OffSDArcmin = &off, math.Hypot(d.OwnSD, at.sd)
	v.MeasuredSDArcmin = math.Hypot(h.Left.OffSDArcmin, off)
	v.Optimum.SDArcmin = v.MeasuredSDArcmin
	if h.Plan.ToStandard {
		v.Optimum.SDArcmin = math.Hypot(v.Optimum.SDArcmin, h.Plan.TapeTiltSDArcmin)
	}
	v.GearingArcminPerTurn, v.GearingSDArcminPerTurn = h.learned()
	if err := h.Save(record.Entry{Kind: record.KindDecision, Decision: &v.Decision}); err != nil {
		return err
	}
	if err := h.Save(record.Entry{Kind: record.KindLeft, Left: &h.Left}); err != nil {
		return err
	}
	if math.Abs(off) > mostLeftArcmin {
		return &session.Stop{Outcome: record.TooUncertain, Say: fmt.Sprintf("the head stands %s from the optimum, and no turn has brought it nearer", figures.Arcmin(&off)),
			Do: "look whether the screw is at its end and turns the head; then run align --by-hand again"}
	}
	h.ask(phaseLeft, stream.Guidance{Act: stream.Optimum, OffArcmin: &off})
	return nil
}

// leftPieceSeconds is the length of the pieces by which the tape's wander is judged.
const leftPieceSeconds = 0.25

// hearLeft listens with the hands off, and begins the record of as left.
func (h *Hand) hearLeft(ctx context.Context, wander estimate.Wander) (estimate.Dwelt, error) {
	if err := h.OpenClip("as-left"); err != nil {
		return estimate.Dwelt{}, err
	}
	h.Tell(phaseLeft, "hands off: listening to the head as it is left")
	heard := estimate.Standing{Tape: h.Plan.Tape}
	whole := h.NewMeter()
	for from := h.TapeSeconds(); h.TapeSeconds()-from < h.Plan.ProofSeconds; {
		piece := h.NewMeter()
		if err := h.Feed(ctx, leftPieceSeconds, piece, whole); err != nil {
			return estimate.Dwelt{}, err
		}
		p, _ := h.Read(piece)
		all, _ := h.Read(whole)
		heard.Add(p, h.TapeSeconds()-p.Seconds/2, all)
	}
	all, raw := h.Read(whole)
	if trouble := h.Judge(all, raw); trouble != nil {
		return estimate.Dwelt{}, trouble
	}
	name, err := h.CloseClip()
	h.Left = record.Left{ScrewDeg: math.NaN(), TravelDeg: math.NaN(), Released: &all, Clip: name, Running: h.Running()}
	return heard.Weigh(wander, all), err
}

// offLeft returns the distance of as left from a target, arcmin, and tracks that reading.
func (h *Hand) offLeft(d estimate.Dwelt, at *target) float64 {
	off := d.Tilt - at.tilt
	if d.All.DelayPeriodUS > 0 {
		off = math.Remainder(off, h.Plan.PeriodArcmin())
	}
	h.Left.Released.DelayTrackedUS = h.Plan.Tape.Microseconds(at.tilt + off)
	return off
}
