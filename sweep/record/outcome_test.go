package record

import (
	"go/ast"
	"go/parser"
	"go/token"
	"strconv"
	"testing"
)

// declared reads the constants of type Outcome from the source, so that a new one cannot be
// forgotten.
func declared(t *testing.T) (list []Outcome) {
	t.Helper()
	file, err := parser.ParseFile(token.NewFileSet(), "record.go", nil, 0)
	if err != nil {
		t.Fatal(err)
	}
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
			list = append(list, Outcome(text))
		}
		return true
	})
	return list
}

// Every outcome has a standing. Which of them put the screw back is a matter of safety:
// those that leave link and count good, and that no person caused.
func TestEveryOutcomeSaysWhereTheScrewStands(t *testing.T) {
	all := declared(t)
	if len(all) < 20 {
		t.Fatalf("only %d outcomes found in the source", len(all))
	}
	for _, o := range all {
		if o.known() < 0 || o.Meaning() == "" {
			t.Errorf("outcome %q does not say where the screw stands, or what it means", o)
		}
	}
	if len(outcomes) != len(all) {
		t.Errorf("%d outcomes have a standing, %d are in the source", len(outcomes), len(all))
	}
	back := map[Outcome]bool{TooUncertain: true, NoTreble: true, TravelLimit: true, Clipped: true, ChannelDead: true,
		ChannelFlipped: true, Silent: true, TapeEnded: true, ToneOver: true, AutoGain: true}
	for _, o := range all {
		if got := o.Standing() == PutBack; got != back[o] {
			t.Errorf("after %q the screw is put back: %v", o, got)
		}
	}
	if s := Outcome("of a newer program").Standing(); s != Stands {
		t.Errorf("an unknown outcome has the standing %v", s)
	}
}

// The result of a run, by the meanings that headtrue help exit-codes prints.
func TestWhatAnOutcomeCameTo(t *testing.T) {
	for o, want := range map[Outcome][3]bool{ // good, head set, finished
		Aligned: {true, true, true}, LessCertain: {false, true, true}, Disagree: {false, true, true},
		Measured: {true, false, true}, Restored: {true, false, true},
		RestoreDoubt: {}, TooUncertain: {}, Interrupted: {}, NotReady: {}, TakenOut: {}, "of a newer program": {},
	} {
		if got := [3]bool{o.Good(), o.HeadSet(), o.Finished()}; got != want {
			t.Errorf("%q: good, head set, finished: %v, want %v", o, got, want)
		}
	}
}
