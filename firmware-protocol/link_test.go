package protocol_test

import (
	"bytes"
	"os"
	"strings"
	"testing"

	protocol "headtrue/firmware-protocol"
)

// The worked exchange in LINK.md: each frame decodes to the words below it, and encodes
// to the bytes there.
func TestWorkedExchange(t *testing.T) {
	doc, err := os.ReadFile("LINK.md")
	if err != nil {
		t.Fatal(err)
	}
	lines := strings.Split(string(doc), "\n")
	frames := 0
	for n, line := range lines {
		text := strings.TrimSpace(line)
		if !strings.HasPrefix(line, "    > ") && !strings.HasPrefix(line, "    < ") {
			continue
		}
		wire := unhex(t, strings.ReplaceAll(text[2:], " ", ""))
		words := strings.TrimSpace(lines[n+1])
		if bytes.Equal(wire, []byte{0}) {
			if words != "lone zero" {
				t.Errorf("line %d: %q; want lone zero", n+2, words)
			}
			continue
		}
		frames++
		f, err := protocol.Parse(wire[:len(wire)-1])
		if err != nil {
			t.Errorf("line %d: %v", n+1, err)
			continue
		}
		if f.String() != words {
			t.Errorf("line %d: the frame says %q\nthe words say %q", n+1, f, words)
		}
		if again := f.Append(nil); !bytes.Equal(again, wire) {
			t.Errorf("line %d: goes out as % x", n+1, again)
		}
		if fromJig := f.Type >= protocol.TypeEvent; fromJig != (text[0] == '<') {
			t.Errorf("line %d: wrong direction for %v", n+1, f)
		}
	}
	if frames < 20 {
		t.Errorf("only %d frames found in LINK.md", frames)
	}
}

// The document states the numbers the code uses.
func TestDocumentAgreesWithConstants(t *testing.T) {
	doc, err := os.ReadFile("LINK.md")
	if err != nil {
		t.Fatal(err)
	}
	for _, says := range []string{
		"link: **1.4**", "4 to **64** bytes", "at most\n  66 bytes", "115200 baud", "for 500 ms while the motor turns",
		"for 600 s while the motor stands",
		"after status the first step (4 bytes)", "16 stepped",
	} {
		if !strings.Contains(string(doc), says) {
			t.Errorf("LINK.md no longer says %q", says)
		}
	}
	if protocol.Major != 1 || protocol.Minor != 4 || protocol.MaxPayload != 64 || protocol.MaxWire != 66 ||
		protocol.Baud != 115200 || protocol.SilenceMillis != 500 || protocol.HoldSeconds != 600 {
		t.Error("a constant was changed: change LINK.md and this test with it")
	}
}
