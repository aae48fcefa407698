package byhand

import (
	"context"
	"math"

	"headtrue/sweep/figures"
	"headtrue/sweep/record"
	"headtrue/sweep/session"
	"headtrue/sweep/stream"
)

// AsLeft is the treble as left against the top. TiltSDArcmin is half of the greatest tilt that
// the law of azimuth loss allows for it, at 95 %.
type AsLeft struct{ BelowDB, SDDB, TiltSDArcmin float64 }

// halfwaySeconds is how long a person has for the turn to halfway, and to lift the blade.
const halfwaySeconds = 6.0

// Set has the screw turned to halfway between the marks, corrects that if it is worth it, and
// hears the head as left.
func (t *Treble) Set(ctx context.Context) error {
	t.way = t.way.Other()
	t.ask(phaseLead, stream.Guidance{Act: stream.Halfway, Way: t.way})
	if err := t.LetPass(ctx, halfwaySeconds+seatSeconds); err != nil {
		return err
	}
	r, err := t.look(ctx)
	if err != nil {
		return err
	}
	below := t.below(r.TrebleDB)
	t.Tell(phaseLead, "with the hands off the treble is %s heard on the way", sayBelow(below))
	if t.isFar(r) {
		if t.remarks++; t.remarks > mostRemarks {
			return notSet(below)
		}
		t.Tell(phaseLead, "that is too far from the top: both marks are made anew")
		t.marks = nil
		if err := t.Mark(ctx); err != nil {
			return err
		}
		return t.Set(ctx)
	}
	beyond, sd := t.beyond(r)
	if math.Abs(beyond) > max(leastTurnDeg/360*t.turns.perTurn, sd) {
		if err := t.correct(ctx, beyond); err != nil {
			return err
		}
	}
	return t.leave(ctx)
}

// A treble that shows the head clearly further from the top than mostHalfwayArcmin shows marks
// that were not alike.
const mostHalfwayArcmin, mostRemarks = 6, 2

// isFar reports whether the treble of a head that stands shows it clearly far from the top.
func (t *Treble) isFar(r record.Reading) bool {
	return t.lossArcmin(t.below(r.TrebleDB)-2*math.Hypot(r.TrebleSDDB, t.topSD())) > mostHalfwayArcmin
}

func notSet(below float64) error {
	return &session.Stop{Outcome: record.TooUncertain, Say: "halfway between the marks the treble is " + sayBelow(below) + " heard on the way, again and again",
		Do: "use a tone, or a passage with steadier treble, and turn slowly"}
}

// look has the hands taken off and hears the head.
func (t *Treble) look(ctx context.Context) (record.Reading, error) {
	t.ask(phaseLead, stream.Guidance{Act: stream.HandsOff})
	t.lifted = true
	return t.listen(ctx, phaseLead, liftSeconds)
}

// beyond returns how far halfway lies from the top, arcmin, positive towards the last mark, with
// its standard deviation. If one mark was duller than the other, it lay further from the top, and
// so does halfway on its side. r is the reading halfway, from which the top's level follows.
func (t *Treble) beyond(r record.Reading) (arcmin, sd float64) {
	n := len(t.marks)
	a, b := t.marks[n-1], t.marks[n-2]
	of := func(a, b, r float64) float64 {
		x := 0.0
		for range 4 { // the loss halfway is small: it converges at once
			top := r + t.lossDB(x)
			x = (t.lossArcmin(top-a) - t.lossArcmin(top-b)) / 2
			x = max(-mostBeyond, min(mostBeyond, x))
		}
		return x
	}
	arcmin = of(a.db, b.db, r.TrebleDB)
	return arcmin, math.Hypot(of(a.db+a.sd, b.db, r.TrebleDB)-arcmin, of(a.db, b.db+b.sd, r.TrebleDB)-arcmin)
}

// mostBeyond is the greatest correction, arcmin.
const mostBeyond = 12

// correct asks for one turn that takes beyond away. Its size in degrees goes by the gearing that
// is expected of the mount.
func (t *Treble) correct(ctx context.Context, beyond float64) error {
	way := t.marks[len(t.marks)-1].way
	if beyond > 0 {
		way = way.Other()
	}
	t.Tell(phaseLead, "one mark was duller than the other: by that, halfway lies about %s from the top", figures.Arcmin(&beyond))
	t.ask(phaseLead, stream.Guidance{Act: stream.TurnOn, Way: way, Turns: max(math.Abs(beyond)/t.turns.perTurn, leastTurnDeg/360.0)})
	if err := t.LetPass(ctx, halfwaySeconds); err != nil {
		return err
	}
	_, err := t.look(ctx)
	return err
}

// leave hears the head as left, and saves what the treble says of it.
func (t *Treble) leave(ctx context.Context) error {
	if err := t.OpenClip("as-left"); err != nil {
		return err
	}
	t.Tell(phaseLeft, "hands off: listening to the head as it is left")
	r, err := t.level(ctx, t.Plan.ProofSeconds)
	if err != nil {
		return err
	}
	name, err := t.CloseClip()
	if err != nil {
		return err
	}
	if t.isFar(r) {
		return notSet(t.below(r.TrebleDB))
	}
	t.Left = record.Left{ScrewDeg: math.NaN(), TravelDeg: math.NaN(), Released: &r, Clip: name, Running: t.Running()}
	t.At = AsLeft{BelowDB: max(0, t.below(r.TrebleDB)), SDDB: math.Hypot(r.TrebleSDDB, t.topSD())}
	t.At.TiltSDArcmin = t.lossArcmin(t.At.BelowDB+2*t.At.SDDB) / 2
	d := t.Decision()
	if err := t.Save(record.Entry{Kind: record.KindDecision, Decision: &d}); err != nil {
		return err
	}
	if err := t.Save(record.Entry{Kind: record.KindLeft, Left: &t.Left}); err != nil {
		return err
	}
	t.ask(phaseLeft, stream.Guidance{Act: stream.Optimum})
	return nil
}

// byTrebleAlone is why the estimates have no places.
const byTrebleAlone = "the treble alone has set the head: without a delay between the channels there is no scale of tilt"

// Decision is that of a run without a scale of tilt: no place has a figure. The optimum's
// uncertainty is what the level as left allows; it is not there before.
func (t *Treble) Decision() record.Decision {
	nan := math.NaN()
	none := record.Estimate{Deg: nan, Why: "there is no scale of tilt"}
	d := record.Decision{LowEdgeDeg: nan, HighEdgeDeg: nan, DullDB: t.Plan.DullDB, GearingArcminPerTurn: nan, GearingSDArcminPerTurn: nan, FoundHomeDeg: nan,
		Midpoint: none, Fitted: none, DelayZero: none, Optimum: none, Agreement: "partial", AgreementWhy: byTrebleAlone}
	if t.At.TiltSDArcmin > 0 {
		d.Optimum.OK, d.Optimum.SDArcmin = true, t.At.TiltSDArcmin
		d.Optimum.Why = "halfway between the two marks of a person"
	}
	return d
}
