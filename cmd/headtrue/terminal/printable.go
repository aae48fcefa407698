package terminal

import (
	"fmt"
	"io"
	"strings"
	"unicode"
	"unicode/utf8"
)

// Printable writes text with its control characters escaped, so that a label, a note or a
// file's name cannot control the terminal that shows it. The escapes within JSON are those of
// JSON: such a text keeps its meaning.
type Printable struct{ To io.Writer }

// Write implements io.Writer. A character that is split between two writes is escaped byte by
// byte.
func (p Printable) Write(text []byte) (int, error) {
	if _, err := io.WriteString(p.To, spelt(string(text))); err != nil {
		return 0, err
	}
	return len(text), nil
}

// spelt returns a text with each control character except new line and tabulator as \u001b,
// and each byte that is not UTF-8 as \x9b.
func spelt(text string) string {
	if !strings.ContainsFunc(text, givesOrders) {
		return text
	}
	var b strings.Builder
	for i, r := range text {
		switch _, size := utf8.DecodeRuneInString(text[i:]); {
		case strings.HasPrefix(text[i:], "\r\n"): // a new line for a terminal in raw mode
			b.WriteRune(r)
		case r == utf8.RuneError && size == 1:
			fmt.Fprintf(&b, `\x%02x`, text[i])
		case givesOrders(r):
			fmt.Fprintf(&b, `\u%04x`, r)
		default:
			b.WriteRune(r)
		}
	}
	return b.String()
}

// givesOrders reports whether a terminal may act on a character instead of showing it: ISO
// 6429 has C0 and C1, and Unicode has characters that reverse the order of the next ones
// (UAX 9).
func givesOrders(r rune) bool {
	switch {
	case r == '\n' || r == '\t':
		return false
	case r >= '\u202a' && r <= '\u202e', r >= '\u2066' && r <= '\u2069', r == utf8.RuneError:
		return true
	}
	return unicode.IsControl(r)
}
