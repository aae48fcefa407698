package virtual_test

import (
	"bytes"
	"encoding/hex"
	"fmt"
	"io"
	"os"
	"strings"
	"testing"

	"headtrue/jig/virtual"
)

// rate is frames per second of the virtual jig's clock.
const rate = 48000

// The worked exchange of LINK.md, byte for byte, time for time.
func TestWorkedExchange(t *testing.T) {
	doc, err := os.ReadFile("../../firmware-protocol/LINK.md")
	if err != nil {
		t.Fatal(err)
	}
	v := virtual.New(virtual.Options{})
	line := virtual.Pipe(t.Context(), v)
	defer line.Close()
	replies := 0
	for n, text := range strings.Split(string(doc), "\n") {
		var millis int
		switch {
		case strings.HasPrefix(text, "    > "):
			if _, err := line.Write(unhex(t, text)); err != nil {
				t.Fatal(err)
			}
		case strings.HasPrefix(text, "    < "):
			want := unhex(t, text)
			got := make([]byte, len(want))
			if _, err := io.ReadFull(line, got); err != nil {
				t.Fatal(err)
			}
			if !bytes.Equal(got, want) {
				t.Fatalf("line %d: the jig says % x\nthe document has % x", n+1, got, want)
			}
			replies++
		default:
			if _, err := fmt.Sscanf(text, "    (%d ms pass)", &millis); err == nil {
				v.Advance(millis * rate / 1000)
			}
		}
	}
	if replies < 10 {
		t.Errorf("only %d replies found in LINK.md", replies)
	}
}

func unhex(t *testing.T, line string) []byte {
	t.Helper()
	b, err := hex.DecodeString(strings.ReplaceAll(line[6:], " ", ""))
	if err != nil {
		t.Fatal(err)
	}
	return b
}
