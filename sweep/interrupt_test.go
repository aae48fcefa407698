package sweep

import (
	"context"
	"errors"
	"io/fs"
	"math"
	"strings"
	"syscall"
	"testing"

	"headtrue/dsp/audio"
	"headtrue/sweep/record"
)

// watched is a source that calls a function before each block.
type watched struct {
	audio.Source
	before func()
}

func (w watched) Next(ctx context.Context) (audio.Block, error) {
	w.before()
	return w.Source.Next(ctx)
}

// An interruption during a move stops the screw at once, the record reports it, and a
// restore after the port is opened again puts the screw back.
func TestRaceInterruptedInTheMiddleOfAMove(t *testing.T) {
	r := newRig(t, toneBench(), 2, Plan{ToneHz: 10000})
	ctx, cancel := context.WithCancel(context.Background())
	defer cancel()
	moves := 0
	r.setup.Sound = watched{r.bench, func() {
		if r.board.Shaft().Moving {
			if moves++; moves == 40 {
				cancel()
			}
		}
	}}
	end, err := Align(ctx, r.setup)
	if err != nil {
		t.Fatal(err)
	}
	if end.Outcome != record.Interrupted {
		t.Fatalf("%s: %s", end.Outcome, end.Say)
	}
	if s := r.board.Shaft(); s.Moving || s.Energised || math.Abs(end.ScrewDeg-s.Microsteps*microstep) > 1e-9 || !end.ScrewCertain {
		t.Errorf("the record says that the screw is at %.2f degrees (certain %v); shaft %+v is at %.2f", end.ScrewDeg, end.ScrewCertain, s, s.Microsteps*microstep)
	}
	r.standsStill(t)
	if r.entries[len(r.entries)-1].Kind != record.KindEnd || r.found().Seated == nil {
		t.Error("the record lacks its end or the as-found state")
	}
	r.setup.Sound = r.bench
	if end := r.restoreAnew(t, r.past(10000), Plan{}); end.Outcome != record.Restored {
		t.Errorf("%s: %s", end.Outcome, end.Say)
	}
	truth := r.bench.Truth()
	if off := truth.TiltArcmin - truth.FoundTiltArcmin; off > 0.6 || off < -0.6 {
		t.Errorf("restored to %.2f' from as found", off)
	}
}

// A record that cannot be written stops the run before the next move, and the caller
// receives the error.
func TestRaceFullDiskStopsTheRun(t *testing.T) {
	r := newRig(t, toneBench(), 2, Plan{ToneHz: 10000})
	moves := 0
	r.setup.Save = func(e record.Entry) error {
		if e.Step != nil && e.Step.N == 5 {
			moves = int(r.board.Shaft().Microsteps)
		}
		if e.Step != nil && e.Step.N >= 5 || moves != 0 {
			return syscall.ENOSPC
		}
		return r.save(e)
	}
	end, err := Align(context.Background(), r.setup)
	if end.Outcome != record.NotSaved || !errors.Is(err, syscall.ENOSPC) {
		t.Errorf("%s (%s), error %v", end.Outcome, end.Say, err)
	}
	// A screw that turns ramps down within v^2/2a: 209 degrees a second are 1860 microsteps,
	// slowed down by 16000 a second: 108.
	if now := int(r.board.Shaft().Microsteps); now < moves || now > moves+110 {
		t.Errorf("the screw went on by %d microsteps after the record failed", now-moves)
	}
	r.standsStill(t)
}

// fullClip is a clip on a disk that is full.
type fullClip struct{ open, add, close error }

func (c fullClip) Add(audio.Block) error { return c.add }
func (c fullClip) Close() error          { return c.close }
func (c fullClip) Name() string          { return "clip" }

// A full disk appears first in a clip, which writes most.
func TestRaceFullDiskShowsInAClip(t *testing.T) {
	full := &fs.PathError{Op: "write", Path: "clip.wav", Err: syscall.ENOSPC}
	for _, clip := range []fullClip{{open: full}, {add: full}, {close: full}} {
		r := newRig(t, toneBench(), 2, Plan{ToneHz: 10000})
		r.setup.Clip = func(string) (Clip, error) { return clip, clip.open }
		end, err := Align(context.Background(), r.setup)
		if err != nil || end.Outcome != record.NotSaved || !strings.Contains(end.Do, "room on the disk") {
			t.Errorf("%+v: %v, %s: %s; %s", clip, err, end.Outcome, end.Say, end.Do)
		}
	}
}

// The state as found is durable before the motor makes its first step.
func TestRaceFoundIsSavedBeforeTheFirstMove(t *testing.T) {
	r := newRig(t, toneBench(), 2, Plan{ToneHz: 10000})
	saved := false
	r.setup.Save = func(e record.Entry) error {
		saved = saved || e.Found != nil
		return r.save(e)
	}
	r.setup.Sound = watched{r.bench, func() {
		if !saved && (r.board.Shaft().Energised || r.board.Shaft().Microsteps != 0) {
			t.Error("the motor was energised or turned before as found was saved")
		}
	}}
	if end, err := Align(context.Background(), r.setup); err != nil || end.Outcome != record.Aligned {
		t.Errorf("%v %s: %s", err, end.Outcome, end.Say)
	}
}
