package terminal

import (
	"headtrue/sweep/sheet/chars"
	"os"
	"runtime"
	"strconv"
	"strings"

	"golang.org/x/term"
)

// Display is what an output can show. The zero value is a pipe or a file that takes every
// character.
type Display struct {
	Rewrites bool // a line can be written over another
	Colour   bool // the eight colours of ISO 6429
	ASCII    bool // other characters are replaced
	// size returns the columns of a terminal at this moment, 0 if it does not say so; nil is no
	// terminal.
	size func() int
	rows func() int // the same of its lines; may be nil
}

// Columns between which a layout follows the terminal, and those of an output that does not say
// how wide it is.
const (
	leastColumns = 40
	mostColumns  = 200
	usualColumns = 80
)

// DisplayOf returns what a file can show. By its variables a person chooses: NO_COLOR and
// TERM=dumb take the colours away, the locale the characters beyond ASCII, and COLUMNS says how
// wide an output is that does not say so itself.
func DisplayOf(f *os.File) Display {
	d := Display{ASCII: !takesUnicode()}
	if !term.IsTerminal(int(f.Fd())) {
		return d
	}
	d.size = func() int {
		columns, _, _ := term.GetSize(int(f.Fd()))
		return columns
	}
	d.rows = func() int {
		_, rows, _ := term.GetSize(int(f.Fd()))
		return rows
	}
	d.Rewrites = obeys(f)
	d.Colour = d.Rewrites && os.Getenv("NO_COLOR") == ""
	return d
}

// Terminal reports whether the output is a terminal.
func (d Display) Terminal() bool { return d.size != nil }

// takesUnicode reports whether the locale has more characters than ASCII. A console of Windows
// is written to in UTF-16 and has no locale.
func takesUnicode() bool {
	if runtime.GOOS == "windows" {
		return true
	}
	for _, name := range []string{"LC_ALL", "LC_CTYPE", "LANG"} { // POSIX, 8.2: the first that is set
		if locale := strings.ToLower(os.Getenv(name)); locale != "" {
			return strings.Contains(locale, "utf-8") || strings.Contains(locale, "utf8")
		}
	}
	return false
}

// width returns the columns of the output, 0 if it does not say how wide it is.
func (d Display) width() (columns int) {
	if d.size != nil {
		columns = d.size()
	}
	if columns == 0 {
		columns, _ = strconv.Atoi(os.Getenv("COLUMNS"))
	}
	if columns <= 0 && d.size != nil {
		columns = usualColumns
	}
	if columns <= 0 {
		return 0
	}
	return min(max(columns, leastColumns), mostColumns)
}

// Rows returns how many lines the terminal has, 0 if it does not say so.
func (d Display) Rows() int {
	if d.rows == nil {
		return 0
	}
	return d.rows()
}

// Columns returns how many columns a line may have. The last one of a terminal stays free: some
// begin a new line after it.
func (d Display) Columns() int {
	if columns := d.width(); columns > 0 {
		return columns - 1
	}
	return usualColumns - 1
}

// Wrap breaks a text at spaces so that it stays within the output when it begins at a column,
// and indents the lines that follow to that column. A pipe gets the text in one line.
func (d Display) Wrap(text string, column int) string {
	if d.width() == 0 {
		return text
	}
	return chars.WrapTo(text, column, d.Columns())
}

// fit breaks the lines of a text that are too long for the output. A list's point is indented as
// a whole, and the blank after a question stays.
func (d Display) fit(text string) string {
	if d.width() == 0 {
		return text
	}
	lines := strings.Split(text, "\n")
	for i, line := range lines {
		line, raw := strings.CutSuffix(line, "\r")
		if len([]rune(line)) <= d.Columns() {
			continue
		}
		words := strings.TrimLeft(line, " ")
		first := len(line) - len(words)
		column := first
		for _, point := range []string{"- ", ">> "} {
			if strings.HasPrefix(words, point) {
				column += len(point)
			}
		}
		end := line[len(strings.TrimRight(line, " ")):]
		lines[i] = line[:column] + chars.WrapTo(line[column:], column, d.Columns()) + end
		if raw { // the terminal does not go back to the first column by itself
			lines[i] = strings.ReplaceAll(lines[i], "\n", "\r\n") + "\r"
		}
	}
	return strings.Join(lines, "\n")
}

// show makes a text fit the output: control characters are spelt out, and characters that it
// lacks are replaced.
func (d Display) show(text string) string {
	text = spelt(text)
	if d.ASCII {
		text = plain.Replace(text)
	}
	return text
}

// plain has what stands in place of the characters that the program writes by itself.
var plain = strings.NewReplacer(
	"█", "#", "─", "-", "│", "|", "┊", ":", "╎", "!", "┤", "|", "┴", "+", "└", "+",
	"●", "*", "○", "o", "·", ".", "▲", "^",
	"±", "+-", "′", "'", "°", " deg", "µ", "u", "μ", "u", "²", "^2", "…", "...", "–", "-", "é", "e",
)
