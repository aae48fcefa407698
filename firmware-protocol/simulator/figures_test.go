//go:build outside

package simulator_test

import (
	"bytes"
	"debug/elf"
	"io"
	"math/rand/v2"
	"os"
	"testing"
	"time"

	protocol "headtrue/firmware-protocol"
	"headtrue/firmware-protocol/firmware"
	"headtrue/firmware-protocol/simulator"
	"headtrue/jig/jigtest"
)

// session is a board with a host that has declared the position and switched the motor
// on.
type session struct {
	*jigtest.Client
	t     *testing.T
	board *simulator.Board
	line  io.Closer
	g     protocol.Greeting
}

func begin(t *testing.T, kind string) *session {
	t.Helper()
	b := start(t, kind)
	line, err := b.Open(false)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = line.Close() })
	s := &session{Client: jigtest.NewClient(t, line), t: t, board: b, line: line}
	_, s.g = s.Greet()
	s.Must(protocol.TypeDeclare, protocol.Declare{}.Append(nil))
	s.Must(protocol.TypeSetWindow, protocol.Window{Lo: -64000, Hi: 64000}.Append(nil))
	s.Must(protocol.TypeEnergise, protocol.Energise{On: true}.Append(nil))
	return s
}

func (s *session) pass(d time.Duration) {
	s.t.Helper()
	if err := s.board.Pass(d); err != nil {
		s.t.Fatal(err)
	}
}

// move orders a move; speed 0 is the jig's greatest.
func (s *session) move(target int32, speed uint16) protocol.Status {
	s.t.Helper()
	if speed == 0 {
		speed = protocol.FullSpeed
	}
	return s.Must(protocol.TypeMove, protocol.Move{Target: target, Speed: speed}.Append(nil))
}

// arrive polls until the motor stands.
func (s *session) arrive() protocol.Status {
	s.t.Helper()
	for range 10000 {
		if st := s.Status(); !st.Moving() {
			return st
		}
		s.pass(50 * time.Millisecond)
	}
	s.t.Fatal("the motor does not come to stand")
	return protocol.Status{}
}

// microseconds returns the time between two cycles.
func microseconds(from, to uint64) float64 {
	return (float64(to) - float64(from)) / (simulator.CyclesPerSecond / 1e6)
}

const cyclesPerMicrosecond = simulator.CyclesPerSecond / 1_000_000

// The image fits, and a quarter of the data memory that it may use stays free. The limits
// were 8 KB and 512 bytes until link 1.4: settings, their two places in memory, the sense of
// the supply and numbers of counts that never repeat take the difference. The chip has 32 KB,
// of which a boot loader takes 2 at most, and 2048 bytes.
func TestImageFits(t *testing.T) {
	const mostFlash, mostData, stackShare = 10240, 600, 0.75
	f, err := elf.Open(programs.Image)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	size := map[string]int{}
	for _, section := range f.Sections {
		size[section.Name] = int(section.Size)
	}
	flash := size[".text"] + size[".data"]
	data := size[".data"] + size[".bss"] + size[".noinit"]
	_, figures := busyFigures(t)
	t.Logf("flash %d bytes, data %d, deepest stack %d", flash, data, figures["stack"])
	if flash < 1000 || flash >= mostFlash {
		t.Errorf("flash: %d bytes; less than %d wanted", flash, mostFlash)
	}
	if figures["stack"] < 20 {
		t.Errorf("a stack of %d bytes: not measured", figures["stack"])
	}
	if room := mostData - data; float64(figures["stack"]) > stackShare*float64(room) {
		t.Errorf("the stack takes %d of the %d bytes beside the data; a quarter of them must stay free", figures["stack"], room)
	}
}

// busy moves at full speed, to and fro, while the host polls continuously.
func busy(s *session) {
	s.t.Helper()
	for _, target := range []int32{4000, -300, 1500} {
		s.move(target, 0)
		for range 200 {
			if !s.Status().Moving() {
				break
			}
			s.Must(protocol.TypeHello, append(protocol.Hello{Major: 1, Minor: 1}.Append(nil), make([]byte, 50)...))
			s.Must(protocol.TypeInspect, nil)
		}
		s.arrive()
	}
}

// busyFigures returns the figures of an image under load.
func busyFigures(t *testing.T) (*session, map[string]int) {
	t.Helper()
	s := begin(t, "image")
	must(t, s.board, "watch")
	busy(s)
	figures, err := s.board.Figures()
	if err != nil {
		t.Fatal(err)
	}
	return s, figures
}

