//go:build outside

package simulator_test

import (
	"bytes"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
	"time"

	protocol "headtrue/firmware-protocol"
	"headtrue/firmware-protocol/simulator"
)

// eachKind runs a test on the image and on the core.
func eachKind(t *testing.T, test func(t *testing.T, s *session)) {
	t.Helper()
	for kind := range kinds {
		t.Run(kind, func(t *testing.T) {
			t.Parallel()
			test(t, begin(t, kind))
		})
	}
}

func (s *session) want(st protocol.Status, m protocol.Memory, why protocol.StopReason, cause protocol.ResetCause) {
	s.t.Helper()
	if st.Moving() || st.Memory != m || st.Reason != why || st.Cause != cause {
		s.t.Errorf("%s; want %s, last stop: %s, started by: %s", st, m, why, cause)
	}
}

// stillSteps checks that no step is made for a second.
func (s *session) stillSteps() {
	s.t.Helper()
	before := must(s.t, s.board, "run 0").Steps
	if after := must(s.t, s.board, "run %d", simulator.CyclesPerSecond).Steps; after != before {
		s.t.Errorf("%d steps were made while it should stand", after-before)
	}
}

// A limit at the end to which the motor runs stops it at once; one at the other end does
// not, and the motor may leave a limit.
func TestLimits(t *testing.T) {
	eachKind(t, func(t *testing.T, s *session) {
		must(t, s.board, "at step 2000 hold 4") // the high end, at full speed
		s.move(20000, 0)
		st := s.arrive()
		s.want(st, protocol.Doubtful, protocol.ReasonLimit, protocol.CauseExternal)
		if st.Position != 2000 || st.Flags&protocol.FlagLimitHeld == 0 {
			t.Errorf("stopped at %d, flags %x; want 2000 and the limit held", st.Position, st.Flags)
		}
		s.Refuse(protocol.StopHeld, protocol.TypeMove, protocol.Move{Target: 2100, Speed: protocol.FullSpeed}.Append(nil))
		s.Must(protocol.TypeDeclare, protocol.Declare{Position: 2000}.Append(nil))
		s.move(1900, 500)
		if st = s.arrive(); st.Position != 1900 || st.Reason != protocol.ReasonDone {
			t.Errorf("away from the limit: %s", st)
		}
	})
}

// Causes that end the program during a move: the motor stands, and the memory of the
// position is graded as wanted.
func TestStartsInMotion(t *testing.T) {
	for name, c := range map[string]struct {
		fault string
		want  protocol.Memory
		cause protocol.ResetCause
		guess bool // the position is the last count
		only  string
	}{
		"reset":                            {"restart external", protocol.Doubtful, protocol.CauseExternal, true, ""},
		"reset that a boot loader hid":     {"restart untold", protocol.Doubtful, protocol.CauseUnknown, true, ""},
		"boot loader that clobbered data":  {"restart clobber", protocol.Unknown, protocol.CauseUnknown, false, ""},
		"power loss":                       {"restart power", protocol.Unknown, protocol.CausePower, false, ""},
		"brown-out":                        {"restart brown-out", protocol.Unknown, protocol.CauseBrownOut, false, ""},
		"program that hangs, and watchdog": {"hang", protocol.Doubtful, protocol.CauseWatchdog, true, "image"},
	} {
		for kind := range kinds {
			if c.only != "" && c.only != kind {
				continue
			}
			t.Run(name+"/"+kind, func(t *testing.T) {
				t.Parallel()
				s := begin(t, kind)
				before := s.Status()
				zero := must(t, s.board, "at step 1500 %s", c.fault)
				s.move(20000, 0)
				gone := must(t, s.board, "run %d", simulator.CyclesPerSecond)
				if made := gone.Steps - zero.Steps; made != 1500 {
					t.Errorf("%d steps were made; the fault came at 1500", made)
				}
				if gone.Energised {
					t.Error("the motor is on after the start")
				}
				st, _ := s.Greet()
				s.want(st, c.want, protocol.ReasonReset, c.cause)
				if st.Boot != before.Boot+1 {
					t.Errorf("boot count %d after %d", st.Boot, before.Boot)
				}
				position, epoch := int32(0), before.Epoch+1
				if c.guess {
					epoch--
					// the step at which the fault came may not yet be counted
					if position = st.Position; position < 1499 || position > 1500 {
						t.Errorf("position %d; want the best guess, 1500", position)
					}
				}
				if st.Position != position || st.Epoch != epoch {
					t.Errorf("position %d, epoch %d; want %d, %d", st.Position, st.Epoch, position, epoch)
				}
				s.stillSteps()
			})
		}
	}
}

