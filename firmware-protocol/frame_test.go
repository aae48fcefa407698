package protocol_test

import (
	"bytes"
	"errors"
	"math"
	"testing"

	protocol "headtrue/firmware-protocol"
)

// Every length around the block of 254, with zeros at its edges and without.
func TestStuffingAcrossBlockSizes(t *testing.T) {
	for length := range 1030 {
		for _, zero := range []int{-1, 0, length - 1, 252, 253, 254, 255, 507, 508, 509} {
			data := bytes.Repeat([]byte{0xA5}, length)
			if zero >= 0 && zero < length {
				data[zero] = 0
			}
			wire := protocol.AppendStuffed(nil, data)
			if bytes.IndexByte(wire, 0) >= 0 {
				t.Fatalf("length %d, zero at %d: a zero in % x", length, zero, wire)
			}
			if len(wire) > length+1+length/254 {
				t.Fatalf("length %d, zero at %d: %d bytes on the wire", length, zero, len(wire))
			}
			back, err := protocol.AppendUnstuffed(nil, wire)
			if err != nil || !bytes.Equal(back, data) {
				t.Fatalf("length %d, zero at %d: %v", length, zero, err)
			}
		}
	}
}

// A frame of any length passes; one flipped bit anywhere does not.
func TestFramesOfAllLengths(t *testing.T) {
	for length := range protocol.MaxPayload - 4 + 1 {
		f := protocol.Frame{Type: 0x21, Seq: uint8(length), Body: bytes.Repeat([]byte{byte(length)}, length)}
		wire := f.Append(nil)
		if len(wire) > protocol.MaxWire {
			t.Fatalf("body of %d bytes takes %d; at most %d", length, len(wire), protocol.MaxWire)
		}
		if got, err := protocol.Parse(wire[:len(wire)-1]); err != nil || got.Seq != f.Seq || !bytes.Equal(got.Body, f.Body) {
			t.Fatalf("body of %d bytes: %v, %v", length, got, err)
		}
		for bit := range 8 * (len(wire) - 1) {
			wire[bit/8] ^= 1 << (bit % 8)
			if got, err := protocol.Parse(wire[:len(wire)-1]); err == nil {
				t.Fatalf("body of %d bytes, bit %d flipped, was taken as %v", length, bit, got)
			}
			wire[bit/8] ^= 1 << (bit % 8)
		}
	}
	wire := protocol.Frame{Type: 0x21, Body: bytes.Repeat([]byte{1}, protocol.MaxPayload-3)}.Append(nil)
	if got, err := protocol.Parse(wire[:len(wire)-1]); !errors.Is(err, protocol.ErrLong) {
		t.Errorf("a frame one byte too long gave %v, %v; want %v", got, err, protocol.ErrLong)
	}
}

// For any division of a stream, the same frames come out; a spoilt frame has no further
// effect.
func TestSplitterDoesNotCareForChunks(t *testing.T) {
	a := protocol.Frame{Type: 1, Seq: 1, Body: []byte{1, 0}}
	b := protocol.Frame{Type: 3, Seq: 2, Body: []byte{0, 0, 0, 0, 9, 9}}
	stream := a.Append([]byte{0, 0, 7, 7, 0})
	stream = append(append(stream, bytes.Repeat([]byte{3}, 500)...), 0)
	stream = b.Append(stream)
	for chunk := 1; chunk <= len(stream); chunk++ {
		var s protocol.Splitter
		var good, bad int
		for at := 0; at < len(stream); at += chunk {
			s.Feed(stream[at:min(at+chunk, len(stream))], func(f protocol.Frame, err error) {
				if err != nil {
					bad++
				} else if good++; good == 1 && f.Seq != 1 || good == 2 && f.Seq != 2 {
					t.Errorf("chunks of %d: frame %d is %v", chunk, good, f)
				}
			})
		}
		if good != 2 || bad != 2 {
			t.Fatalf("chunks of %d: %d good and %d bad frames; want 2 and 2", chunk, good, bad)
		}
	}
}

