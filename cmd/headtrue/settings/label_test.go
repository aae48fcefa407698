package settings

import "testing"

// A label that is no file name on one of the systems is refused. The device names are those
// of Microsoft, "Naming Files, Paths, and Namespaces".
func TestCheckLabel(t *testing.T) {
	t.Parallel()
	for _, good := range []string{"", "7", "bench 2", "left-hand deck", "x.1", "CONSOLE", "com10", "nulla", "lpt"} {
		if err := CheckLabel(good); err != nil {
			t.Errorf("%q: %v", good, err)
		}
	}
	for _, bad := range []string{" 7", "7 ", "7.", "..", "a/b", `a\b`, "a:b", "a\nb", "CON", "nul", "Aux.txt", "com1", "LPT9.a", "con .x"} {
		if CheckLabel(bad) == nil {
			t.Errorf("%q was taken as a label", bad)
		}
	}
}
