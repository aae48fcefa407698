//go:build outside

package simulator_test

import (
	"context"
	"errors"
	"io"
	"math/rand/v2"
	"testing"
	"time"

	protocol "headtrue/firmware-protocol"
	"headtrue/jig"
	"headtrue/jig/jigtest"
	"headtrue/jig/virtual"
)

// noisy spoils bytes in both directions: one in a hundred is changed, lost or doubled.
type noisy struct {
	io.ReadWriteCloser
	in, out *rand.Rand // one goroutine reads, one writes
	quiet   bool
}

func (n *noisy) spoil(draw *rand.Rand, p []byte) []byte {
	if n.quiet {
		return p
	}
	var q []byte
	for _, b := range p {
		switch draw.IntN(300) {
		case 0:
			q = append(q, b^1<<draw.IntN(8))
		case 1: // lost
		case 2:
			q = append(q, b, b)
		default:
			q = append(q, b)
		}
	}
	return q
}

func (n *noisy) Write(p []byte) (int, error) {
	if _, err := n.ReadWriteCloser.Write(n.spoil(n.out, p)); err != nil {
		return 0, err
	}
	return len(p), nil
}

func (n *noisy) Read(p []byte) (int, error) {
	for {
		got, err := n.ReadWriteCloser.Read(p[:len(p)/2])
		if q := n.spoil(n.in, append([]byte(nil), p[:got]...)); len(q) > 0 || err != nil {
			return copy(p, q), err
		}
	}
}

// Errors in 1 % of all bytes: every order is carried out once, or reported.
func TestLineErrors(t *testing.T) {
	t.Parallel()
	for kind := range kinds {
		t.Run(kind, func(t *testing.T) {
			t.Parallel()
			b := start(t, kind)
			line, err := b.Open(false)
			if err != nil {
				t.Fatal(err)
			}
			n := &noisy{ReadWriteCloser: line, in: rand.New(rand.NewPCG(1, 0)), out: rand.New(rand.NewPCG(2, 0))}
			ctx := t.Context()
			j, err := jig.Open(ctx, n, jig.Profile{StepsPerTurn: 200, Microsteps: 16}, jig.ReplyTimeout(20*time.Millisecond))
			if err != nil {
				t.Fatal(err)
			}
			defer j.Close()
			repeatedly := func(order func() error) { // needed to begin
				for tries := 0; order() != nil; tries++ {
					if tries == 20 {
						t.Fatal("the jig cannot be reached at all")
					}
				}
			}
			repeatedly(func() error { return j.Declare(ctx, 0) })
			repeatedly(func() error { return j.SetWindow(ctx, -7200, 7200) })
			repeatedly(func() error { return j.Energise(ctx) })
			var first jig.Status
			repeatedly(func() (err error) { first, err = j.Status(ctx); return err })
			pass := func(context.Context) error { return b.Pass(30 * time.Millisecond) }
			draw := rand.New(rand.NewPCG(3, 0))
			var declared, unsure, moved, failed int
			position := int32(0) // as known to the host
			for range 60 {
				at := draw.Int32N(2000) - 1000
				field := must(t, b, "run 0").Field
				target := float64(at-j.Zero()) * 360 / 3200
				if _, err := j.MoveTo(ctx, jig.Degrees(target), pass); err == nil {
					moved++
					if made := must(t, b, "run 0").Field - field; made != int64(at-position) {
						t.Fatalf("a move from %d to %d made %d steps", position, at, made)
					}
				} else {
					failed++
					var stopped *jig.StoppedError
					if !errors.Is(err, jig.ErrNoAnswer) && !errors.As(err, &stopped) {
						t.Fatalf("a move ended with %v", err)
					}
					_ = b.Pass(time.Second)
				}
				// the count is declared anew, so that a repeated move would show
				position = draw.Int32N(2000) - 1000
				switch err := j.Declare(ctx, position); {
				case err == nil:
					declared++
				case errors.Is(err, jig.ErrNoAnswer):
					unsure++
					repeatedly(func() error { return j.Declare(ctx, position) })
					declared++
				default:
					t.Fatalf("a declaration ended with %v", err)
				}
			}
			n.quiet = true
			var last jig.Status
			repeatedly(func() (err error) { last, err = j.Status(ctx); return err })
			made := int(last.Epoch - first.Epoch)
			t.Logf("%d moves done, %d reported as failed; %d declarations done, %d unsure, the jig counts %d", moved, failed, declared, unsure, made)
			if made < declared || made > declared+20*unsure || moved < 30 {
				t.Errorf("%d declarations were confirmed and %d unsure; the jig carried out %d; %d moves done", declared, unsure, made, moved)
			}
		})
	}
}

