package chars

import "strings"

// Wrap breaks a text at spaces so that it stays within Width when it begins at a column, and
// indents the lines that follow to that column.
func Wrap(text string, column int) string { return WrapTo(text, column, Width) }

// WrapTo is Wrap for another width.
func WrapTo(text string, column, width int) string {
	var b strings.Builder
	at := column
	for i, word := range strings.Fields(text) {
		n := len([]rune(word))
		switch {
		case i == 0:
		case at+1+n > width:
			b.WriteString("\n" + strings.Repeat(" ", column))
			at = column
		default:
			b.WriteByte(' ')
			at++
		}
		b.WriteString(word)
		at += n
	}
	return b.String()
}

// Cut returns the first n characters of a text.
func Cut(s string, n int) string {
	if r := []rune(s); len(r) > n {
		return string(r[:n])
	}
	return s
}
