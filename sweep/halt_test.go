package sweep

import (
	"context"
	"errors"
	"fmt"
	"math"
	"strings"
	"testing"

	"headtrue/dsp/audio"
	"headtrue/jig"
	"headtrue/jig/virtual"
	"headtrue/sweep/bench"
	"headtrue/sweep/record"
	"headtrue/sweep/session"
)

// An end reports that the screw stands still only if that is certain.
func TestNobodyIsToldOfAStopThatIsNotSure(t *testing.T) {
	const stands = "stands still"
	for _, c := range []struct {
		stop error
		say  string
	}{
		{nil, "; the screw stands still"},
		{fmt.Errorf("%w to STOP", jig.ErrNoAnswer), "has not answered STOP"},
		{jig.ErrLinkLost, "has not answered STOP"},
		{jig.ErrOverdue, "still turns"},
		{&jig.RefusedError{Request: "to release the motor", Code: jig.IsMoving}, "could not be stopped"},
	} {
		end := session.EndOf(&session.Halted{Cause: fmt.Errorf("asking: %w", context.Canceled), Stop: c.stop})
		if end.Outcome != record.Interrupted || !strings.Contains(end.Say, c.say) {
			t.Errorf("%v: %s: %q, want %q", c.stop, end.Outcome, end.Say, c.say)
		}
		if cut := strings.Contains(end.Do, "cut the motor's supply"); cut != (c.stop != nil) {
			t.Errorf("%v: do %q", c.stop, end.Do)
		}
	}
	if end := session.EndOf(context.Canceled); strings.Contains(end.Say, stands) {
		t.Errorf("%q before anybody stopped it", end.Say)
	}
}

// A board that hangs with its motor turning does not execute STOP; the end reports that.
func TestRaceStopWithoutAnswerIsTold(t *testing.T) {
	p := toneBench()
	p.JigFaults = []bench.JigFault{{Kind: virtual.FaultHang, AtStep: 300}}
	r := newRig(t, p, 2, Plan{ToneHz: 10000})
	end, err := Align(context.Background(), r.setup)
	if err != nil {
		t.Fatal(err)
	}
	if end.Outcome != record.LinkLost || end.ScrewCertain || !strings.Contains(end.Say, "has not answered STOP") || !strings.Contains(end.Do, "cut the motor's supply") {
		t.Errorf("%s, screw certain %v: %q, %q", end.Outcome, end.ScrewCertain, end.Say, end.Do)
	}
}

// chunked is sound in chunks of several blocks, as from a pipe that is filled in large
// pieces.
type chunked struct {
	audio.Source
	blocks int
}

func (c chunked) Next(ctx context.Context) (audio.Block, error) {
	var whole audio.Block
	for i := range c.blocks {
		b, err := c.Source.Next(ctx)
		if err != nil {
			return b, err
		}
		if i == 0 {
			whole.Start = b.Start
		}
		whole.Arrived = b.Arrived
		whole.Left, whole.Right = append(whole.Left, b.Left...), append(whole.Right, b.Right...)
	}
	return whole, nil
}

// Sound in chunks of half a second is cut into cells like any other.
func TestRaceSoundInChunksIsCutIntoCells(t *testing.T) {
	r := newRig(t, toneBench(), 1, Plan{ToneHz: 10000})
	r.setup.Sound = chunked{r.bench, 24}
	end, err := Align(context.Background(), r.setup)
	if off := r.bench.Truth().ErrorArcmin; err != nil || end.Outcome != record.Aligned || math.Abs(off) > 1 {
		t.Errorf("%v, %s: %q, %.2f' off", err, end.Outcome, end.Say, off)
	}
}

// Sound in chunks of more than a second keeps the host from asking the jig in time. That is
// no fault of the jig, and nothing binds.
func TestRaceSoundInLargeChunksIsNamed(t *testing.T) {
	r := newRig(t, toneBench(), 1, Plan{ToneHz: 10000})
	slow := jigProfile()
	slow.SpeedDegPerS = 20
	r.jig.Close()
	r.openAs(t, slow)
	r.setup.Sound = chunked{r.bench, 60} // 1.3 s
	end, err := Align(context.Background(), r.setup)
	if err != nil || end.Outcome != record.JigStopped || !strings.Contains(end.Say, "sound did not arrive for half a second") || !strings.Contains(end.Do, "smaller") {
		t.Errorf("%v, %s: %q, %q", err, end.Outcome, end.Say, end.Do)
	}
}

// A check that breaks off ends with the words of its outcome and with the motor off.
func TestRaceCheckThatBreaksOffHasItsOutcome(t *testing.T) {
	p := toneBench()
	p.JigFaults = []bench.JigFault{{Kind: virtual.FaultStall, AtStep: 100}}
	r := newRig(t, p, 1, Plan{ToneHz: 10000})
	_, err := Ready(context.Background(), r.setup)
	var stopped *jig.StoppedError
	if end := session.EndOf(err); !errors.As(err, &stopped) || end.Outcome != record.JigStopped || end.Say == "" || end.Do == "" {
		t.Errorf("%v: %+v", err, end)
	}
	if s := r.board.Shaft(); s.Energised || s.Moving {
		t.Errorf("after the check the shaft is %+v", s)
	}
}

// A save that blocks while the screw turns keeps the run from asking the jig. The jig stops
// by itself within 0.8 s, a ramp of 0.1 s included.
func TestSaveThatBlocksLetsTheJigStop(t *testing.T) {
	t.Parallel()
	r := newRig(t, toneBench(), 1, Plan{ToneHz: 10000})
	slow := jigProfile()
	slow.SpeedDegPerS = 20
	r.jig.Close()
	r.openAs(t, slow)
	blocked := false
	r.setup.Save = func(e record.Entry) error {
		if e.Step == nil || blocked || !r.board.Shaft().Moving {
			return r.save(e)
		}
		blocked = true
		r.time.Advance(bench.Rate * 8 / 10)
		if s := r.board.Shaft(); s.Moving {
			t.Errorf("0.8 s into the save %+v; want standing", s)
		}
		return r.save(e)
	}
	end, err := Align(context.Background(), r.setup)
	if err != nil || !blocked {
		t.Fatalf("%v; the save has blocked: %v", err, blocked)
	}
	if off := math.Abs(r.bench.Truth().ErrorArcmin); end.Outcome == record.Aligned && off > 1 {
		t.Errorf("%s: %q, %.2f' off", end.Outcome, end.Say, off)
	}
	r.standsStill(t)
}
