package byhand

import (
	"context"
	"math"

	"headtrue/sweep/byhand/words"
	"headtrue/sweep/record"
	"headtrue/sweep/session"
	"headtrue/sweep/stream"
)

// Treble guides a person where there is no delay between the channels: one is dead, or both are
// the same. Without a scale of tilt the treble alone shows the way: the person marks the place of
// the slot a little beyond each dull edge, turns to halfway between the marks, and corrects that
// by how dull each mark was with the hands off.
type Treble struct {
	*Hand
	loud    loudness
	lobes   lobes
	way     stream.Way // of the present turn
	marks   []mark
	asLong  float64 // seconds that the last turn took
	remarks int     // times that both were made anew
	// At is the level as left, and what it means.
	At AsLeft
}

// mark is a place that the person has marked, with the level there, hands off.
type mark struct {
	way    stream.Way // of the turn that led there
	db, sd float64
}

// ByTreble begins to guide by the treble alone.
func (h *Hand) ByTreble() *Treble {
	h.TrebleAlone = true
	tone := h.Plan.ToneHz > 0
	t := &Treble{Hand: h, loud: newLoudness(tone), lobes: lobes{dullDB: h.Plan.DullDB, tone: tone}}
	if h.gap.begun { // what was heard before counts
		t.lobes.top, t.lobes.heard = h.gap.top, true
	}
	return t
}

const (
	// A turn that hears no rise for so long leads away from the top.
	awaySeconds = 8
	// noTurnSeconds is how long a turn back may take to come to the top again.
	noTurnSeconds = 120
	// Above these speeds the run asks for a slower turn: the head must stand before the null
	// of a tone, and a mean of a programme must not be longer than its lobe.
	mostToneArcminPerS, mostProgrammeArcminPerS = 10, 7
	slowerAgainSeconds                          = 1
	mostMarks                                   = 6
	// Limits of a good mark, dB below the top: steep enough, and this side of the null, or above
	// the hiss under a programme.
	leastMarkDB, mostToneMarkDB, mostProgrammeMarkDB = 3, 18, 15
	slowestDegPerS                                   = 12  // at least this fast a hand turns if asked to turn slowly
	firstSlower                                      = 4   // by so much a hand may be too fast for a programme that has not shown its speed
	stepDownDB                                       = 1.5 // taken from a top that no later turn reaches: it was chance
	markSeconds                                      = 3.5 // until the blade is out and the place is marked
)

// Bracket turns to either side of the top, so that its level is known.
func (t *Treble) Bracket(ctx context.Context) error {
	t.Tell(phaseEdges, "listening for the top of the treble, and beyond it to both sides")
	t.way = stream.Clockwise
	if t.asked.Act == stream.TurnOn || t.asked.Act == stream.Edge {
		t.way = t.asked.Way // a turn is under way
	}
	if !t.gap.begun {
		if _, err := t.turnOn(ctx, passing{phase: phaseEdges, act: stream.TurnOn, turns: firstTurns, first: true, enough: t.lobes.outward}); err != nil {
			return err
		}
	}
	back := 2 * firstTurns
	if t.gap.begun {
		back += firstTurns // the first turn was asked for twice
	}
	for range mostTurns {
		t.way = t.way.Other()
		over, err := t.turnOn(ctx, passing{phase: phaseEdges, act: stream.TurnOn, turns: back, enough: t.lobes.outward})
		if over || err != nil {
			return err
		}
		t.lobes.top -= stepDownDB
	}
	return noChange()
}

// passing is a turn over the top. Before the top is known, turns have a stated size: beyond the
// top nothing shows how far the head has gone.
type passing struct {
	phase  string
	act    stream.Act
	turns  float64
	first  bool
	enough func() bool
}

// firstTurns of the screw tilt a head by 20 to 200', by the limits of a real mount.
const firstTurns = 0.5

