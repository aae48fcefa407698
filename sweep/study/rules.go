package study

import (
	"fmt"
	"slices"
)

// Rule is one of the four tests of the Western Electric Statistical Quality Control
// Handbook (1956), each applied on either side of the centre.
type Rule int

const (
	BeyondThree Rule = iota + 1 // one point beyond 3 sigma
	TwoOfThree                  // two of three points in a row beyond 2 sigma
	FourOfFive                  // four of five points in a row beyond 1 sigma
	EightInARow                 // eight points in a row on one side
)

// AllRules are the four rules. Together they give a false alarm once in about 92 points
// of a steady process (Champ and Woodall 1987), the first alone once in 370.
var AllRules = []Rule{BeyondThree, TwoOfThree, FourOfFive, EightInARow}

// rules holds for each rule how many of how many points are beyond how many sigma.
var rules = map[Rule]struct {
	hits, of int
	sigmas   float64
	words    string
}{
	BeyondThree: {1, 1, 3, "one point beyond 3 sigma"},
	TwoOfThree:  {2, 3, 2, "two of three points beyond 2 sigma"},
	FourOfFive:  {4, 5, 1, "four of five points beyond 1 sigma"},
	EightInARow: {8, 8, 0, "eight points in a row on one side"},
}

// String returns the rule in words.
func (r Rule) String() string {
	if known, ok := rules[r]; ok {
		return known.words
	}
	return fmt.Sprintf("Rule(%d)", int(r))
}

// Finding is a broken rule: on the upper or lower side, completed by the point At, with
// its Points (indices, the last is At).
type Finding struct {
	Rule   Rule
	Above  bool
	At     int
	Points []int
}

// Say returns the finding in words, counting points from 1.
func (f Finding) Say() string {
	side := "below"
	if f.Above {
		side = "above"
	}
	return fmt.Sprintf("point %d: %s, %s the centre", f.At+1, f.Rule, side)
}

// WesternElectric tests values by the given rules, by all four if none is given. It
// returns a finding at each point that completes one, so a long run gives one at every
// further point. A value exactly on a limit is not beyond it.
func WesternElectric(values []float64, center, sigma float64, which ...Rule) []Finding {
	if len(which) == 0 {
		which = AllRules
	}
	var found []Finding
	for at := range values {
		for _, rule := range which {
			for _, above := range []bool{true, false} {
				if points := complete(values, at, center, sigma, rule, above); points != nil {
					found = append(found, Finding{rule, above, at, points})
				}
			}
		}
	}
	return found
}

// complete returns the points of the rule if point at completes it.
func complete(values []float64, at int, center, sigma float64, rule Rule, above bool) []int {
	r := rules[rule]
	var points []int
	for i := max(0, at-r.of+1); i <= at; i++ {
		off := values[i] - center
		if !above {
			off = -off
		}
		if off > r.sigmas*sigma {
			points = append(points, i)
		}
	}
	if len(points) < max(1, r.hits) || !slices.Contains(points, at) {
		return nil
	}
	return points
}
