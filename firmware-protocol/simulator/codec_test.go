//go:build outside

package simulator_test

import (
	"bufio"
	"bytes"
	"encoding/hex"
	"errors"
	"io"
	"math/rand/v2"
	"os"
	"os/exec"
	"slices"
	"strings"
	"testing"

	protocol "headtrue/firmware-protocol"
)

// verdicts of firmware/core/frame.h.
const heardFrame = 1

var heard = map[error]byte{
	protocol.ErrStuffing: 2, protocol.ErrShort: 3, protocol.ErrLong: 4, protocol.ErrChecksum: 5,
}

// expect appends the output expected of the C codec, from the Go codec.
func expect(dst []byte, s *protocol.Splitter, wire []byte) []byte {
	s.Feed(wire, func(f protocol.Frame, err error) {
		if err != nil {
			for kind, code := range heard {
				if errors.Is(err, kind) {
					dst = append(dst, code)
				}
			}
			return
		}
		payload := append([]byte{byte(f.Type), f.Seq}, f.Body...)
		crc := protocol.CRC(payload)
		payload = append(payload, byte(crc), byte(crc>>8))
		dst = append(append(dst, heardFrame, byte(len(payload))), payload...)
		at := len(dst)
		dst = f.Append(append(dst, 0))
		dst[at] = byte(len(dst) - at - 1)
	})
	return dst
}

// scramble appends a frame, or a part of one.
func scramble(dst []byte, draw *rand.Rand, body []byte) []byte {
	body = body[:min(len(body), draw.IntN(13))]
	if draw.IntN(20) == 0 {
		body = body[:cap(body)][:draw.IntN(cap(body)+1)]
	}
	bits := draw.Uint64()
	for i := range body {
		body[i] = byte(bits >> (8 * (i % 8)))
		if bits>>(i%61)&3 == 0 {
			body[i] = 0 // zeros are the purpose of stuffing
		}
	}
	at := len(dst)
	dst = protocol.Frame{Type: protocol.Type(bits), Seq: uint8(bits >> 8), Body: body}.Append(dst)
	switch draw.IntN(9) {
	case 0: // a byte is spoilt
		dst[at+draw.IntN(len(dst)-at)] = byte(draw.Uint32())
	case 1: // or lost
		i := at + draw.IntN(len(dst)-at)
		dst = slices.Delete(dst, i, i+1)
	case 2: // or one is added
		dst = slices.Insert(dst, at+draw.IntN(len(dst)-at), byte(draw.Uint32()))
	case 3: // a spoilt checksum or stuffing, the rest unchanged
		dst[len(dst)-2]++
	case 4: // only its end
		dst = slices.Delete(dst, at, len(dst)-min(len(dst)-at, 1+draw.IntN(5)))
	}
	return append(dst, 0)
}

// Ten million frames (fewer with -short), many spoilt: C and Go give the same bytes.
func TestCodecsAgree(t *testing.T) {
	const batch = 2000
	frames := 10_000_000
	if testing.Short() {
		frames /= 25
	}
	cmd := exec.Command(programs.Codec)
	cmd.Stderr = os.Stderr
	in, err := cmd.StdinPipe()
	if err != nil {
		t.Fatal(err)
	}
	out, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	wanted := make(chan []byte, 8)
	go func() { // ends when all is sent
		defer close(wanted)
		defer in.Close()
		draw := rand.New(rand.NewPCG(5, 6))
		body := make([]byte, protocol.MaxPayload-4+8) // some are too long
		var s protocol.Splitter
		for range frames / batch {
			var wire []byte
			for range batch {
				wire = scramble(wire, draw, body)
			}
			want := expect(nil, &s, wire)
			if _, err := in.Write(wire); err != nil {
				return
			}
			wanted <- want
		}
	}()
	told := bufio.NewReaderSize(out, 1<<20)
	var kinds [6]int
	batches := 0
	for want := range wanted {
		got := make([]byte, len(want))
		if _, err := io.ReadFull(told, got); err != nil {
			t.Fatalf("batch %d: the C codec ended early: %v", batches, err)
		}
		if !bytes.Equal(got, want) {
			at := 0
			for got[at] == want[at] {
				at++
			}
			t.Fatalf("batch %d differs at byte %d: C %x, Go %x", batches, at, got[at:min(at+40, len(got))], want[at:min(at+40, len(want))])
		}
		count(&kinds, want)
		batches++
	}
	if rest, err := io.ReadAll(told); len(rest) != 0 || err != nil {
		t.Errorf("the C codec told %d bytes more, %v", len(rest), err)
	}
	if err := cmd.Wait(); err != nil {
		t.Errorf("the C codec ended with %v", err)
	}
	t.Logf("frames %d, bad stuffing %d, short %d, long %d, checksum %d", kinds[1], kinds[2], kinds[3], kinds[4], kinds[5])
	for kind, n := range kinds[1:] {
		if n < frames/1000 {
			t.Errorf("only %d of verdict %d among %d frames", n, kind+1, frames)
		}
	}
}

// count counts the verdicts in the output.
func count(kinds *[6]int, told []byte) {
	for i := 0; i < len(told); i++ {
		kinds[told[i]]++
		if told[i] == heardFrame {
			i += 1 + int(told[i+1])
			i += 1 + int(told[i+1])
		}
	}
}

// The frames of the vectors, by C.
func TestCodecOnTheVectors(t *testing.T) {
	text, err := os.ReadFile("../vectors/frames.txt")
	if err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command(programs.Codec)
	reasons := map[string]byte{"stuffing": 2, "short": 3, "long": 4, "checksum": 5}
	var wire, want []byte
	lines := 0
	for _, line := range strings.Split(string(text), "\n") {
		words := strings.Fields(line)
		if len(words) != 3 || words[0] != "ok" && words[0] != "bad" {
			continue
		}
		sent, err := hex.DecodeString(words[2])
		if err != nil {
			t.Fatal(err)
		}
		wire = append(wire, sent...)
		lines++
		if words[0] == "bad" {
			code, known := reasons[words[1]]
			if !known {
				t.Fatalf("unknown reason in %q", line)
			}
			want = append(want, code)
			continue
		}
		payload, err := hex.DecodeString(words[1])
		if err != nil {
			t.Fatal(err)
		}
		crc := protocol.CRC(payload)
		payload = append(payload, byte(crc), byte(crc>>8)) // the same for the wire
		want = append(append(want, heardFrame, byte(len(payload))), payload...)
		want = append(append(want, byte(len(sent))), sent...)
	}
	cmd.Stdin = bytes.NewReader(wire)
	got, err := cmd.Output()
	if err != nil {
		t.Fatal(err)
	}
	if lines < 10 || !bytes.Equal(got, want) {
		t.Errorf("%d vectors: C tells\n%x\nwant\n%x", lines, got, want)
	}
}
