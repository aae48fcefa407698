package terminal

import "regexp"

// Colour is one of the eight colours of ISO 6429; "" is none.
type Colour string

// Colours of a verdict. They are never its only sign.
const (
	Green  Colour = "32"
	Yellow Colour = "33"
	Red    Colour = "31"
)

// words matches what of a line is coloured: all but the blanks around.
var words = regexp.MustCompile(`[^ \n](?:[^\n]*[^ \n])?`)

// paint colours a text that is ready to be shown.
func (d Display) paint(text string, c Colour) string {
	if !d.Colour || c == "" {
		return text
	}
	return words.ReplaceAllString(text, "\x1b["+string(c)+"m${0}\x1b[0m")
}

// verdict matches the verdict in a line of a table: of the checks before a run, and of the tests
// of a jig.
var verdict = regexp.MustCompile(`(?m)^((?:  |[a-z][a-z ]{15} ))(pass|ok|doubt|fail|FAILED)( {2,})`)

var verdictColours = map[string]Colour{"pass": Green, "ok": Green, "doubt": Yellow, "fail": Red, "FAILED": Red}

// paintVerdicts colours the verdicts in a table.
func (d Display) paintVerdicts(text string) string {
	if !d.Colour {
		return text
	}
	return verdict.ReplaceAllStringFunc(text, func(line string) string {
		part := verdict.FindStringSubmatch(line)
		return part[1] + d.paint(part[2], verdictColours[part[2]]) + part[3]
	})
}
