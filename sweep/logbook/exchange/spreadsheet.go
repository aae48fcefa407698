package exchange

import (
	"encoding/json"
	"strings"
)

// startsFormula are the characters after which a spreadsheet takes a cell for a formula
// and computes it (OWASP, CSV Injection; from memory), the wide ones of East Asian
// keyboards among them.
const startsFormula = "=+-@\t\r\n＝＋－＠"

// quoteMark before a cell has a spreadsheet take it for text.
const quoteMark = "'"

// harmless is a text as a cell that no spreadsheet computes. meant has it back exactly:
// a text that looks like such a cell gets a mark of its own, and one with a carriage
// return, which readers of CSV drop, is a text of JSON behind the mark.
func harmless(text string) string {
	if strings.ContainsRune(text, '\r') {
		quoted, _ := json.Marshal(text) // a text can always be written so
		return quoteMark + string(quoted)
	}
	if bare := strings.TrimLeft(text, quoteMark); opensFormula(bare) || bare != text && strings.HasPrefix(bare, `"`) {
		return quoteMark + text
	}
	return text
}

// meant is the text whose cell harmless made.
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
	return cell // an older program wrote it: then it is a text like any other
}

// opensFormula says that a spreadsheet may compute a cell that begins so.
func opensFormula(text string) bool {
	return text != "" && strings.ContainsAny(string([]rune(text)[:1]), startsFormula)
}
