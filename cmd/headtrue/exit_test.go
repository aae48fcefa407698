package main

import (
	"go/ast"
	"go/parser"
	"go/token"
	"path/filepath"
	"strconv"
	"testing"

	"headtrue/sweep/record"
)

// outcomes reads the constants of type Outcome out of the source of package
// record, so that a new one cannot be forgotten here.
func outcomes(t *testing.T) []record.Outcome {
	t.Helper()
	file, err := parser.ParseFile(token.NewFileSet(), filepath.Join("..", "..", "sweep", "record", "record.go"), nil, 0)
	if err != nil {
		t.Fatal(err)
	}
	var list []record.Outcome
	ast.Inspect(file, func(n ast.Node) bool {
		spec, ok := n.(*ast.ValueSpec)
		if !ok || len(spec.Values) != 1 {
			return true
		}
		if name, ok := spec.Type.(*ast.Ident); ok && name.Name == "Outcome" {
			text, err := strconv.Unquote(spec.Values[0].(*ast.BasicLit).Value)
			if err != nil {
				t.Fatal(err)
			}
			list = append(list, record.Outcome(text))
		}
		return true
	})
	return list
}

func TestEveryOutcomeHasItsOwnExitCode(t *testing.T) {
	all := outcomes(t)
	if len(all) < 20 {
		t.Fatalf("only %d outcomes found in the source", len(all))
	}
	listed := map[record.Outcome]int{}
	codes := map[int]record.Outcome{}
	for _, e := range exits {
		if e.outcome == "" {
			continue
		}
		listed[e.outcome]++
		if other, taken := codes[e.code]; taken && e.code > exitUsage {
			t.Errorf("code %d stands for %q and %q", e.code, other, e.outcome)
		}
		codes[e.code] = e.outcome
	}
	for _, o := range all {
		if listed[o] != 1 {
			t.Errorf("outcome %q stands in the table %d times", o, listed[o])
		}
	}
	for _, good := range goodEnds {
		if exitOf(good) != exitGood {
			t.Errorf("%q is a good end with code %d", good, exitOf(good))
		}
	}
	if got := exitOf("never heard of"); got != exitUnexpected {
		t.Errorf("an unknown outcome has code %d, want %d", got, exitUnexpected)
	}
}