// A reset right after the motor has stopped, when its memory does not record that yet.
func TestResetRightAfterTheLastStep(t *testing.T) {
	eachKind(t, func(t *testing.T, s *session) {
		s.move(300, 0)
		for must(t, s.board, "run 1600").Steps < 300 {
		}
		must(t, s.board, "run 64000") // its event is sent, its memory is not written
		must(t, s.board, "restart external")
		must(t, s.board, "run %d", settle)
		st, _ := s.Greet()
		s.want(st, protocol.Kept, protocol.ReasonNone, protocol.CauseExternal)
		if st.Position != 300 {
			t.Errorf("position %d; want 300", st.Position)
		}
	})
}

// A reset at any time while the memory is written: the write continues, and the data read
// after it are complete (the board ends its process if the memory is read during a
// write).
func TestResetWhileMemoryIsWritten(t *testing.T) {
	eachKind(t, func(t *testing.T, s *session) {
		s.pass(500 * time.Millisecond)
		declared := false
		for i := range int32(40) {
			before := s.Status().Position
			s.Must(protocol.TypeDeclare, protocol.Declare{Position: 1000 + i}.Append(nil))
			must(t, s.board, "run %d", 1+i*40000) // an entry takes up to 21 writes of 54,400 cycles
			must(t, s.board, "restart external")
			must(t, s.board, "run %d", settle)
			st, _ := s.Greet()
			if st.Memory != protocol.Kept || st.Position != before && st.Position != 1000+i {
				t.Errorf("reset %d cycles after a declaration of %d: %s; it was at %d", 1+i*40000, 1000+i, st, before)
			}
			declared = declared || st.Position == 1000+i
		}
		if !declared {
			t.Error("no declaration has been kept")
		}
	})
}

// ramp.h must match config.h: with a stale one nothing is built, and make renews it.
func TestRampFollowsTheConfiguration(t *testing.T) {
	sources := filepath.Join(t.TempDir(), "firmware")
	if err := os.CopyFS(sources, os.DirFS("../firmware")); err != nil {
		t.Fatal(err)
	}
	config := filepath.Join(sources, "core", "config.h")
	text, err := os.ReadFile(config)
	if err != nil {
		t.Fatal(err)
	}
	text = bytes.Replace(text, []byte("MAX_SPEED 6000U"), []byte("MAX_SPEED 4000U"), 1)
	if err := os.WriteFile(config, text, 0o666); err != nil {
		t.Fatal(err)
	}
	old := time.Now().Add(-time.Hour) // than config.h, even with a coarse clock of files
	if err := os.Chtimes(filepath.Join(sources, "core", "ramp.h"), old, old); err != nil {
		t.Fatal(err)
	}
	motion := filepath.Join(sources, "core", "motion.c")
	said, err := exec.Command("gcc", "-std=gnu99", "-fsyntax-only", motion).CombinedOutput()
	if err == nil || !bytes.Contains(said, []byte("ramp.h was made for another config.h")) {
		t.Errorf("with a stale ramp.h: %v, %s", err, said)
	}
	if said, err := exec.Command("make", "-s", "-C", sources, "core/ramp.h").CombinedOutput(); err != nil {
		t.Fatalf("make: %v, %s", err, said)
	}
	if said, err := exec.Command("gcc", "-std=gnu99", "-fsyntax-only", motion).CombinedOutput(); err != nil {
		t.Errorf("after make: %v, %s", err, said)
	}
}

// A move that is stopped before its first step, while the memory is still being written,
// leaves no record of turning.
func TestStopBeforeTheFirstStep(t *testing.T) {
	eachKind(t, func(t *testing.T, s *session) {
		before := must(t, s.board, "run 0").Steps
		s.Must(protocol.TypeDeclare, protocol.Declare{Position: 77}.Append(nil))
		s.move(500, 0)
		st := s.Must(protocol.TypeStop, protocol.Stop{Abrupt: true}.Append(nil))
		if made := must(t, s.board, "run 0").Steps - before; made != 0 || st.Moving() {
			t.Fatalf("%d steps before the stop, %s: this test comes too late", made, st)
		}
		s.pass(500 * time.Millisecond)
		must(t, s.board, "restart power") // only the memory shows it
		must(t, s.board, "run %d", settle)
		st, _ = s.Greet()
		if st.Reason != protocol.ReasonNone {
			t.Errorf("%s; want no sign of a motion", st)
		}
	})
}

