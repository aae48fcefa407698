// Package pythontest runs a Python program as the oracle of a test: scipy, numpy or
// statsmodels. The interpreter is PYTHON or, by default, Debian's, with the packages
// python3-scipy and python3-statsmodels. It does not depend on the questions.
package pythontest

import (
	"bytes"
	"cmp"
	"encoding/json"
	"fmt"
	"os"
	"os/exec"
	"testing"
)

// Program returns the interpreter.
func Program() string { return cmp.Or(os.Getenv("PYTHON"), "/usr/bin/python3") }

// Run returns the standard output of a program. args are the program's path and its
// arguments; in, if any, is its standard input. If the program fails, Run ends the test
// with its error output.
func Run(t *testing.T, in []byte, args ...any) []byte {
	t.Helper()
	var text []string
	for _, a := range args {
		text = append(text, fmt.Sprint(a))
	}
	cmd := exec.Command(Program(), text...)
	var complaints bytes.Buffer
	cmd.Stdin, cmd.Stderr = bytes.NewReader(in), &complaints
	out, err := cmd.Output()
	if err != nil {
		t.Fatalf("python: %v\n%s", err, complaints.String())
	}
	return out
}

// Read decodes an answer, which must be JSON.
func Read(t *testing.T, out []byte, answer any) {
	t.Helper()
	if err := json.Unmarshal(out, answer); err != nil {
		t.Fatalf("python: %v in %q", err, out)
	}
}
