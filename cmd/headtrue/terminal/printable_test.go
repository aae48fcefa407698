package terminal

import (
	"bytes"
	"encoding/json"
	"strings"
	"testing"
)

func TestControlCharactersAreSpeltOut(t *testing.T) {
	for text, want := range map[string]string{
		"D-104, Müller, ±0.5′ █\tx\n": "D-104, Müller, ±0.5′ █\tx\n",
		"\x1b]0;owned\a":              `\u001b]0;owned\u0007`,
		"\x1b[2Jgone\r":               `\u001b[2Jgone\u000d`,
		"\u009b31m":                   `\u009b31m`, // CSI of C1, in UTF-8
		"\x9b31m":                     `\x9b31m`,   // the same as a byte
		"a\x7f\b":                     `a\u007f\u0008`,
		"a\u202etxt.exe":              `a\u202etxt.exe`,
		"\ufffd":                      `\ufffd`,
	} {
		var got bytes.Buffer
		if n, err := (Printable{&got}).Write([]byte(text)); n != len(text) || err != nil || got.String() != want {
			t.Errorf("%q: %d, %v, %q, want %q", text, n, err, got.String(), want)
		}
	}
}

// A JSON text keeps its meaning after escaping (RFC 8259, section 7).
func TestJSONStaysWhatItWas(t *testing.T) {
	all := strings.Builder{}
	for r := rune(0); r < 0x3000; r++ {
		all.WriteRune(r)
	}
	var got bytes.Buffer
	if err := json.NewEncoder(Printable{&got}).Encode(all.String()); err != nil {
		t.Fatal(err)
	}
	if strings.ContainsFunc(strings.TrimSpace(got.String()), givesOrders) {
		t.Error("control characters are left")
	}
	var back string
	if err := json.Unmarshal(got.Bytes(), &back); err != nil || back != all.String() {
		t.Errorf("%v; read back as something else", err)
	}
}
