package terminal

import (
	"fmt"
	"headtrue/sweep/sheet/chars"
	"strings"
)

// Panel shows some lines of standard output that are written over as a whole. If no line can be
// written over it shows nothing.
type Panel struct {
	To    *Results
	shown int // lines, the cursor being after the last
}

// Show writes the lines in place of the last ones. Those that the terminal is too low or too
// narrow for are cut.
func (p *Panel) Show(lines []Line) error {
	if !p.To.Rewrites {
		return nil
	}
	if rows := p.To.Rows(); rows > 0 && len(lines) >= rows {
		lines = lines[:rows-1]
	}
	var b strings.Builder
	if p.shown > 0 {
		fmt.Fprintf(&b, "\r\x1b[%dA", p.shown) // ECMA-48, CUU
	}
	for _, line := range lines {
		b.WriteString(p.To.paint(chars.Cut(p.To.show(line.Text), p.To.Columns()), line.Colour))
		b.WriteString("\x1b[K\n")
	}
	if p.shown > len(lines) {
		b.WriteString("\x1b[J") // ED: what is left of a higher panel
	}
	p.shown = len(lines)
	return p.To.write(b.String())
}

// Line is a line of a panel.
type Line struct {
	Text   string
	Colour Colour
}
