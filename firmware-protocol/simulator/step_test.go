//go:build outside

package simulator_test

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"
)

// The reported time of the first step, at speeds so low that there is no ramp: after it
// the steps come at even intervals, so it follows from the position in each status.
func TestFirstStepIsWhenItIsTold(t *testing.T) {
	eachKind(t, func(t *testing.T, s *session) {
		const slack, steps = 30, 200 // microseconds
		draw := rand.New(rand.NewPCG(11, 12))
		for _, speed := range []uint16{130, 173} {
			ticks := math.Ceil(2e6 / float64(speed)) // of half a microsecond
			interval := ticks / 2
			from := s.Status().Position
			s.move(from+steps, speed)
			least, most := interval, 0.0
			for r := s.FirstStep(); r.Status.Moving(); r = s.FirstStep() {
				s.pass(time.Duration(draw.IntN(4000)) * time.Microsecond)
				if !r.Status.Stepped() {
					continue
				}
				since := float64(int32(r.Status.Micros - r.FirstStepMicros))
				made := float64(r.Status.Position - from)
				if made < 1+math.Floor((since-slack)/interval) || made > 1+math.Floor((since+slack)/interval) {
					t.Errorf("at %d microsteps/s: %.0f steps %.0f us after the first", speed, made, since)
				}
				phase := math.Mod(since, interval)
				least, most = min(least, phase), max(most, phase)
			}
			t.Logf("at %d microsteps/s: statuses from %.0f us after a step to %.0f us before the next", speed, least, interval-most)
			if least > 200 || interval-most > 200 {
				t.Error("no status came soon after a step and soon before one: the time could be off by as much")
			}
		}
	})
}
