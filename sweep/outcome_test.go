package sweep

import (
	"context"
	"testing"

	"headtrue/jig/virtual"
	"headtrue/sweep/bench"
	"headtrue/sweep/record"
)

// Each fault is put into the virtual bench or its jig. It must end the run with its own
// outcome, a sentence, a remedy, and the motor at rest. The link is a real pseudo-terminal
// throughout.
func TestEveryTroubleHasItsOutcome(t *testing.T) {
	t.Parallel()
	sound := func(kind string, at float64) func(*bench.Profile, *Plan) {
		return func(p *bench.Profile, _ *Plan) {
			p.Faults = append(p.Faults, bench.Fault{Kind: kind, AtSeconds: at})
		}
	}
	board := func(kind string, at float64) func(*bench.Profile, *Plan) {
		return func(p *bench.Profile, _ *Plan) {
			p.JigFaults = append(p.JigFaults, bench.JigFault{Kind: kind, AtSeconds: at})
		}
	}
	for _, c := range []struct {
		name string
		tone bool
		put  func(*bench.Profile, *Plan)
		want record.Outcome
	}{
		{"cable gone", true, board(virtual.FaultCableGone, 12), record.LinkLost},
		{"cable gone in a move", true, func(p *bench.Profile, _ *Plan) {
			p.JigFaults = []bench.JigFault{{Kind: virtual.FaultCableGone, AtStep: 300}}
		}, record.LinkLost},
		{"jig reset in mid-move", true, func(p *bench.Profile, _ *Plan) {
			p.JigFaults = []bench.JigFault{{Kind: virtual.FaultReset, AtStep: 300}}
		}, record.JigReset},
		{"power cut", true, board(virtual.FaultPowerLoss, 12), record.JigReset},
		{"stop button", true, func(p *bench.Profile, _ *Plan) {
			p.JigFaults = []bench.JigFault{{Kind: virtual.FaultStopInput, AtStep: 300}}
		}, record.JigStopped},
		{"limit switch", true, func(p *bench.Profile, _ *Plan) {
			p.JigFaults = []bench.JigFault{{Kind: virtual.FaultLimit, AtStep: 300}}
		}, record.JigStopped},
		{"stall", true, func(p *bench.Profile, _ *Plan) {
			p.JigFaults = []bench.JigFault{{Kind: virtual.FaultStall, AtStep: 300}}
		}, record.JigStopped},
		{"audio stopped", true, sound(bench.AudioStops, 12), record.SoundStopped},
		{"silent from the start", false, func(p *bench.Profile, _ *Plan) {
			p.Faults = []bench.Fault{{Kind: bench.Silence}}
		}, record.Silent},
		{"digital silence in mid-run", true, sound(bench.Silence, 12), record.Silent},
		{"clipped", false, sound(bench.Clipped, 12), record.Clipped},
		{"end of tape", false, sound(bench.TapeEnds, 12), record.TapeEnded},
		{"end of tape, tone", true, sound(bench.TapeEnds, 12), record.TapeEnded},
		{"one channel dead", false, sound(bench.DeadChannel, 12), record.ChannelDead},
		{"one channel inverted", false, func(p *bench.Profile, _ *Plan) {
			p.Faults = []bench.Fault{{Kind: bench.InvertedChannel}}
		}, record.ChannelFlipped},
		{"programme with no treble", false, func(p *bench.Profile, _ *Plan) {
			p.Faults = []bench.Fault{{Kind: bench.NoTreble}}
		}, record.NoTreble},
		{"tone segment over, hiss follows", true, sound(bench.ToneOver, 11), record.ToneOver},
		{"tone segment over, music follows", true, func(p *bench.Profile, _ *Plan) {
			p.Faults = []bench.Fault{{Kind: bench.ToneOver, AtSeconds: 11, Then: "music"}}
		}, record.ToneOver},
		{"lost samples all the time", true, func(p *bench.Profile, _ *Plan) {
			for at := 12.0; at < 20; at += 0.2 {
				p.Faults = append(p.Faults, bench.Fault{Kind: bench.LostSamples, AtSeconds: at, Frames: 480})
			}
		}, record.SoundLost},
		{"automatic gain", true, sound(bench.AGC, 0), record.AutoGain},
		{"travel limit before a dull edge", true, func(p *bench.Profile, plan *Plan) {
			p.Deck.StartTiltArcmin, plan.WindowDeg = 30, 50
		}, record.TravelLimit},
		{"lacquered screw", true, sound(bench.Lacquered, 0), record.NotFollowing},
		{"lacquered screw, programme", false, sound(bench.Lacquered, 0), record.NotFollowing},
		{"slipping coupling", true, func(p *bench.Profile, _ *Plan) {
			p.Faults = []bench.Fault{{Kind: bench.SlippingCoupling, ScrewDeg: 10}}
		}, record.NotFollowing},
		{"blade leaves the slot", true, sound(bench.BladeOut, 10), record.NotFollowing},
		{"wrong screw", true, sound(bench.WrongScrew, 0), record.WrongScrew},
		{"wrong screw, programme", false, sound(bench.WrongScrew, 0), record.WrongScrew},
	} {
		t.Run(c.name, func(t *testing.T) {
			p, plan := bench.Default(), Plan{}
			p.Programme.MusicSeconds = 10 // quick to lay out
			if c.tone {
				p, plan = toneBench(), Plan{ToneHz: 10000}
			}
			c.put(&p, &plan)
			r := newRig(t, p, 1, plan)
			end, err := Align(context.Background(), r.setup)
			if err != nil {
				t.Fatal(err)
			}
			if end.Outcome != c.want {
				t.Errorf("outcome %s (%s), want %s", end.Outcome, end.Say, c.want)
			}
			if end.Say == "" || end.Do == "" {
				t.Errorf("says %q, do %q", end.Say, end.Do)
			}
			if last := r.entries[len(r.entries)-1]; last.End == nil || last.End.Outcome != end.Outcome {
				t.Errorf("the record ends with %q", last.Kind)
			}
			r.standsStill(t)
		})
	}
}
