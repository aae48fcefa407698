package help

import (
	"strings"

	"headtrue/sweep/sheet/chars"
)

// Reflow wraps a text. A line with a tab in it is a row of two columns; a line that begins with
// a space or a tab stays as it is; all else is paragraphs, with an empty line between them.
func Reflow(text string, width int) string {
	var out, paragraph []string
	var rows [][2]string
	flush := func() {
		if paragraph != nil {
			out = append(out, chars.WrapTo(strings.Join(paragraph, " "), 0, width))
		}
		if rows != nil {
			out = append(out, Rows(rows, ColumnOf(rows, width), width))
		}
		paragraph, rows = nil, nil
	}
	for _, line := range strings.Split(strings.TrimRight(text, "\n"), "\n") {
		name, about, isRow := strings.Cut(line, "\t")
		isRow = isRow && name != ""
		switch {
		case line == "" || !isRow && strings.ContainsAny(line[:1], " \t"):
			flush()
			out = append(out, line)
		case isRow:
			if paragraph != nil {
				flush()
			}
			rows = append(rows, [2]string{name, about})
		default:
			if rows != nil {
				flush()
			}
			paragraph = append(paragraph, line)
		}
	}
	flush()
	return strings.Join(out, "\n")
}

// ColumnOf is the column of the texts of rows: behind the longest name, but no further than two
// fifths of the width.
func ColumnOf(rows [][2]string, width int) int {
	column := 0
	for _, r := range rows {
		column = max(column, len([]rune(r[0]))+4)
	}
	return min(column, width*2/5)
}

// Rows writes names in one column and texts in another. A name that reaches into the texts has
// a line of its own.
func Rows(rows [][2]string, column, width int) string {
	var lines []string
	for _, r := range rows {
		name := "  " + r[0]
		if r[1] == "" {
			lines = append(lines, name)
			continue
		}
		text := chars.WrapTo(r[1], column, width)
		if n := len([]rune(name)); n+2 <= column {
			lines = append(lines, name+strings.Repeat(" ", column-n)+text)
		} else {
			lines = append(lines, name, strings.Repeat(" ", column)+text)
		}
	}
	return strings.Join(lines, "\n")
}

// examples are command lines. One that is too long goes on in the next line, as a shell reads
// it, before a flag.
func examples(text string, width int) string {
	var lines []string
	for _, line := range strings.Split(text, "\n") {
		for len(line) > width {
			at := strings.LastIndex(line[:width-2], " --")
			if at < 10 {
				break
			}
			lines = append(lines, line[:at]+` \`)
			line = "      " + line[at+1:]
		}
		lines = append(lines, line)
	}
	return strings.Join(lines, "\n")
}