// Bodies keep their extreme values, and all truncated bodies are refused.
func TestBodies(t *testing.T) {
	status := protocol.Status{
		Boot: 65535, Micros: math.MaxUint32, Position: math.MinInt32, Target: math.MaxInt32, Flags: 0xFF,
		Memory: protocol.Kept, Epoch: 65534, Reason: protocol.ReasonReset, Cause: protocol.CauseBrownOut,
	}
	greeting := protocol.Greeting{
		Major: 1, Minor: 9, Firmware: "12345678", FirmwareMajor: 2, FirmwareMinor: 3, MicrostepsPerMotorTurn: 1 << 31,
		MaxSpeed: 65535, Accel: 1 << 30, StartStop: 400, CurrentMilliamps: 350,
		Window: protocol.Window{Lo: -1, Hi: 1}, Features: 0xF00F, SilenceMillis: 500,
	}
	body := greeting.Append(protocol.Reply{Code: protocol.OK, Status: status}.Append(nil))
	r, g, err := protocol.ParseGreeting(body)
	if err != nil || r.Status != status || g != greeting {
		t.Errorf("greeting came back as %+v %+v, %v", r, g, err)
	}
	if len(body) > protocol.MaxPayload-4 {
		t.Errorf("the reply to hello has a body of %d bytes; at most %d fit", len(body), protocol.MaxPayload-4)
	}
	for n := range body {
		if _, _, err := protocol.ParseGreeting(body[:n]); err == nil {
			t.Errorf("a greeting cut to %d of %d bytes was taken", n, len(body))
		}
	}
	event := protocol.Event{Kind: protocol.EventStall, Status: status, FirstStepMicros: math.MaxUint32}
	if e, err := protocol.ParseEvent(event.Append(nil)); err != nil || e != event {
		t.Errorf("event came back as %+v, %v", e, err)
	}
	m, err := protocol.ParseMove(protocol.Move{Target: math.MinInt32, Speed: 65535}.Append(nil))
	if err != nil || m != (protocol.Move{Target: math.MinInt32, Speed: 65535}) {
		t.Errorf("move came back as %+v, %v", m, err)
	}
}

// The time of the first step follows the status of its own reply, from a jig of minor 2.
// A jig of minor 1 never sets the flag and sends nothing there.
func TestFirstStepBehindTheStatus(t *testing.T) {
	stepped := protocol.Reply{Status: protocol.Status{Boot: 3, Micros: 7, Flags: protocol.FlagMoving | protocol.FlagStepped}}
	told := protocol.StatusReply{Reply: stepped, FirstStepMicros: 0xFFFFFFFE}
	body := told.Append(nil)
	if want := append(stepped.Append(nil), 0xFE, 0xFF, 0xFF, 0xFF); !bytes.Equal(body, want) {
		t.Errorf("went out as % x; want % x", body, want)
	}
	if r, err := protocol.ParseStatusReply(append(body, 0xAA)); err != nil || r != told || !r.Status.Stepped() {
		t.Errorf("came back as %+v, %v", r, err)
	}
	if r, err := protocol.ParseReply(body); err != nil || r != stepped {
		t.Errorf("as any reply it is %+v, %v", r, err)
	}
	for n := range body {
		if r, err := protocol.ParseStatusReply(body[:n]); !errors.Is(err, protocol.ErrShort) {
			t.Errorf("cut to %d of %d bytes it was taken as %+v, %v", n, len(body), r, err)
		}
	}
	standing := protocol.Reply{Status: protocol.Status{Boot: 3, Flags: 0xFF &^ protocol.FlagStepped}}
	for _, behind := range [][]byte{nil, {1, 2, 3, 4}} { // minor 1, and a time without meaning
		r, err := protocol.ParseStatusReply(append(standing.Append(nil), behind...))
		if err != nil || r != (protocol.StatusReply{Reply: standing}) {
			t.Errorf("not stepped, with % x behind: %+v, %v", behind, r, err)
		}
	}
}

// Values of a newer peer are shown as numbers.
func TestUnknownCodesAreNumbers(t *testing.T) {
	if got := protocol.Code(99).String(); got != "number 99" {
		t.Errorf("code 99 is %q", got)
	}
	if got := protocol.StopReason(8).String(); got != "reset" {
		t.Errorf("reason 8 is %q", got)
	}
}