// No byte is lost: the chip holds two, and the longest interrupt is shorter than the time
// of one on the line, 86.8 us at 115,200 baud. No step waits for long.
func TestInterruptsAreShort(t *testing.T) {
	s, figures := busyFigures(t)
	us := func(name string) float64 { return float64(figures[name]) / cyclesPerMicrosecond }
	t.Logf("step interrupt at most %.1f us, others off for at most %.2f us", us("step-interrupt"), us("other-off"))
	if d := us("step-interrupt"); d < 5 || d >= 80 {
		t.Errorf("step interrupt: %.1f us; less than 80 wanted", d)
	}
	if d := us("other-off"); d <= 0 || d >= 4 {
		t.Errorf("interrupts off outside it: %.2f us; less than 4 wanted", d)
	}
	// drivers need 1 to 2 us (their data sheets, from memory)
	if d := us("shortest-pulse"); d < 2.5 || d > 20 {
		t.Errorf("the shortest pulse lasts %.2f us; more than 2.5 wanted", d)
	}
	reply, body := s.Reply(s.Send(protocol.TypeInspect, nil))
	if _, i, err := protocol.ParseInspection(body); err != nil || reply.Code != protocol.OK || i.Overruns != 0 || i.Dropped != 0 {
		t.Errorf("inspection %+v, %v; want nothing lost", i, err)
	}
}

// A million steps in random moves: the pin makes exactly the counted steps.
func TestPositionIsExact(t *testing.T) {
	for kind := range kinds {
		t.Run(kind, func(t *testing.T) {
			t.Parallel()
			wanted := uint64(1_000_000)
			if testing.Short() {
				wanted /= 10
			}
			s := begin(t, kind)
			s.Must(protocol.TypeSetWindow, protocol.Window{Lo: -20000, Hi: 20000}.Append(nil))
			draw := rand.New(rand.NewPCG(1, 2))
			zero := must(t, s.board, "run 0")
			at := int32(0)
			moves := 0
			for made := uint64(0); made < wanted; moves++ {
				target := draw.Int32N(40001) - 20000
				if draw.IntN(3) == 0 { // short ones, whose ramps meet
					target = max(-20000, min(20000, at+draw.Int32N(40)-20))
				}
				s.move(target, uint16(2000+draw.IntN(5000)))
				if draw.IntN(4) == 0 { // stopped on the way
					s.pass(time.Duration(draw.IntN(300)) * time.Millisecond)
					s.Must(protocol.TypeStop, protocol.Stop{Abrupt: draw.IntN(8) == 0}.Append(nil))
				}
				at = s.arrive().Position
				now := must(t, s.board, "run 0")
				if now.Field-zero.Field != int64(at) {
					t.Fatalf("move %d to %d: counted %d, the pin made %d", moves, target, at, now.Field-zero.Field)
				}
				made = now.Steps - zero.Steps
			}
			t.Logf("%d moves", moves)
		})
	}
}

// From the hold of an input, or the last byte of an order, to the last pulse.
func TestStopsAtOnce(t *testing.T) {
	s := begin(t, "image")
	draw := rand.New(rand.NewPCG(3, 4))
	var worstInput, worstOrder, worstBehind float64
	for range 40 {
		s.move(30000, 0)
		s.pass(200*time.Millisecond + time.Duration(draw.IntN(1000))*time.Microsecond)
		held := must(t, s.board, "hold 1").Cycle
		stopped := must(t, s.board, "run %d", simulator.CyclesPerSecond/100)
		if stopped.LastStep > held {
			worstInput = max(worstInput, microseconds(held, stopped.LastStep))
		}
		if st := s.Status(); st.Moving() || st.Reason != protocol.ReasonStopInput {
			t.Fatalf("after the stop input: %+v", st)
		}
		must(t, s.board, "hold 0")

		for _, behind := range []bool{false, true} {
			s.Must(protocol.TypeDeclare, protocol.Declare{}.Append(nil))
			s.move(30000, 0)
			s.pass(200*time.Millisecond + time.Duration(draw.IntN(1000))*time.Microsecond)
			long := s.Next(protocol.TypeHello, append([]byte{1, protocol.Minor}, make([]byte, protocol.MaxPayload-6)...))
			stop := s.Next(protocol.TypeStop, protocol.Stop{Abrupt: true}.Append(nil))
			order := stop.Append(nil)
			if behind { // a frame of the greatest length, with a reply of the same length
				order = append(long.Append(nil), order...)
			}
			begun := must(t, s.board, "send %x", order).Cycle
			arrived := begun + uint64(len(order))*1500 // a byte on the simulated line
			stopped := must(t, s.board, "run %d", arrived-begun+simulator.CyclesPerSecond/50)
			if behind {
				s.Reply(long)
			}
			s.Reply(stop)
			late := microseconds(arrived, stopped.LastStep)
			if behind {
				worstBehind = max(worstBehind, late)
			} else {
				worstOrder = max(worstOrder, late)
			}
			if st := s.arrive(); st.Reason != protocol.ReasonOrder || st.Memory != protocol.Doubtful {
				t.Fatalf("after the stop order: %+v", st)
			}
		}
		s.Must(protocol.TypeDeclare, protocol.Declare{}.Append(nil))
	}
	t.Logf("stop input to last pulse: at most %.2f us; order to last pulse: %.0f us, behind a long frame %.0f us", worstInput, worstOrder, worstBehind)
	if worstInput >= 5 {
		t.Errorf("stop input to last pulse: %.2f us; less than 5 wanted", worstInput)
	}
	if worstOrder >= 3000 || worstBehind >= 3000 {
		t.Errorf("stop order to last pulse: %.0f us, %.0f behind a long frame; less than 3000 wanted", worstOrder, worstBehind)
	}
}

