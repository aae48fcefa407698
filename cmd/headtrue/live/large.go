package live

import (
	"fmt"
	"strings"

	"headtrue/cmd/headtrue/app/listening"
	"headtrue/cmd/headtrue/terminal"
)

// glyphs are the big characters, glyphRows high and six columns wide; the point and the blank
// are as wide, so that nothing jumps.
var glyphs = map[rune][glyphRows]string{
	'0': {"█████", "█   █", "█   █", "█   █", "█████"},
	'1': {"  █  ", " ██  ", "  █  ", "  █  ", "█████"},
	'2': {"█████", "    █", "█████", "█    ", "█████"},
	'3': {"█████", "    █", " ████", "    █", "█████"},
	'4': {"█   █", "█   █", "█████", "    █", "    █"},
	'5': {"█████", "█    ", "█████", "    █", "█████"},
	'6': {"█████", "█    ", "█████", "█   █", "█████"},
	'7': {"█████", "    █", "   █ ", "  █  ", "  █  "},
	'8': {"█████", "█   █", "█████", "█   █", "█████"},
	'9': {"█████", "█   █", "█████", "    █", "█████"},
	'+': {"     ", "  █  ", "█████", "  █  ", "     "},
	'-': {"     ", "     ", "█████", "     ", "     "},
	'.': {"     ", "     ", "     ", " ██  ", " ██  "},
	' ': {"     ", "     ", "     ", "     ", "     "},
}

const glyphRows = 5

// big writes a text of digits, signs and points with big characters, indented.
func big(text string) (rows []string) {
	for row := range glyphRows {
		var b strings.Builder
		b.WriteString("    ")
		for _, r := range text {
			b.WriteString(glyphs[r][row])
			b.WriteString("  ")
		}
		rows = append(rows, strings.TrimRight(b.String(), " "))
	}
	return rows
}

// bigWidth is the number of characters of each big figure: sign, three digits, point, one digit.
const bigWidth = 6

// large is the picture for two metres: 23 lines for a terminal of 80x24.
func (w *View) large(u listening.Update) (lines []terminal.Line) {
	h, s := &w.held, u.Seconds
	text := func(format string, args ...any) {
		lines = append(lines, terminal.Line{Text: fmt.Sprintf(format, args...)})
	}
	figure := func(digits int, signed bool, v *float64) {
		for _, row := range big(number(bigWidth, digits, signed, v)) {
			text("%s", row)
		}
	}
	text("TILT '      %s", w.within(u))
	figure(1, true, h.tilt.steady(u.TiltArcmin, 1, s))
	text("")
	text("TREBLE dB   %s", against(u))
	figure(1, true, h.treble.steady(u.TrebleDB, 1, s))
	text("")
	if u.ToneHz != nil {
		text("SPEED %%     tone %s Hz, flutter %s", number(9, 1, false, h.tone.steady(u.ToneHz, 1, s)), w.flutter(u))
		figure(2, true, h.speed.steady(u.Speed, 2, s))
	} else {
		text("LEVEL dBFS  of the louder channel; no steady tone")
		figure(1, true, h.speed.steady(louder(u), 1, s))
	}
	text("L %s %s %s", bar(u.LevelDBFS[0], 60), number(6, 1, false, h.left.steady(u.LevelDBFS[0], 1, s)), clip(u.Clipped[0]))
	text("R %s %s %s", bar(u.LevelDBFS[1], 60), number(6, 1, false, h.right.steady(u.LevelDBFS[1], 1, s)), clip(u.Clipped[1]))
	found, colour := doubts(u)
	return append(lines, terminal.Line{Text: "sound: " + found, Colour: colour})
}

func louder(u listening.Update) *float64 {
	l, r := u.LevelDBFS[0], u.LevelDBFS[1]
	if l == nil || r != nil && *r > *l {
		return r
	}
	return l
}