// For any input, the motor makes no step outside the window.
func TestWindowIsNeverLeft(t *testing.T) {
	for kind := range kinds {
		t.Run(kind, func(t *testing.T) {
			t.Parallel()
			const reach = 500
			s := begin(t, kind)
			s.Must(protocol.TypeSetWindow, protocol.Window{Lo: -reach, Hi: reach}.Append(nil))
			draw := rand.New(rand.NewPCG(7, 8))
			zero := must(t, s.board, "run 0").Field
			_ = s.line.Close() // from here on the replies are not read
			var lo, hi int64
			for range 4000 {
				var wire []byte
				target := draw.Int32N(4*reach) - 2*reach
				if draw.IntN(4) == 0 {
					target = []int32{reach, -reach, reach + 1, -reach - 1, 1<<31 - 1, -1 << 31}[draw.IntN(6)]
				}
				move := protocol.Frame{Type: protocol.TypeMove, Seq: uint8(draw.Uint32()), Body: protocol.Move{Target: target, Speed: uint16(draw.Uint32())}.Append(nil)}
				switch draw.IntN(8) {
				case 0:
					wire = protocol.Frame{Type: protocol.TypeStop, Seq: uint8(draw.Uint32()), Body: []byte{byte(draw.IntN(2))}}.Append(nil)
				case 1: // a window that the checksum must reject
					wire = protocol.Frame{Type: protocol.TypeSetWindow, Seq: uint8(draw.Uint32()), Body: protocol.Window{Lo: -1 << 31, Hi: 1<<31 - 1}.Append(nil)}.Append(nil)
					wire[1+draw.IntN(len(wire)-2)] ^= byte(1 + draw.IntN(255))
				case 2:
					for range draw.IntN(80) {
						wire = append(wire, byte(draw.Uint32()))
					}
				case 3: // too long, or too short
					move.Body = append(move.Body, make([]byte, 9)...)[:draw.IntN(16)]
					wire = move.Append(nil)
				default:
					wire = move.Append(nil)
				}
				must(t, s.board, "send %x00", wire)
				now := must(t, s.board, "run %d", 100_000+draw.IntN(2_000_000))
				lo, hi = min(lo, now.Field-zero), max(hi, now.Field-zero)
			}
			t.Logf("from %d to %d, %d steps", lo, hi, must(t, s.board, "run 0").Steps)
			if lo != -reach || hi != reach {
				t.Errorf("the motor went from %d to %d; the window, ±%d, is to be used and kept", lo, hi, reach)
			}
		})
	}
}

