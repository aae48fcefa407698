package virtual_test

import (
	"bytes"
	"math"
	"testing"

	protocol "headtrue/firmware-protocol"
	"headtrue/jig/jigtest"
	"headtrue/jig/virtual"
)

func energised(t *testing.T, v *virtual.Jig) *jigtest.Client {
	t.Helper()
	c := jigtest.NewClient(t, virtual.Pipe(t.Context(), v))
	c.Greet()
	c.Must(protocol.TypeDeclare, protocol.Declare{}.Append(nil))
	c.Must(protocol.TypeSetWindow, protocol.Window{Lo: -64000, Hi: 64000}.Append(nil))
	c.Must(protocol.TypeEnergise, protocol.Energise{On: true}.Append(nil))
	return c
}

func move(c *jigtest.Client, target int32) {
	c.Must(protocol.TypeMove, protocol.Move{Target: target, Speed: protocol.FullSpeed}.Append(nil))
}

// trapezoid returns the distance after t seconds of a move of n microsteps from rest to
// rest, speed at most v, acceleration a: the textbook formula, from the areas under the
// speed instead of from phases.
func trapezoid(t, n, v, a float64) float64 {
	peak := math.Min(v, math.Sqrt(n*a))
	whole := n/peak + peak/a
	t = math.Min(t, whole)
	up := math.Min(t, peak/a)
	down := math.Max(0, t-(whole-peak/a))
	return peak*t - peak*up + a*up*up/2 - a*down*down/2
}

// Each microstep comes in the first frame at or after its time.
func TestStepsFollowTheTrapezoid(t *testing.T) {
	for _, way := range []int32{1, 2, 159, 160, 320, 321, 1600, -1600} {
		v := virtual.New(virtual.Options{})
		c := energised(t, v)
		move(c, way)
		n := math.Abs(float64(way))
		for frame := 1; v.Shaft().Moving; frame++ {
			if frame%9600 == 0 {
				c.Status()
			}
			v.Advance(1)
			made, due := math.Abs(v.Shaft().Microsteps), trapezoid(float64(frame)/rate, n, 1600, 8000)
			if math.Abs(made-math.Floor(due)) > 0 && math.Abs(due-math.Round(due)) > 1e-6 {
				t.Fatalf("move of %d, frame %d: %v microsteps; the formula gives %.6f", way, frame, made, due)
			}
		}
		if got := v.Shaft().Microsteps; got != float64(way) {
			t.Errorf("move of %d ended at %v", way, got)
		}
	}
}

// For any division of the time, every status is equal to the microsecond.
func TestChunksMakeNoDifference(t *testing.T) {
	run := func(chunk int) []byte {
		v := virtual.New(virtual.Options{Faults: []virtual.Fault{
			{Kind: virtual.FaultLostSteps, AtStep: 700}, {Kind: virtual.FaultStopInput, AtSeconds: 2.00001},
		}})
		c := energised(t, v)
		var log []byte
		for poll := range 30 {
			if poll%10 == 0 {
				move(c, int32(900-poll*60))
			}
			if poll == 5 {
				c.Must(protocol.TypeStop, protocol.Stop{}.Append(nil))
			}
			for left := 4800; left > 0; left -= chunk {
				v.Advance(min(chunk, left))
			}
			log = c.Status().Append(log)
			for _, e := range c.Events {
				log = e.Append(log)
			}
		}
		return log
	}
	want := run(1)
	for _, chunk := range []int{7, 48, 1024, 4800} {
		if got := run(chunk); !bytes.Equal(got, want) {
			t.Errorf("chunks of %d frames gave another course than single frames", chunk)
		}
	}
}

// A stop at any time of a move ends on the count, within the distance needed by the
// acceleration, and never beyond the target.
func TestRampedStopAtAnyTime(t *testing.T) {
	for at := 0; at < 60000; at += 997 {
		v := virtual.New(virtual.Options{})
		c := energised(t, v)
		move(c, 1600)
		for left := at; left > 0; left -= 9600 {
			c.Status()
			v.Advance(min(left, 9600))
		}
		from := c.Must(protocol.TypeStop, protocol.Stop{}.Append(nil))
		v.Advance(rate / 4)
		s := c.Status()
		if s.Moving() || s.Position < from.Position || s.Position > min(1600, from.Position+162) {
			t.Fatalf("stop after %d frames at %d ended at %d: %+v", at, from.Position, s.Position, s)
		}
		if v.Shaft().Microsteps != float64(s.Position) || s.Memory != protocol.Kept {
			t.Fatalf("stop after %d frames: count %d %s, shaft %v", at, s.Position, s.Memory, v.Shaft().Microsteps)
		}
	}
}

func BenchmarkAdvance(b *testing.B) {
	v := virtual.New(virtual.Options{Faults: []virtual.Fault{{Kind: virtual.FaultHang, AtSeconds: 1e9}}})
	b.ReportAllocs()
	for b.Loop() {
		v.Advance(1024)
	}
}
