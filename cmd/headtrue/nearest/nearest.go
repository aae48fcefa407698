// Package nearest finds the right name that is closest to a wrong one.
package nearest

import (
	"fmt"
	"strings"
)

// Name is the right name closest to a wrong one; "" if none is near. A name that begins with
// the wrong one is near. Of two that are as close it is the longer: a letter is more often left
// out than put in.
func Name(wrong string, right []string) string {
	wrong = strings.ToLower(wrong)
	best, bestDistance := "", Limit(wrong)+1
	for _, name := range right {
		d := Distance(wrong, strings.ToLower(name))
		if len(wrong) > 1 && strings.HasPrefix(strings.ToLower(name), wrong) {
			d = min(d, 1)
		}
		if d < bestDistance || d == bestDistance && best != "" && len(name) > len(best) {
			best, bestDistance = name, d
		}
	}
	return best
}

// Hint is the end of a message about a wrong name; "" if no right name is near, or if the name
// is right.
func Hint(wrong string, right []string) string {
	if name := Name(wrong, right); name != "" && name != wrong {
		return fmt.Sprintf("; the nearest is %q", name)
	}
	return ""
}

// Limit is the greatest distance at which a name is near: a third of the letters, at least two,
// but never more than half of them.
func Limit(wrong string) int { return min(max(2, len(wrong)/3), (len(wrong)+1)/2) }

// Distance is the smallest number of letters to insert, remove or replace that turns a into b
// (Levenshtein).
func Distance(a, b string) int {
	row := make([]int, len(b)+1)
	for j := range row {
		row[j] = j
	}
	for i := range len(a) {
		diagonal := row[0]
		row[0] = i + 1
		for j := range len(b) {
			cost := diagonal
			if a[i] != b[j] {
				cost++
			}
			diagonal = row[j+1]
			row[j+1] = min(cost, row[j]+1, row[j+1]+1)
		}
	}
	return row[len(b)]
}
