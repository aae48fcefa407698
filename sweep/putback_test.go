package sweep

import (
	"context"
	"math"
	"slices"
	"strings"
	"testing"

	"headtrue/jig/virtual"
	"headtrue/sweep/bench"
	"headtrue/sweep/estimate"
	"headtrue/sweep/record"
	"headtrue/sweep/session"
)

const undo = "headtrue restore first"

// A run that sets no head puts the screw back if link and count are good, and states its
// position. If they are not, or a person stopped it, the screw stays and the end names the
// way back.
func TestRunsThatSetNoHeadPutItBack(t *testing.T) {
	t.Parallel()
	const bySound, byCount, stands = 1, 5, 0 // arcmin from as found
	for name, c := range map[string]struct {
		tone    bool
		put     func(*bench.Profile, *Plan)
		outcome record.Outcome
		within  float64
	}{
		"travel limit": {true, func(p *bench.Profile, plan *Plan) { p.Deck.StartTiltArcmin, plan.WindowDeg = 30, 50 }, record.TravelLimit, bySound},
		"tone over": {true, func(p *bench.Profile, _ *Plan) {
			p.Faults = []bench.Fault{{Kind: bench.ToneOver, AtSeconds: 11, Then: "music"}}
		}, record.ToneOver, byCount},
		"silence": {true, func(p *bench.Profile, _ *Plan) { p.Faults = []bench.Fault{{Kind: bench.Silence, AtSeconds: 12}} }, record.Silent, byCount},
		"silence for a while": {true, func(p *bench.Profile, _ *Plan) {
			p.Faults = []bench.Fault{{Kind: bench.Silence, AtSeconds: 11.2, ForSeconds: 2}}
		}, record.Silent, bySound},
		"no treble": {false, func(p *bench.Profile, _ *Plan) { p.Faults = []bench.Fault{{Kind: bench.NoTreble}} }, record.NoTreble, bySound},
		"stop button": {true, func(p *bench.Profile, _ *Plan) {
			p.JigFaults = []bench.JigFault{{Kind: virtual.FaultStopInput, AtStep: 900}}
		}, record.JigStopped, stands},
		"blade out": {true, func(p *bench.Profile, _ *Plan) { p.Faults = []bench.Fault{{Kind: bench.BladeOut, AtSeconds: 10}} }, record.NotFollowing, stands},
	} {
		t.Run(name, func(t *testing.T) {
			p, plan := bench.Default(), Plan{}
			p.Programme.MusicSeconds = 10
			if c.tone {
				p, plan = toneBench(), Plan{ToneHz: 10000}
			}
			c.put(&p, &plan)
			r := newRig(t, p, 1, plan)
			defer r.close()
			r.setup.RestoreCommand = undo
			end, err := Align(context.Background(), r.setup)
			if err != nil || end.Outcome != c.outcome {
				t.Fatalf("%v, %s: %s", err, end.Outcome, end.Say)
			}
			truth := r.bench.Truth()
			off := truth.TiltArcmin - truth.FoundTiltArcmin
			if back := c.within > 0; end.PutBack != back || back && math.Abs(off) > c.within {
				t.Errorf("put back %v, %.1f' from as found", end.PutBack, off)
			}
			if heard := c.within == bySound; heard != (end.RestoreCommand == "") || !heard && end.RestoreCommand != undo {
				t.Errorf("the way back is %q", end.RestoreCommand)
			}
			if end.ScrewOffDeg == nil || math.Abs(*end.ScrewOffDeg-truth.ScrewDeg) > 4*end.ScrewOffSDDeg {
				t.Errorf("the screw stands at %.1f degrees; stated %+v", truth.ScrewDeg, end)
			}
			if s := r.board.Shaft(); s.Energised || s.Moving {
				t.Errorf("after the run the shaft is %+v", s)
			}
		})
	}
}

// A person's stop ends the way back, too: the screw stays and the end names the way.
func TestAStopEndsTheWayBack(t *testing.T) {
	p := toneBench()
	p.Deck.StartTiltArcmin = 30
	r := newRig(t, p, 1, Plan{ToneHz: 10000, WindowDeg: 50})
	defer r.close()
	r.setup.RestoreCommand = undo
	ctx, cancel := context.WithCancel(context.Background())
	defer cancel()
	r.setup.Tell = func(e Event) {
		if e.Phase == "put back" {
			cancel()
		}
	}
	end, err := Align(ctx, r.setup)
	if err != nil || end.Outcome != record.TravelLimit || end.PutBack || end.RestoreCommand != undo || !strings.Contains(end.Say, "on the way back") {
		t.Errorf("%v, %+v", err, end)
	}
	truth := r.bench.Truth()
	if math.Abs(truth.ScrewDeg) < 20 || end.ScrewOffDeg == nil || math.Abs(*end.ScrewOffDeg-truth.ScrewDeg) > 4*end.ScrewOffSDDeg {
		t.Errorf("the screw stands at %.1f degrees; stated %+v", truth.ScrewDeg, end)
	}
}

// Position of the screw after a way there and back: by the backlash, and by the part of it
// ahead at first.
func TestWhereAScrewStands(t *testing.T) {
	exact := func(deg float64) session.Known { return session.Known{Of: deg, OK: true} }
	for _, c := range []struct {
		trip            session.Trip
		side            float64
		backlash, first float64
		want            float64
	}{
		{session.Trip{0, 100}, 1, 14, 5, 95}, {session.Trip{0, 100, 50}, 1, 14, 5, 59}, {session.Trip{0, 100, -40, 5}, 1, 14, 5, 0},
		{session.Trip{0, 100, 95}, 1, 14, 5, 95}, {session.Trip{0, -100}, 1, 14, 5, -91}, {session.Trip{0, -100}, -1, 14, 5, -95}, {session.Trip{0, 4}, 1, 14, 5, 0},
	} {
		if deg, sd := c.trip.Stands(c.side, exact(c.backlash), exact(c.first)); math.Abs(deg-c.want) > 1e-9 || sd != estimate.StandingSDDeg {
			t.Errorf("%v home %v: %.2f +-%.2f degrees, want %v", c.trip, c.side, deg, sd, c.want)
		}
	}
	if deg, sd := (session.Trip{0, 100}).Stands(1, session.Known{}, session.Known{}); deg < 85 || deg > 99 || sd < 3 || sd > 12 {
		t.Errorf("with nothing known of the backlash: %.1f +-%.1f degrees", deg, sd)
	}
	var way session.Trip
	for _, deg := range []float64{0, 3, 8, 20, 18, 11, 30} {
		way = way.To(deg)
	}
	if want := []float64{0, 20, 11, 30}; !slices.Equal(way, want) {
		t.Errorf("a way with two turns is kept as %v, want %v", way, want)
	}
}
