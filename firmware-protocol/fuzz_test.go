package protocol_test

import (
	"bytes"
	"os"
	"path/filepath"
	"testing"

	protocol "headtrue/firmware-protocol"
)

// For any input, unstuffing does not panic. Stuffing its output gives the input again,
// except for a needless 01 after a full block.
func FuzzUnstuff(f *testing.F) {
	for _, v := range vectors(f, "cobs.txt") {
		f.Add(v.wire)
	}
	f.Fuzz(func(t *testing.T, wire []byte) {
		data, err := protocol.AppendUnstuffed(nil, wire)
		if err != nil {
			return
		}
		again := protocol.AppendStuffed(nil, data)
		if !bytes.Equal(again, wire) && !bytes.Equal(append(again, 1), wire) {
			t.Errorf("% x was read as % x, which goes out as % x", wire, data, again)
		}
	})
}

// Any data can be sent and are received unchanged.
func FuzzStuff(f *testing.F) {
	for _, v := range vectors(f, "cobs.txt") {
		f.Add(v.data)
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		wire := protocol.AppendStuffed(nil, data)
		back, err := protocol.AppendUnstuffed(nil, wire)
		if bytes.IndexByte(wire, 0) >= 0 || err != nil || !bytes.Equal(back, data) {
			t.Errorf("% x went out as % x and came back as % x, %v", data, wire, back, err)
		}
	})
}

// For any stream, no frame is longer than allowed, each encodes to its input again and
// can be printed, and after a zero a good frame is always read.
func FuzzStream(f *testing.F) {
	for _, v := range vectors(f, "frames.txt") {
		f.Add(v.wire)
	}
	f.Fuzz(func(t *testing.T, stream []byte) {
		var s protocol.Splitter
		s.Feed(stream, func(got protocol.Frame, err error) {
			if err != nil {
				return
			}
			if len(got.Body) > protocol.MaxPayload-4 {
				t.Errorf("a body of %d bytes was taken", len(got.Body))
			}
			if got.String() == "" {
				t.Errorf("no words for % x", got.Append(nil))
			}
			if back, err := protocol.Parse(bytes.TrimSuffix(got.Append(nil), []byte{0})); err != nil ||
				back.Type != got.Type || back.Seq != got.Seq || !bytes.Equal(back.Body, got.Body) {
				t.Errorf("%v came back as %v, %v", got, back, err)
			}
		})
		want := protocol.Frame{Type: protocol.TypeStatus, Seq: 77}
		var last protocol.Frame
		s.Feed(want.Append([]byte{0}), func(f protocol.Frame, _ error) { last = f })
		if last.Type != want.Type || last.Seq != want.Seq {
			t.Errorf("after % x and a zero a good frame was read as %v", stream, last)
		}
	})
}

// Fuzz targets without a corpus pass without any test.
func TestCorpusIsNotEmpty(t *testing.T) {
	for _, target := range []string{"FuzzUnstuff", "FuzzStuff", "FuzzStream"} {
		files, err := filepath.Glob(filepath.Join("testdata", "fuzz", target, "*"))
		if err != nil || len(files) < 5 {
			t.Errorf("%s: %d files in its corpus, %v; want 5 or more", target, len(files), err)
		}
		for _, file := range files {
			text, err := os.ReadFile(file)
			if err != nil || !bytes.HasPrefix(text, []byte("go test fuzz v1\n[]byte(")) {
				t.Errorf("%s is no corpus file: %v", file, err)
			}
		}
	}
}
