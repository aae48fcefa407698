//go:build outside

package simulator_test

import (
	"testing"
	"time"

	protocol "headtrue/firmware-protocol"
)

// Times of the jig at which its 32-bit counters wrap: a count of half microseconds at
// 2^31 us, the link's time at 2^32 us.
var wraps = []uint64{1 << 31, 1 << 32}

// clock is the jig's time by the bench's cycles, which do not wrap.
type clock struct {
	*session
	offset int64 // microseconds
}

func (s *session) clock() clock {
	s.t.Helper()
	c := clock{session: s}
	c.offset = int64(s.Status().Micros) - int64(c.micros())
	return c
}

func (c clock) micros() uint64 {
	return uint64(int64(c.board.State().Cycle/cyclesPerMicrosecond) + c.offset)
}

// until lets time pass until a time of the jig plus beside.
func (c clock) until(micros uint64, beside time.Duration) {
	c.t.Helper()
	c.pass(time.Duration(int64(micros-c.micros()))*time.Microsecond + beside)
}

// ask asks for the status, and checks its time.
func (c clock) ask() protocol.Status {
	c.t.Helper()
	st := c.Status()
	if late := int32(uint32(c.micros()) - st.Micros); late < -5000 || late > 5000 {
		c.t.Errorf("%d us from the start the jig says %d us", c.micros(), st.Micros)
	}
	return st
}

// poll asks every 20 ms until a time of the jig plus beside.
func (c clock) poll(micros uint64, beside time.Duration) protocol.Status {
	c.t.Helper()
	for {
		st := c.ask()
		left := time.Duration(int64(micros-c.micros()))*time.Microsecond + beside
		if left <= 0 {
			return st
		}
		c.pass(min(left, 20*time.Millisecond))
	}
}

// atWraps runs a test on the image and on the core, before each time at which a counter
// wraps.
func atWraps(t *testing.T, test func(c clock, wrap uint64)) {
	t.Helper()
	eachKind(t, func(t *testing.T, s *session) {
		c := s.clock()
		for _, wrap := range wraps {
			c.until(wrap, -500*time.Millisecond)
			s.Must(protocol.TypeEnergise, protocol.Energise{On: true}.Append(nil)) // no request came for a long time
			before := c.ask()
			test(c, wrap)
			if now := c.micros(); now < wrap || now > wrap+10e6 {
				t.Fatalf("the test at %d us ended at %d us", wrap, now)
			}
			if st := c.ask(); st.Boot != before.Boot {
				t.Fatalf("boot count %d after %d", st.Boot, before.Boot)
			}
			s.Must(protocol.TypeDeclare, protocol.Declare{}.Append(nil))
		}
	})
}

// A move ends at its target although the time wraps during it and the host pauses then,
// for less than the allowed silence.
func TestMoveWhileTheTimeGoesRound(t *testing.T) {
	atWraps(t, func(c clock, wrap uint64) {
		const steps = 1500
		made := c.board.State().Steps
		c.move(steps, 1000)
		c.poll(wrap, -150*time.Millisecond)
		c.until(wrap, 150*time.Millisecond)
		for st := c.ask(); ; st = c.poll(c.micros(), 20*time.Millisecond) {
			if !st.Moving() {
				c.want(st, protocol.Kept, protocol.ReasonDone, protocol.CauseExternal)
				if made = c.board.State().Steps - made; st.Position != steps || made != steps {
					c.t.Errorf("arrived at %d with %d steps; want %d", st.Position, made, steps)
				}
				return
			}
		}
	})
}

// A host that falls silent shortly before or after the time wraps: the motor stands half
// a second after its last frame.
func TestSilenceWhileTheTimeGoesRound(t *testing.T) {
	for name, beside := range map[string]time.Duration{"before": -200 * time.Millisecond, "after": time.Millisecond} {
		t.Run(name, func(t *testing.T) {
			atWraps(t, func(c clock, wrap uint64) {
				c.move(30000, 1600)
				if st := c.poll(wrap, beside); !st.Moving() {
					c.t.Errorf("before the silence: %s", st)
				}
				last := c.board.State().Cycle
				c.pass(2 * time.Second)
				after := microseconds(last, c.board.State().LastStep) / 1000
				if after < 450 || after > 550 {
					c.t.Errorf("last step %.0f ms after the last frame; want 450 to 550", after)
				}
				c.want(c.ask(), protocol.Kept, protocol.ReasonSilence, protocol.CauseExternal)
			})
		})
	}
}

// An abrupt stop just after the time has wrapped.
func TestAbruptStopWhileTheTimeGoesRound(t *testing.T) {
	atWraps(t, func(c clock, wrap uint64) {
		c.move(30000, 6000)
		c.poll(wrap, 0)
		if !c.board.State().Stepping() {
			c.t.Error("the motor does not turn")
		}
		begun := c.board.State().Cycle
		c.Must(protocol.TypeStop, protocol.Stop{Abrupt: true}.Append(nil))
		c.pass(100 * time.Millisecond)
		if late := microseconds(begun, c.board.State().LastStep); late > 3000 {
			c.t.Errorf("last step %.0f us after the order was sent", late)
		}
		c.want(c.ask(), protocol.Doubtful, protocol.ReasonOrder, protocol.CauseExternal)
	})
}