// At a speed with 200 ms between steps the motor stands some milliseconds after an input
// is held, not only at the next step; a contact that bounces for less than a millisecond
// does not stop it.
func TestInputBetweenSlowSteps(t *testing.T) {
	eachKind(t, func(t *testing.T, s *session) {
		for _, hold := range []int{1, 4} {
			s.move(1000, 5)
			for s.pass(40 * time.Millisecond); must(t, s.board, "run 1600").Steps == 0 || !s.Status().Stepped(); {
			}
			s.pass(60 * time.Millisecond) // a step has just been made; the next is far
			must(t, s.board, "hold %d", hold)
			must(t, s.board, "run 8000") // half a millisecond
			must(t, s.board, "hold 0")
			s.pass(5 * time.Millisecond)
			if st := s.Status(); !st.Moving() {
				t.Errorf("input %d for half a millisecond: %s; want it to go on", hold, st)
			}
			before := must(t, s.board, "hold %d", hold).Steps
			s.pass(4 * time.Millisecond)
			st := s.Status()
			if why := map[int]protocol.StopReason{1: protocol.ReasonStopInput, 4: protocol.ReasonLimit}[hold]; st.Moving() || st.Reason != why || st.Memory != protocol.Kept {
				t.Errorf("input %d held for 4 ms: %s; want standing by %s", hold, st, why)
			}
			must(t, s.board, "hold 0")
			if made := must(t, s.board, "run %d", simulator.CyclesPerSecond).Steps - before; made != 0 {
				t.Errorf("%d steps after the input was let go", made)
			}
		}
	})
}

// A host that falls silent: the motor stands half a second after its last frame, at any
// speed.
func TestSilence(t *testing.T) {
	for kind := range kinds {
		for _, speed := range []uint16{5, 100, 1600, 6000} {
			s := begin(t, kind)
			s.move(30000, speed)
			s.pass(100 * time.Millisecond)
			s.Status()
			last := must(t, s.board, "run 0").Cycle
			standing := must(t, s.board, "run %d", 2*simulator.CyclesPerSecond)
			after := microseconds(last, standing.LastStep) / 1000
			step := 1000 / float64(speed) // the last one may be this long ago
			t.Logf("%s at %d microsteps/s: last step %.0f ms after the last frame", kind, speed, after)
			if after > 550 || after < 450-step {
				t.Errorf("%s at %d microsteps/s: %.0f ms; want 450 to 550, or a step of %.0f ms earlier", kind, speed, after, step)
			}
			if st := s.Status(); st.Moving() || st.Reason != protocol.ReasonSilence || st.Memory != protocol.Kept {
				t.Errorf("%s at %d microsteps/s: then %+v", kind, speed, st)
			}
		}
	}
}

// The image in the program equals the build of the sources, byte for byte.
func TestShippedImageIsOfItsSources(t *testing.T) {
	built, err := os.ReadFile(programs.Hex)
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(built, firmware.Image) {
		t.Error("firmware/jig.hex is not what the sources make: run make image there")
	}
}
