package protocol_test

import (
	"bufio"
	"bytes"
	"encoding/hex"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"

	protocol "headtrue/firmware-protocol"
)

// vector is one line of a file in vectors.
type vector struct {
	ok     bool
	reason string
	data   []byte
	wire   []byte
}

func vectors(t testing.TB, name string) []vector {
	t.Helper()
	f, err := os.Open(filepath.Join("vectors", name))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	var all []vector
	lines := bufio.NewScanner(f)
	for lines.Scan() {
		fields := strings.Fields(lines.Text())
		if len(fields) == 0 || fields[0] == "#" {
			continue
		}
		if len(fields) != 3 || fields[0] != "ok" && fields[0] != "bad" {
			t.Fatalf("%s: line %q", name, lines.Text())
		}
		v := vector{ok: fields[0] == "ok", reason: fields[1], wire: unhex(t, fields[2])}
		if v.ok {
			v.data = unhex(t, fields[1])
		}
		all = append(all, v)
	}
	if err := lines.Err(); err != nil {
		t.Fatal(err)
	}
	if len(all) == 0 {
		t.Fatalf("%s holds no vectors", name)
	}
	return all
}

func unhex(t testing.TB, text string) []byte {
	t.Helper()
	b, err := hex.DecodeString(strings.Trim(text, "-"))
	if err != nil {
		t.Fatalf("%q: %v", text, err)
	}
	return b
}

// The files state the sources of the expected values.
func TestStuffingVectors(t *testing.T) {
	for _, v := range vectors(t, "cobs.txt") {
		got, err := protocol.AppendUnstuffed(nil, v.wire)
		if !v.ok {
			if err == nil {
				t.Errorf("% x was taken as % x; want refused: %s", v.wire, got, v.reason)
			}
			continue
		}
		if err != nil || !bytes.Equal(got, v.data) {
			t.Errorf("% x gave % x, %v; want % x", v.wire, got, err, v.data)
		}
		if got := protocol.AppendStuffed(nil, v.data); !bytes.Equal(got, v.wire) {
			t.Errorf("% x stuffed gave % x; want % x", v.data, got, v.wire)
		}
	}
}

func TestChecksumVectors(t *testing.T) {
	for _, v := range vectors(t, "crc.txt") {
		if got := protocol.CRC(v.data); got != uint16(v.wire[0])<<8|uint16(v.wire[1]) {
			t.Errorf("checksum of % x is %04x; want % x", v.data, got, v.wire)
		}
	}
}

func TestFrameVectors(t *testing.T) {
	reasons := map[string]error{
		"checksum": protocol.ErrChecksum, "short": protocol.ErrShort,
		"stuffing": protocol.ErrStuffing, "long": protocol.ErrLong,
	}
	for _, v := range vectors(t, "frames.txt") {
		var got protocol.Frame
		var err error
		calls := 0
		var s protocol.Splitter
		s.Feed(v.wire, func(f protocol.Frame, e error) { got, err = f, e; calls++ })
		if calls != 1 {
			t.Errorf("% x: %d frames; want 1", v.wire, calls)
		}
		if !v.ok {
			if want := reasons[v.reason]; want == nil || !errors.Is(err, want) {
				t.Errorf("% x: %v; want %s", v.wire, err, v.reason)
			}
			continue
		}
		want := protocol.Frame{Type: protocol.Type(v.data[0]), Seq: v.data[1], Body: v.data[2:]}
		if err != nil || got.Type != want.Type || got.Seq != want.Seq || !bytes.Equal(got.Body, want.Body) {
			t.Errorf("% x: %v, %v; want %v", v.wire, got, err, want)
		}
		if wire := want.Append(nil); !bytes.Equal(wire, v.wire) {
			t.Errorf("%v went out as % x; want % x", want, wire, v.wire)
		}
	}
}

// Settings in the vectors, which another language made, field by field.
func TestSettingsVector(t *testing.T) {
	want := protocol.Settings{
		Identity: 0x04030201, Fitted: protocol.FittedStop | protocol.FittedLimits | protocol.FittedSupply, Reversed: true,
		Microsteps: 4, MaxSpeed: 1500, CurrentMilliamps: 250,
	}
	found := 0
	for _, v := range vectors(t, "frames.txt") {
		if !v.ok || protocol.Type(v.data[0])&^protocol.ReplyBit != protocol.TypeConfigure {
			continue
		}
		found++
		if v.data[0] == byte(protocol.TypeConfigure) {
			if got, good, err := protocol.ParseSettings(v.data[2:]); got != want || !good || err != nil || !bytes.Equal(want.Append(nil), v.data[2:]) {
				t.Errorf("settings %s, %v, %v; want %s", got, good, err, want)
			}
		} else if _, got, err := protocol.ParseSettingsReply(v.data[2:]); got.Settings != want || !got.Stored || err != nil {
			t.Errorf("settings in a reply %s, %v; want %s", got, err, want)
		}
	}
	if found != 2 {
		t.Errorf("%d vectors; want a request and a reply", found)
	}
}
