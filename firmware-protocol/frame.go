package protocol

import (
	"encoding/binary"
	"errors"
	"fmt"
)

// Type is the first byte of a frame.
type Type uint8

// Requests, from the host. A reply has the type of its request with bit 7 set.
const (
	TypeHello     Type = 0x01
	TypeStatus    Type = 0x02
	TypeMove      Type = 0x03
	TypeStop      Type = 0x04
	TypeEnergise  Type = 0x05
	TypeSetWindow Type = 0x06
	TypeDeclare   Type = 0x07
	TypeInspect   Type = 0x08
	TypeSettings  Type = 0x09
	TypeConfigure Type = 0x0A
	// TypeEvent is sent by the jig without a request.
	TypeEvent Type = 0x40
	// ReplyBit marks a reply.
	ReplyBit Type = 0x80
)

// Frame is one message before its body is read. For an event, Seq is the
// jig's own running number of events.
type Frame struct {
	Type Type
	Seq  uint8
	Body []byte
}

// Errors of a frame. The receiver drops such a frame and does not answer it.
var (
	ErrStuffing = errors.New("bad byte stuffing")
	ErrShort    = errors.New("frame too short")
	ErrLong     = errors.New("frame too long")
	ErrChecksum = errors.New("checksum does not fit")
)

// Append appends the wire bytes of the frame, closing zero included. The body must not be
// longer than MaxPayload-4 bytes.
func (f Frame) Append(dst []byte) []byte {
	payload := make([]byte, 0, MaxPayload)
	payload = append(payload, byte(f.Type), f.Seq)
	payload = append(payload, f.Body...)
	payload = binary.LittleEndian.AppendUint16(payload, CRC(payload))
	return append(AppendStuffed(dst, payload), 0)
}

// Parse reads one frame from its wire bytes without the closing zero.
func Parse(wire []byte) (Frame, error) {
	if len(wire) > MaxWire-1 {
		return Frame{}, fmt.Errorf("%w: %d bytes", ErrLong, len(wire))
	}
	payload, err := AppendUnstuffed(make([]byte, 0, MaxPayload), wire)
	if err != nil {
		return Frame{}, fmt.Errorf("%w: %v", ErrStuffing, err)
	}
	if len(payload) < 4 {
		return Frame{}, fmt.Errorf("%w: %d bytes", ErrShort, len(payload))
	}
	data, sum := payload[:len(payload)-2], binary.LittleEndian.Uint16(payload[len(payload)-2:])
	if want := CRC(data); sum != want {
		return Frame{}, fmt.Errorf("%w: %04x, computed %04x", ErrChecksum, sum, want)
	}
	return Frame{Type: Type(data[0]), Seq: data[1], Body: data[2:]}, nil
}

// Splitter cuts a stream of bytes into frames at the zeros. Its zero value is ready. It
// may start in the middle of a frame, which then comes out as an error and must be
// dropped.
type Splitter struct {
	buf  []byte
	over bool
}

// Feed takes the bytes p and calls each for every frame that ends in them, in order. It
// ignores empty frames (a lone zero).
func (s *Splitter) Feed(p []byte, each func(Frame, error)) {
	for _, b := range p {
		switch {
		case b == 0:
			s.end(each)
		case len(s.buf) >= MaxWire-1:
			s.over = true
		default:
			s.buf = append(s.buf, b)
		}
	}
}

func (s *Splitter) end(each func(Frame, error)) {
	switch {
	case s.over:
		each(Frame{}, fmt.Errorf("%w: over %d bytes", ErrLong, MaxWire-1))
	case len(s.buf) > 0:
		each(Parse(s.buf))
	}
	s.buf, s.over = s.buf[:0], false
}