// The newest entry is spoilt, as by a power cut while it was written: the one before
// counts. If all are spoilt the start is like one after a power loss.
func TestMemoryThatIsSpoilt(t *testing.T) {
	const slot, slots = 23, 42
	eachKind(t, func(t *testing.T, s *session) {
		s.pass(100 * time.Millisecond)
		for i := range int32(100) { // twice around the ring
			s.Must(protocol.TypeDeclare, protocol.Declare{Position: i}.Append(nil))
			s.pass(100 * time.Millisecond)
		}
		before := s.Status()
		// two starts, 101 declarations: this gives the slot of the newest
		newest := (before.Boot + 101 - 1) % slots
		must(t, s.board, "spoil %d 170", newest*slot+8)
		must(t, s.board, "restart external")
		must(t, s.board, "run %d", settle)
		st, _ := s.Greet()
		s.want(st, protocol.Kept, protocol.ReasonNone, protocol.CauseExternal)
		if st.Position != 98 || st.Epoch != before.Epoch-1 {
			t.Errorf("position %d, epoch %d; want those of the entry before, 98 and %d", st.Position, st.Epoch, before.Epoch-1)
		}
		for i := range slots {
			must(t, s.board, "spoil %d 170", i*slot+8)
		}
		must(t, s.board, "restart external")
		must(t, s.board, "run %d", settle)
		st, g := s.Greet()
		s.want(st, protocol.Unknown, protocol.ReasonNone, protocol.CauseExternal)
		if st.Boot != 1 || g.Window != protocol.ClosedWindow {
			t.Errorf("boot count %d, window %v; want 1 and a closed window", st.Boot, g.Window)
		}
	})
}

// A screw at its end: the rotor falls back and the count does not include it, unless the
// driver reports it.
func TestStall(t *testing.T) {
	for _, c := range []struct {
		name string
		seen bool
	}{{"without the input", false}, {"with it", true}} {
		for kind := range kinds {
			t.Run(c.name+"/"+kind, func(t *testing.T) {
				s := begin(t, kind)
				if c.seen {
					s.configure(func(set *protocol.Settings) { set.Fitted |= protocol.FittedStall })
				}
				must(t, s.board, "ends -1000 1000")
				s.move(3000, 800)
				st := s.arrive()
				if c.seen {
					s.want(st, protocol.Doubtful, protocol.ReasonStall, protocol.CauseExternal)
					if st.Position < 1016 || st.Position > 1040 {
						t.Errorf("stopped at %d; want soon after 1000", st.Position)
					}
					return
				}
				s.want(st, protocol.Kept, protocol.ReasonDone, protocol.CauseExternal)
				if now := must(t, s.board, "run 0"); st.Position != 3000 || now.Shaft != 1000 {
					t.Errorf("counted %d, the shaft stands at %d; want 3000 and 1000", st.Position, now.Shaft)
				}
			})
		}
	}
}

// Friction makes the rotor lag; it returns to its position from one side only. With
// friction above the motor's torque it does not turn.
func TestFriction(t *testing.T) {
	eachKind(t, func(t *testing.T, s *session) {
		must(t, s.board, "friction 6")
		for _, c := range []struct{ to, shaft int32 }{{500, 494}, {200, 206}, {500, 494}} {
			s.move(c.to, 0)
			s.arrive()
			if now := must(t, s.board, "run 0"); now.Shaft != int64(c.shaft) {
				t.Errorf("at %d the shaft stands at %d; want %d", c.to, now.Shaft, c.shaft)
			}
		}
		must(t, s.board, "friction 40")
		before := must(t, s.board, "run 0").Shaft
		s.move(-2000, 0)
		s.arrive()
		if now := must(t, s.board, "run 0"); now.Shaft < before-64 || now.Shaft > before {
			t.Errorf("with more friction than torque the shaft went from %d to %d", before, now.Shaft)
		}
	})
}

// The encoder is detected, read, and its absence detected.
func TestEncoder(t *testing.T) {
	eachKind(t, func(t *testing.T, s *session) {
		inspect := func() protocol.Inspection {
			t.Helper()
			s.pass(100 * time.Millisecond)
			reply, body := s.Reply(s.Send(protocol.TypeInspect, nil))
			_, i, err := protocol.ParseInspection(body)
			if err != nil || reply.Code != protocol.OK {
				t.Fatalf("inspection: %s, %v", reply.Code, err)
			}
			return i
		}
		if i := inspect(); i.Encoder != protocol.EncoderNone {
			t.Errorf("%s where there is none", i.Encoder)
		}
		must(t, s.board, "encoder 3 0")
		if i := inspect(); i.Encoder != protocol.EncoderOK || i.Angle != 0 {
			t.Errorf("%s; want ok, 0", i)
		}
		if _, g := s.Greet(); g.Features&protocol.FeatureEncoder == 0 {
			t.Errorf("features %x do not name the encoder", g.Features)
		}
		s.move(-800, 0) // a quarter turn back
		s.arrive()
		if i := inspect(); i.Angle != 3*protocol.AnglesPerTurn/4 {
			t.Errorf("angle %d after a quarter turn back; want %d", i.Angle, 3*protocol.AnglesPerTurn/4)
		}
		must(t, s.board, "encoder 1 0")
		if i := inspect(); i.Encoder != protocol.EncoderNoMagnet {
			t.Errorf("%s; want no magnet", i.Encoder)
		}
	})
}
