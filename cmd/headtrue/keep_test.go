package main

import (
	"encoding/json"
	"math"
	"strconv"
	"strings"

	"github.com/rogpeppe/go-internal/testscript"
)

// ofDeck returns a number of the only deck in a file that bench --keep has written.
func ofDeck(ts *testscript.TestScript, file, key string) float64 {
	var decks struct{ Decks []map[string]any }
	ts.Check(json.Unmarshal([]byte(ts.ReadFile(file)), &decks))
	value, ok := 0.0, false
	if len(decks.Decks) == 1 {
		value, ok = decks.Decks[0][key].(float64)
	}
	if !ok {
		ts.Fatalf("%s has no number %s of one deck", file, key)
	}
	return value
}

// shown FILE KEY VALUE WITHIN compares a number of the deck in a file of bench --keep.
func shown(ts *testscript.TestScript, _ bool, args []string) {
	want, _ := strconv.ParseFloat(args[2], 64)
	within, _ := strconv.ParseFloat(args[3], 64)
	if got := ofDeck(ts, args[0], args[1]); math.Abs(got-want) > within {
		ts.Fatalf("%s: %s is %v, want %v within %v", args[0], args[1], got, want, within)
	}
}

// sameScrew FILE FILE DEGREES compares the places of the screw in two files of bench --keep.
func sameScrew(ts *testscript.TestScript, _ bool, args []string) {
	within, _ := strconv.ParseFloat(args[2], 64)
	if a, b := ofDeck(ts, args[0], "screw_deg"), ofDeck(ts, args[1], "screw_deg"); math.Abs(a-b) > within {
		ts.Fatalf("the screw is at %v degrees, then at %v", a, b)
	}
}

// proposed FILE N runs the N commands that a text proposes: lines that begin with two spaces
// and headtrue, up to three spaces.
func proposed(ts *testscript.TestScript, _ bool, args []string) {
	n := 0
	for line := range strings.Lines(ts.ReadFile(args[0])) {
		if command, ok := strings.CutPrefix(line, "  headtrue "); ok {
			command, _, _ = strings.Cut(strings.TrimSpace(command), "   ")
			ts.Check(ts.Exec("headtrue", strings.Fields(command)...))
			n++
		}
	}
	if strconv.Itoa(n) != args[1] {
		ts.Fatalf("%d commands are proposed, want %s", n, args[1])
	}
}
