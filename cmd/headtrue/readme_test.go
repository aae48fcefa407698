package main

import (
	"fmt"
	"os"
	"strings"
	"testing"
)

// The README's table of exit codes equals the program's, line for line.
func TestReadmeListsTheExitCodes(t *testing.T) {
	readme, err := os.ReadFile("../../README.md")
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range exits {
		name := ""
		if e.outcome != "" {
			name = fmt.Sprintf("`%s`", e.outcome)
		}
		if row := fmt.Sprintf("| %d | %s | %s |", e.code, name, e.meaning()); !strings.Contains(string(readme), row+"\n") {
			t.Errorf("README.md lacks the row\n%s", row)
		}
	}
}
