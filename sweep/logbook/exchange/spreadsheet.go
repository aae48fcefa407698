package exchange

import (
	"encoding/json"
	"strings"
)

// startsFormula are the characters that make a spreadsheet treat a cell as a formula
// (OWASP, CSV Injection; from memory), the wide ones of East Asian keyboards included.
const startsFormula = "=+-@\t\r\n＝＋－＠"

// quoteMark before a cell makes a spreadsheet treat it as text.
const quoteMark = "'"

// harmless returns a text as a cell that no spreadsheet computes; meant restores it
// exactly. A text that looks like such a cell gets another mark. A text with a carriage
// return, which CSV readers drop, becomes JSON behind the mark.
func harmless(text string) string {
	if strings.ContainsRune(text, '\r') {
		quoted, _ := json.Marshal(text) // a string never fails
		return quoteMark + string(quoted)
	}
	if bare := strings.TrimLeft(text, quoteMark); opensFormula(bare) || bare != text && strings.HasPrefix(bare, `"`) {
		return quoteMark + text
	}
	return text
}

// meant returns the text from which harmless made a cell.
func meant(cell string) string {
	text, marked := strings.CutPrefix(cell, quoteMark)
	if !marked {
		return cell
	}
	if bare := strings.TrimLeft(text, quoteMark); opensFormula(bare) || bare != text && strings.HasPrefix(bare, `"`) {
		return text
	}
	var quoted string
	if strings.HasPrefix(text, `"`) && json.Unmarshal([]byte(text), &quoted) == nil && strings.ContainsRune(quoted, '\r') {
		return quoted
	}
	return cell // from an older program: plain text
}

// opensFormula reports whether a spreadsheet may compute a cell with this beginning.
func opensFormula(text string) bool {
	return text != "" && strings.ContainsAny(string([]rune(text)[:1]), startsFormula)
}