// The core and the jig in software give the same replies to the same requests if both
// stand.
func TestCoreAgreesWithTheVirtualJig(t *testing.T) {
	t.Parallel()
	const requests = 10_000
	s := begin(t, "core")
	v := virtual.New(virtual.Options{MaxSpeed: int(s.g.MaxSpeed), Accel: int(s.g.Accel), StartStop: int(s.g.StartStop)})
	other := jigtest.NewClient(t, virtual.Pipe(t.Context(), v))
	other.Greet()
	other.Must(protocol.TypeDeclare, protocol.Declare{}.Append(nil))
	other.Must(protocol.TypeSetWindow, protocol.Window{Lo: -64000, Hi: 64000}.Append(nil))
	other.Must(protocol.TypeEnergise, protocol.Energise{On: true}.Append(nil))
	alike := func(st protocol.Status) protocol.Status {
		st.Micros, st.Cause = 0, 0
		return st
	}
	draw := rand.New(rand.NewPCG(9, 10))
	seen := map[protocol.Code]int{}
	var f protocol.Frame
	for i := range requests {
		if draw.IntN(6) > 0 || i == 0 { // or the one before, repeated
			f = randomRequest(draw)
		}
		s.Raw(f.Append(nil))
		other.Raw(f.Append(nil))
		mine, _ := s.Reply(f)
		theirs, _ := other.Reply(f)
		seen[mine.Code]++
		if mine.Code != theirs.Code || alike(mine.Status) != alike(theirs.Status) {
			t.Fatalf("request %d, %s: the core says %s, %s; the jig in software %s, %s", i, f, mine.Code, mine.Status, theirs.Code, theirs.Status)
		}
		for mine.Status.Moving() {
			s.pass(300 * time.Millisecond)
			v.Advance(48000 * 3 / 10)
			mine.Status, theirs.Status = s.Status(), other.Status()
			if !mine.Status.Moving() && !theirs.Status.Moving() {
				if alike(mine.Status) != alike(theirs.Status) {
					t.Fatalf("after request %d, %s: the core says %s; the jig in software %s", i, f, mine.Status, theirs.Status)
				}
			}
		}
		for theirs.Status.Moving() {
			v.Advance(48000 / 10)
			theirs.Status = other.Status()
		}
	}
	t.Logf("codes %v", seen)
	for _, code := range []protocol.Code{protocol.OK, protocol.OutsideWindow, protocol.NotEnergised, protocol.Malformed, protocol.UnknownType, protocol.BadValue, protocol.BadVersion, protocol.IsEnergised} {
		if seen[code] < requests/500 {
			t.Errorf("%q came only %d times", code, seen[code])
		}
	}
}

func randomRequest(draw *rand.Rand) protocol.Frame {
	near := func() int32 { return draw.Int32N(3000) - 1500 }
	f := protocol.Frame{Seq: uint8(draw.IntN(4)), Type: protocol.Type(1 + draw.IntN(8))}
	switch f.Type {
	case protocol.TypeHello:
		f.Body = protocol.Hello{Major: uint8(1 + draw.IntN(8)/7), Minor: 1}.Append(nil)
		if draw.IntN(3) > 0 {
			f.Type, f.Body = protocol.TypeStatus, nil
		}
	case protocol.TypeMove:
		f.Body = protocol.Move{Target: near(), Speed: uint16(1000 + draw.IntN(9000))}.Append(nil)
	case protocol.TypeStop:
		f.Body = protocol.Stop{Abrupt: draw.IntN(2) == 0}.Append(nil)
	case protocol.TypeEnergise:
		f.Body = protocol.Energise{On: draw.IntN(4) > 0}.Append(nil)
	case protocol.TypeSetWindow:
		f.Body = protocol.Window{Lo: near() - 500, Hi: near() + 500}.Append(nil)
	case protocol.TypeDeclare:
		f.Body = protocol.Declare{Position: near()}.Append(nil)
	case protocol.TypeInspect: // which does nothing: settings instead
		f.Type = protocol.TypeConfigure
		f.Body = protocol.Settings{
			Identity: uint32(draw.IntN(5)), Fitted: protocol.Fitted(draw.IntN(70)), Reversed: draw.IntN(2) == 0,
			Microsteps: []uint16{1, 2, 3, 4, 8, 16, 32, 64, 128}[draw.IntN(9)], MaxSpeed: uint16(draw.IntN(3) * draw.IntN(4000)),
			CurrentMilliamps: uint16(draw.IntN(500)),
		}.Append(nil)
	}
	switch draw.IntN(20) {
	case 0:
		f.Type = protocol.Type(0x10 + draw.IntN(0x30))
	case 1:
		f.Body = f.Body[:len(f.Body)/2]
	case 2:
		f.Body = append(f.Body, 1, 2, 3)
	}
	return f
}