// turnOn asks for a turn and listens until it has come far enough.
// over is false if the turn must have ended before.
func (t *Treble) turnOn(ctx context.Context, p passing) (over bool, err error) {
	g := stream.Guidance{Act: p.act, Way: t.way, Turns: p.turns}
	fast, patience := t.fast(), awaySeconds+patienceSeconds+1.5*t.asLong
	if p.turns > 0 && !p.first {
		patience = 360 * p.turns / slowestDegPerS
		if !t.lobes.tone {
			fast = max(fast, firstSlower)
		}
	}
	t.ask(p.phase, g)
	t.lifted = false
	t.loud.forget()
	begun := t.TapeSeconds()
	defer func() { t.asLong = t.TapeSeconds() - begun }()
	t.lobes.turn(begun, p.first)
	slowed, heard, wrongs := begun, begun, 0
	for {
		c, err := t.hear(ctx)
		if err != nil {
			return false, err
		}
		if err := t.save(c.reading, c.at, p.phase, true); err != nil {
			return false, err
		}
		t.show(nil)
		now := t.TapeSeconds()
		if p.turns > 0 && !p.first && now-begun < reverseSeconds {
			continue // the person has not reversed yet, and may still be near the top
		}
		if db, ok := t.loud.add(c); ok {
			t.lobes.hear(db, c.at)
		}
		if p.enough() {
			return true, nil
		}
		if fast > 1 && now-slowed > slowerAgainSeconds {
			fast, slowed = fast/2, now
			t.sayToSlowDown(p.phase)
		}
		switch stale := now - t.lobes.bestAt; {
		case p.first && stale > awaySeconds, t.lobes.seen && stale > patience, p.turns > 0 && now-begun > patience:
			return false, nil
		case now-begun > noTurnSeconds:
			return false, noChange()
		case !t.lobes.seen && now-heard > patience:
			heard = now
			if wrongs++; wrongs%2 == 0 { // it may have come over the top, too fast to be heard
				t.way = t.way.Other()
				t.lobes.top -= stepDownDB
				fast, slowed = 2, now
			}
			t.ask(p.phase, stream.Guidance{Act: stream.WrongWay, Way: t.way})
		}
	}
}

func (t *Treble) sayToSlowDown(phase string) {
	g := stream.Guidance{Act: stream.Slower, Way: t.way, New: true}
	t.Guide(phase, g, words.Of(g))
}

func noChange() error {
	return &session.Stop{Outcome: record.NotFollowing, Say: "the treble did not change as it does when the azimuth screw is turned",
		Do: "see that this is the azimuth screw and that no lacquer holds it, and force nothing; then run align --by-hand again"}
}

// fast is by how many times the last turn over the top was too fast.
func (t *Treble) fast() float64 {
	if t.lobes.width == 0 || t.lobes.first { // the first may not have come over a whole lobe
		return 1
	}
	most := mostProgrammeArcminPerS
	if t.lobes.tone {
		most = mostToneArcminPerS
	}
	seconds := max(t.lobes.width-0.7*t.loud.seconds, 0.2*t.loud.seconds)
	return 2 * t.lossArcmin(t.Plan.DullDB) / seconds / float64(most)
}

// save saves a reading without a delay as a step.
func (t *Treble) save(r record.Reading, at float64, phase string, turning bool) error {
	s := record.Step{N: len(t.steps) + 1, Phase: phase, AtSeconds: at, ScrewDeg: math.NaN(), Turning: turning, Reading: withoutDelay(r)}
	if err := t.Save(record.Entry{Kind: record.KindStep, Step: &s}); err != nil {
		return err
	}
	t.steps = append(t.steps, s)
	t.TellStep(&s)
	return nil
}

// Mark leads over the top to a dull edge on either side, and has both marked.
func (t *Treble) Mark(ctx context.Context) error {
	for len(t.marks) < mostMarks && !t.Finishing() {
		act := stream.Edge
		if len(t.marks) > 0 {
			act = stream.TurnOn
		}
		t.way = t.way.Other()
		if _, err := t.turnOn(ctx, passing{phase: phaseMore, act: act, enough: t.lobes.dull}); err != nil {
			return err
		}
		m, err := t.mark(ctx)
		if err != nil {
			return err
		}
		t.marks = append(t.marks, m)
		if n := len(t.marks); n >= 2 && t.good(t.marks[n-2]) && t.good(m) {
			return nil
		}
		if !t.good(m) {
			t.Tell(phaseMore, "that mark lies too far beyond the dull edge, or not far enough: a new one is made")
		}
	}
	if len(t.marks) < 2 {
		return &session.Stop{Outcome: record.TooUncertain, Say: "both dull edges were not marked", Do: "run align --by-hand again"}
	}
	return nil
}

// good reports whether a mark lies on a flank of the lobe.
func (t *Treble) good(m mark) bool {
	below, most := t.below(m.db), float64(mostToneMarkDB)
	if !t.lobes.tone {
		most = mostProgrammeMarkDB
	}
	return below > leastMarkDB && below < most
}

// mark asks for a mark and listens there with the hands off.
func (t *Treble) mark(ctx context.Context) (mark, error) {
	t.ask(phaseMore, stream.Guidance{Act: stream.Mark})
	t.lifted = true
	r, err := t.listen(ctx, phaseMore, markSeconds)
	return mark{t.way, r.TrebleDB, r.TrebleSDDB}, err
}
